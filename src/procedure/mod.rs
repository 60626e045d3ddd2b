//! What this bolt is meant to get, and was it got. Knows nothing of how it was measured.

mod job;
pub use job::{AxisLine, Band, BoltJob, Direction, Expected, Mode, Sensing, Tare, Tool};

mod verdict;
pub use verdict::{Reason, RunSummary, Snug, Verdict};
