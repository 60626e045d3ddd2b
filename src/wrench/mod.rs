//! Which force and moment act at the socket, and how sure are we. Knows nothing of bolts.
//!
//! `τ_ext = τ − g(q) − M(q)·ddq − f(dq) − bias`, then Bayesian weighted least squares for the six
//! components of the wrench (see [`Posterior`]), of which the moment about one axis is handed on. No damping is
//! added near a singular pose: there the uncertainty grows to the prior and the torque is reported
//! as not observable. With redundant readings what they contradict each other by is handed on as
//! well, never averaged away silently. The weights of the readings stand for some samples; the moment and
//! its uncertainty are those of each.

mod axial;
mod health;
mod inertia;
mod joints;
mod posterior;
mod side;
mod spindle;
mod tare;
mod weighing;
mod wrist;

pub use axial::AxialTorque;
pub use health::{FROZEN_S, JointHealth, SATURATED_PART, SensorHealth};
pub use inertia::{InertiaEstimate, InertiaTracker};
pub use joints::{ArmLoad, ArmReading, JointSight, JointWrench, MomentAxis, WrenchEstimate};
pub use posterior::{Functional, Posterior, Readings, Row};
pub use side::SideMoment;
pub use spindle::SpindleTorque;
pub use tare::{Bias, BiasTare};
pub use weighing::WEIGHT_PARTS;
