//! What the standards say of a thread. Knows nothing of the arm.

mod band;
mod designation;
mod expected;
mod limits;
mod material;
mod metric;
mod prevailing;
mod stripping;
mod thread;
mod unified;

pub use band::Band;
pub use designation::{Designation, Fit, ThreadError};
pub use expected::ExpectedRun;
pub use limits::Limits;
pub use material::Material;
pub use prevailing::{PrevailingTorque, Reuse};
pub use stripping::{ShearAreas, StripLoad, ThreadPart};
pub use thread::{Thread, ThreadSystem};
pub use unified::UnifiedSeries;
