//! Recorded samples through the very crate that runs on the controller.

mod dispatch;
mod free;
mod outcome;
mod report;

pub use dispatch::{ReplayError, Replayed, replay};
pub(crate) use outcome::told;
pub use outcome::{CurvePoint, Outcome, run};
pub use report::{Alarm, Report, SCHEMA_VERSION};
