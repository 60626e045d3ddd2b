//! What the standards say of a thread. Knows nothing of the arm.

mod band;
mod bearing;
mod class;
mod description;
mod designation;
mod expected;
mod fault;
mod figures;
mod forecast;
mod friction;
mod joint;
mod limits;
mod material;
mod metric;
mod preload;
mod prevailing;
mod stripping;
mod thread;
mod unified;

pub use band::Band;
pub use bearing::mean_bearing_mm;
pub use class::{
    AstmGrade, ClassError, PropertyClass, SaeGrade, StainlessGrade, StainlessLevel, SteelClass,
};
pub use description::{Fastener, Locking, Mating};
pub use designation::{Designation, Fit, ThreadError};
pub use expected::ExpectedRun;
pub use fault::{Fault, Severity};
pub use forecast::Forecast;
pub use friction::{Friction, FrictionClass};
pub use joint::{Clamp, Joint, JointClass};
pub use limits::Limits;
pub use material::Material;
pub use preload::{Preload, TorquePreload};
pub use prevailing::{PrevailingTorque, Reuse};
pub use stripping::{ShearAreas, StripLoad};
pub use thread::{Thread, ThreadSystem};
pub use unified::UnifiedSeries;
