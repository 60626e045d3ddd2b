//! What this bolt is meant to get, and was it got. Knows nothing of how it was measured.

mod check;
mod expect;
mod job;
mod judge;
mod verdict;

pub use check::JobError;
pub use job::{AxisLine, BoltJob, Direction, Expected, Mode, Sensing, Tare, Tool};
pub use judge::{Seen, judge};
pub use verdict::{Reason, RunSummary, Snug, Verdict};
