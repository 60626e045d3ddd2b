//! Where is the socket, how do joint torques map to it, what do gravity, inertia and joint
//! friction explain.
//!
//! An [`ArmDescription`] is what the host compiles and the controller loads; [`ArmModel::try_new`]
//! checks it once, and from then on [`ArmModel::pose`], [`ArmModel::friction`] and
//! [`ArmModel::inertia`] return plain values for any input. Lengths are in m, masses in kg, angles in
//! rad, torques in N·m.
//!
//! Knows nothing of bolts.

mod chain;
mod description;
mod error;
mod friction;
mod inertia;
mod model;
mod pose;

pub use description::{
    ArmDescription, Body, FRICTION_TRANSITION_RAD_S, JointDescription, JointFriction, MAX_JOINTS,
    Transform,
};
pub use error::{ArmError, Fault};
pub use friction::FrictionEstimate;
pub use inertia::{INERTIA_U, Inertia};
pub use model::ArmModel;
pub use pose::ArmPose;
