//! What the standards say of a thread. Knows nothing of the arm.

mod band;
mod expected;
mod material;
mod thread;

pub use band::Band;
pub use expected::ExpectedRun;
pub use material::Material;
pub use thread::{Thread, ThreadError, ThreadSystem};
