//! Which force and moment act at the socket, and how sure are we. Knows nothing of bolts.
//!
//! `τ_ext = τ − g(q) − f(dq) − bias`, then Bayesian weighted least squares for the six components
//! of the wrench (see [`Posterior`]), of which the moment about one axis is handed on. No damping is
//! added near a singular pose: there the uncertainty grows to the prior and the torque is reported
//! as not observable. With redundant readings what they contradict each other by is handed on as
//! well, never averaged away silently.
//!
//! The estimate is quasi-static: inertial torques of the arm's own acceleration are not modelled
//! and count as disturbance; at hand speeds they are within the friction band of the joints.

mod axial;
mod health;
mod joints;
mod posterior;
mod side;
mod spindle;
mod tare;

pub use axial::AxialTorque;
pub use health::{FROZEN_S, JointHealth, SATURATED_PART, SensorHealth};
pub use joints::{ArmReading, JointSight, JointWrench, MomentAxis, WrenchEstimate};
pub use posterior::{Functional, Posterior, Readings, Row};
pub use side::SideMoment;
pub use spindle::SpindleTorque;
pub use tare::{Bias, BiasTare};
