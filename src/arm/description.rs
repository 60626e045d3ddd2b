//! What the arm is made of. As postcard bytes this is also the compact form that the controller
//! loads or has built in.

use heapless::{String, Vec};
use serde::{Deserialize, Serialize};

use crate::math::{IDENTITY, Mat3, Vec3, add, rotate};

/// Most joints an arm may have.
pub const MAX_JOINTS: usize = 8;

/// Speed below which the direction of joint friction counts as unsure, rad/s. Common practice, no
/// source: a few times the velocity noise of a joint encoder.
pub const FRICTION_TRANSITION_RAD_S: f32 = 0.02;

/// Pose of a frame in its parent.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Transform {
    /// Axes of the frame, as columns, in the parent.
    pub rotation: Mat3,
    /// Origin of the frame in the parent, m.
    pub translation_m: Vec3,
}

impl Transform {
    /// The parent frame itself.
    pub const IDENTITY: Self = Self {
        rotation: IDENTITY,
        translation_m: [0.0; 3],
    };

    /// A point given in this frame (m), in the parent.
    pub fn point(&self, local_m: &Vec3) -> Vec3 {
        add(&self.translation_m, &rotate(&self.rotation, local_m))
    }
}

/// A rigid body as far as gravity knows it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Body {
    /// Mass, kg.
    pub mass_kg: f32,
    /// Centre of mass, m, in the frame that the owner of the body names.
    pub com_m: Vec3,
}

impl Body {
    /// No body at all.
    pub const NONE: Self = Self {
        mass_kg: 0.0,
        com_m: [0.0; 3],
    };
}

/// Friction of one joint with standard uncertainties; see [`ArmModel::friction`] for the formula.
///
/// [`ArmModel::friction`]: super::ArmModel::friction
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct JointFriction {
    /// Coulomb (dry) friction, N·m.
    pub coulomb_nm: f32,
    /// Standard uncertainty of it, N·m.
    pub coulomb_u_nm: f32,
    /// Viscous friction, N·m·s/rad.
    pub viscous_nm_s_per_rad: f32,
    /// Standard uncertainty of it, N·m·s/rad.
    pub viscous_u_nm_s_per_rad: f32,
}

impl JointFriction {
    /// A joint that is known to be free of friction.
    pub const NONE: Self = Self {
        coulomb_nm: 0.0,
        coulomb_u_nm: 0.0,
        viscous_nm_s_per_rad: 0.0,
        viscous_u_nm_s_per_rad: 0.0,
    };
}

/// One revolute joint and the link it moves.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct JointDescription {
    /// Name of the joint, for errors and the record.
    pub name: String<32>,
    /// Joint frame in the previous link's frame (the base frame for the first joint) at 0 rad.
    pub origin: Transform,
    /// Axis about which the joint turns, joint frame, any length but zero.
    pub axis: Vec3,
    /// The link that the joint moves, with all that is fixed to it, joint frame.
    pub link: Body,
    /// Friction of the joint.
    pub friction: JointFriction,
    /// White noise of the torque reading at the sample rate, N·m, 1 sigma (`None`: unknown, taken
    /// from the tare).
    pub torque_noise_nm: Option<f32>,
    /// Standard uncertainty of the torque reading's zero that a tare cannot see (drift since), N·m.
    pub torque_zero_u_nm: f32,
    /// Largest torque that the sensor can read, either way, N·m; `None`: unknown, a clipped reading
    /// is then not recognised.
    pub torque_range_nm: Option<f32>,
}

/// A serial arm of revolute joints, base first, with its tool.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ArmDescription {
    /// Joints from the base to the tip.
    pub joints: Vec<JointDescription, MAX_JOINTS>,
    /// Tip frame in the frame of the last joint.
    pub tip: Transform,
    /// The tool beyond the tip link, tip frame; weighs only while the sample says it is held.
    pub tool: Body,
    /// A payload held beside the tool, tip frame; weighs only while the sample says it is held.
    pub payload: Body,
    /// Acceleration of gravity in the base frame, m/s² (`[0, 0, -9.81]` when z points up).
    pub gravity_m_s2: Vec3,
    /// Relative standard uncertainty of the gravity torques (0.02 = 2 %).
    pub mass_u: f32,
    /// Speed above which the direction of friction is sure, rad/s; greater than 0, usually
    /// [`FRICTION_TRANSITION_RAD_S`].
    pub friction_transition_rad_s: f32,
}
