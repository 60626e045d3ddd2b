//! Recorded samples through the very crate that runs on the controller.

mod dispatch;
mod outcome;
mod report;
mod words;

pub use dispatch::{ReplayError, Replayed, replay};
pub(crate) use outcome::told;
pub use outcome::{CurvePoint, Outcome, run};
pub use report::{Alarm, Report, SCHEMA_VERSION};
pub use words::{alarm_sentence, goal_words, reason_name, reason_sentence};
