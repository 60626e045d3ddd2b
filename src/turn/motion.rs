//! What the stroke joiner is told and what it says.

/// What is known of the tool between the measured angle and the bolt head.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct JoinConfig {
    /// Torsional stiffness, N·m/rad.
    pub windup_nm_per_rad: Option<f32>,
    /// Angle of a ratchet tooth, rad; `None` or 0: no ratchet.
    pub tooth_rad: Option<f32>,
    /// Angle between two seats of the socket on the head, rad.
    pub seat_rad: f32,
    /// Free angle between socket and head, rad.
    pub play_rad: Option<f32>,
    /// Whether the tool can leave the head and come back at another angle. `false` for a powered
    /// spindle.
    pub reseats: bool,
    /// Whether the bolt may have given up its torque from one stroke to the next, as one that is
    /// undone does. If not, a tool without torque is off the bolt.
    pub gives_way: bool,
}

/// What one sample did to the bolt.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Motion {
    /// Bolt angle since the start of the run, rad, driving direction positive.
    pub bolt_rad: f32,
    /// By how much it grew at this sample, rad, never negative.
    pub progress_rad: f32,
    /// Set when a stroke was joined at this sample.
    pub joined: bool,
    /// Where the growth covers a stretch that was judged afterwards: its mean torque, N·m.
    pub stretch_torque_nm: Option<f32>,
}

impl Motion {
    /// That of a bolt which has not turned yet.
    pub const STANDING: Self = Self {
        bolt_rad: 0.0,
        progress_rad: 0.0,
        joined: false,
        stretch_torque_nm: None,
    };
}

/// Torque of one sample, driving direction.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Effort {
    /// Torque, N·m.
    pub torque_nm: f32,
    /// Its white noise, N·m.
    pub noise_nm: f32,
    /// The part of its uncertainty that does not average out, N·m.
    pub systematic_u_nm: f32,
}

impl Effort {
    /// That of a tool nobody has read yet.
    pub const NONE: Self = Self {
        torque_nm: 0.0,
        noise_nm: 0.0,
        systematic_u_nm: 0.0,
    };
}

/// Why nothing can turn the bolt.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Pause {
    /// The arm is locked with the tool in its gripper.
    Locked,
    /// The tool is not in the gripper.
    Released,
}
