//! How far has the bolt really turned and advanced. Knows nothing of what is right or wrong.
//!
//! [`Twist`] gives the rotation of the tool about the bolt axis, [`StrokeJoiner`] the bolt angle
//! out of it, [`AdvanceTracker`] the advance per turn.

mod advance;
mod free;
mod geometry;
mod motion;
mod slack;
#[cfg(test)]
mod starting_tests;
mod strokes;
mod twist;

#[cfg(test)]
mod undoing_tests;

pub use advance::AdvanceTracker;
pub use motion::{Effort, JoinConfig, Motion, Pause};
pub use slack::{SlackSearch, Split};
pub use strokes::{RELEASE_RAD, StrokeJoiner};
pub use twist::Twist;
