//! What the standards say of a thread. Knows nothing of the arm.

mod thread;

pub use thread::{Thread, ThreadError};
