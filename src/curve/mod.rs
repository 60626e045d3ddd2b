//! The torque–angle curve of this run in fixed memory. Knows nothing of thresholds.
//!
//! Samples are gathered into [`AngleStep`]s of half a degree, so that speed, stops and return
//! strokes drop out; everything further down the street runs once per step. [`Window`] keeps the last
//! steps for local slopes, [`BinnedCurve`] the whole run, [`knee`] finds the snug angle in it.

mod binned;
mod knee;
mod level;
mod line;
mod scatter;
mod step;
mod sums;
mod trail;
mod window;

pub use binned::{Bin, BinnedCurve};
pub use knee::{Knee, knee};
pub use level::Level;
pub use line::{Line, Point};
pub use step::{AngleStep, STEP_RAD, StepBuilder};
pub(crate) use sums::Sums;
pub use trail::{TRAIL, Trail};
pub use window::{PastStep, WINDOW, Window};
