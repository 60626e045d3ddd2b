//! What this bolt is meant to get, and was it got. Knows nothing of how it was measured.

mod check;
mod check_goal;
mod check_passes;
mod expect;
mod goal;
mod group;
mod job;
mod judge;
mod passes;
mod verdict;

pub use check::JobError;
pub use check_passes::ProcedureError;
pub use goal::{Direction, Expected, Goal};
pub use group::{MAX_BOLTS, crosswise};
pub use job::{AxisLine, BoltJob, Mode, Sensing, Tare, Tool};
pub use judge::{Figure, Seen, judge};
pub use passes::{MAX_PASSES, Order, Pass, Procedure, Turn};
pub use verdict::{Reason, RunSummary, Snug, Verdict};

#[cfg(test)]
pub(crate) use job::tests::job as tests_job;
