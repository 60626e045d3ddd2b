//! How far has the bolt really turned and advanced. Knows nothing of what is right or wrong.
//!
//! [`Twist`] gives the rotation of the tool about the bolt axis, [`StrokeJoiner`] the bolt angle
//! out of it, [`AdvanceTracker`] the advance per turn.

mod advance;
mod slack;
#[cfg(test)]
mod starting_tests;
mod strokes;
mod twist;

#[cfg(test)]
mod undoing_tests;

pub use advance::AdvanceTracker;
pub use slack::{SlackSearch, Split};
pub use strokes::{Effort, JoinConfig, Motion, Pause, RELEASE_RAD, StrokeJoiner};
pub use twist::Twist;
