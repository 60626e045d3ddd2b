//! What the standards say of a thread. Knows nothing of the arm.

mod expected;
mod thread;

pub use expected::ExpectedRun;
pub use thread::{Thread, ThreadError};
