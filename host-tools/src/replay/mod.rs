//! Recorded samples through the very crate that runs on the controller.

mod outcome;

pub use outcome::{CurvePoint, Outcome, run};
