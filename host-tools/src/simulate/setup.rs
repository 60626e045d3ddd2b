//! The parts of a scenario beside the bolt: hand, tool, arm, sampling and what the user states.
//!
//! Sources of the magnitudes as in `scenario.rs`.

use serde::{Deserialize, Serialize};

/// Number of joints of the simulated arm.
pub const JOINTS: usize = 7;

/// How steadily the operator works.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Operator {
    /// Time free of contact at the start, s (at least 0.5).
    pub free_s: f64,
    /// Amplitude of motion in free air during that time, mm; 0: the arm stands still.
    pub free_motion_mm: f64,
    /// Unsteadiness of the speed, standard deviation as a part of it.
    pub jerkiness: f64,
    /// Chance that a stroke is interrupted.
    pub pause_chance: f64,
    /// Mean length of such a pause, s.
    pub pause_s: f64,
    /// Where the operator really stops, as a part of the target beyond it.
    pub overshoot: f64,
    /// Part of the torque that is lost while the operator holds still.
    pub relaxation: f64,
    /// Axial push on the socket, N.
    pub push_n: f64,
    /// Wander of the lateral hand force, N, 1 sigma each way.
    pub lateral_n: f64,
    /// Wander of the tilting moment on the socket, N·m, 1 sigma each way.
    pub tilt_nm: f64,
    /// Axial play of the socket on the head that the hand wanders in, mm, 1 sigma.
    pub axial_wander_mm: f64,
}

impl Default for Operator {
    fn default() -> Self {
        Self {
            free_s: 0.8,
            free_motion_mm: 0.0,
            jerkiness: 0.1,
            pause_chance: 0.2,
            pause_s: 0.8,
            overshoot: 0.01,
            relaxation: 0.05,
            push_n: 25.0,
            lateral_n: 4.0,
            tilt_nm: 0.4,
            axial_wander_mm: 0.1,
        }
    }
}

/// Socket and tool.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Tool {
    /// Torsional stiffness from the flange to the bolt head, N·m/rad.
    pub windup_nm_per_rad: f64,
    /// Free angle between socket and head, from flank to flank, degrees.
    pub play_deg: f64,
    /// Mass beyond the flange, kg.
    pub mass_kg: f64,
    /// Centre of that mass along the flange's z axis, m.
    pub centre_m: f64,
    /// From the flange to the socket, m.
    pub length_m: f64,
    /// Whether the tool turns about the flange's x axis (an angle head) instead of its z axis.
    /// The last joint then reads nothing of the bolt torque. Wrist strokes must be short.
    pub angle_head: bool,
    /// Tilt of the tool against the bolt axis, degrees.
    pub misalignment_deg: f64,
}

impl Default for Tool {
    fn default() -> Self {
        Self {
            windup_nm_per_rad: 3000.0,
            play_deg: 2.0,
            mass_kg: 1.2,
            centre_m: 0.08,
            length_m: 0.20,
            angle_head: false,
            misalignment_deg: 0.3,
        }
    }
}

/// What the arm holds beside the tool.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Payload {
    /// Mass, kg.
    pub mass_kg: f64,
    /// Its centre in the frame of the flange, m.
    pub centre_m: [f64; 3],
}

impl Default for Payload {
    fn default() -> Self {
        Self {
            mass_kg: 1.0,
            centre_m: [0.0, 0.1, 0.05],
        }
    }
}

/// Where the arm stands, and what is wrong with its readings. Lists are base first.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Arm {
    /// Joint positions with the socket on the bolt, rad.
    pub pose_rad: [f64; JOINTS],
    /// White noise of the joint torques, N·m, 1 sigma.
    pub torque_noise_nm: [f64; JOINTS],
    /// Quantum of the joint torques, N·m.
    pub torque_quantum_nm: [f64; JOINTS],
    /// Quantum of the joint positions, rad.
    pub position_quantum_rad: f64,
    /// Noise of the joint velocities, rad/s, 1 sigma.
    pub velocity_noise_rad_s: f64,
    /// Nominal Coulomb friction, N·m.
    pub coulomb_nm: [f64; JOINTS],
    /// Nominal viscous friction, N·m·s/rad.
    pub viscous_nm_s_per_rad: [f64; JOINTS],
    /// How far true friction is from nominal, 1 sigma, as a part of it.
    pub friction_error: f64,
    /// Friction at the verge of motion beyond Coulomb (Stribeck), as a part of it.
    pub stribeck: f64,
    /// Friction of the cold joints against the nominal one; it warms up from there ...
    pub cold_friction: f64,
    /// ... to this part of the nominal one ...
    pub warm_friction: f64,
    /// ... with this time constant of motion, s.
    pub warm_up_s: f64,
    /// Joint travel over which friction turns round after a reversal (pre-sliding), rad.
    pub presliding_rad: f64,
    /// Ripple that repeats with the joint's position, N·m, amplitude.
    pub ripple_nm: [f64; JOINTS],
    /// Zero error at the start, N·m, 1 sigma.
    pub bias_nm: f64,
    /// Drift of the zero in one minute, N·m, 1 sigma.
    pub drift_nm_per_min: f64,
    /// How far true link masses are from nominal, 1 sigma, as a part of them.
    pub mass_error: f64,
    /// How far true centres of mass are from nominal, 1 sigma each way, m.
    pub centre_error_m: f64,
    /// Stiffness of the joint servos, N·m/rad. Encoders sit on the link's side.
    pub servo_nm_per_rad: [f64; JOINTS],
    /// What is known of each joint, in place of `friction_error` and `drift_nm_per_min`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub each: Option<Each>,
}

/// How far each joint may be from nominal, 1 sigma, base first.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Each {
    /// True Coulomb friction from nominal, N·m.
    pub coulomb_u_nm: [f64; JOINTS],
    /// True viscous friction from nominal, N·m·s/rad.
    pub viscous_u_nm_s_per_rad: [f64; JOINTS],
    /// Drift of the torque's zero in one minute, N·m.
    pub drift_nm_per_min: [f64; JOINTS],
}

/// Tool pointing down, elbow bent: well conditioned.
pub const POSE_DOWN: [f64; JOINTS] = [0.25, 0.60, 0.30, 1.10, -0.20, 1.40, 0.0];
/// Tool pointing forward, as at a wall.
pub const POSE_FORWARD: [f64; JOINTS] = [-0.30, -0.35, 0.25, 1.60, 0.30, 0.45, 0.0];
/// Arm almost straight: with an angle head every joint axis is nearly normal to the bolt, and the
/// bolt torque can hardly be told from the joints.
pub const POSE_NEAR_SINGULAR: [f64; JOINTS] = [0.1, 0.55, 0.05, 0.12, 0.05, 0.10, 0.0];

impl Default for Arm {
    fn default() -> Self {
        Self::torque_sensed()
    }
}

impl Arm {
    /// Joint torque sensors: noise, quanta and Coulomb friction *measured*.
    pub fn torque_sensed() -> Self {
        Self {
            pose_rad: POSE_DOWN,
            torque_noise_nm: [0.07, 0.07, 0.06, 0.06, 0.04, 0.04, 0.035],
            torque_quantum_nm: [0.036, 0.036, 0.036, 0.036, 0.006, 0.006, 0.006],
            position_quantum_rad: 2e-5,
            velocity_noise_rad_s: 1e-3,
            coulomb_nm: [0.45, 0.45, 0.40, 0.40, 0.30, 0.30, 0.25],
            viscous_nm_s_per_rad: [0.6, 0.6, 0.5, 0.5, 0.4, 0.4, 0.3],
            friction_error: 0.15,
            stribeck: 0.2,
            cold_friction: 1.1,
            warm_friction: 0.95,
            warm_up_s: 60.0,
            presliding_rad: 5e-4,
            ripple_nm: [0.08, 0.08, 0.07, 0.07, 0.05, 0.05, 0.04],
            bias_nm: 0.3,
            drift_nm_per_min: 0.05,
            mass_error: 0.01,
            centre_error_m: 0.001,
            servo_nm_per_rad: [20e3, 20e3, 15e3, 15e3, 8e3, 8e3, 6e3],
            each: None,
        }
    }

    /// How far friction may be from nominal at any time, 1 sigma, as a part of it: the joint's own
    /// deviation, and warming up.
    pub(super) fn friction_u(&self) -> f64 {
        let [cold, warm] = [self.cold_friction - 1.0, self.warm_friction - 1.0];
        (self.friction_error * self.friction_error + 0.5 * (cold * cold + warm * warm)).sqrt()
    }

    /// Torque from motor current: noise and Coulomb friction *measured* (lower half of the range).
    pub fn current_sensed() -> Self {
        Self {
            torque_noise_nm: [0.6, 0.6, 0.45, 0.45, 0.25, 0.2, 0.15],
            torque_quantum_nm: [0.1, 0.1, 0.1, 0.1, 0.05, 0.05, 0.05],
            coulomb_nm: [9.0, 9.0, 7.0, 7.0, 3.5, 3.0, 2.7],
            viscous_nm_s_per_rad: [10.0, 10.0, 8.0, 8.0, 3.0, 2.5, 2.0],
            friction_error: 0.08,
            stribeck: 0.15,
            presliding_rad: 1e-3,
            ripple_nm: [0.8, 0.8, 0.6, 0.6, 0.4, 0.35, 0.3],
            bias_nm: 0.5,
            drift_nm_per_min: 0.15,
            ..Self::torque_sensed()
        }
    }
}

/// What the user knows and writes into the description.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Stated {
    /// Expected rundown, turns.
    pub rundown_turns: f64,
    /// Half width of its window, turns.
    pub rundown_tolerance_turns: f64,
    /// Expected angle from snug to target, degrees.
    pub elastic_deg: f64,
    /// Half width of its window, degrees.
    pub elastic_tolerance_deg: f64,
    /// Band of the torque before snug, N·m.
    pub prevailing_nm: [f64; 2],
    /// Torsional stiffness, N·m/rad.
    pub windup_nm_per_rad: f64,
    /// Free angle between socket and head, degrees.
    pub play_deg: f64,
    /// Half width of the acceptance window, percent of the target.
    pub torque_tolerance_percent: f64,
}

impl Default for Stated {
    fn default() -> Self {
        Self {
            rundown_turns: 5.0,
            rundown_tolerance_turns: 0.5,
            elastic_deg: 60.0,
            elastic_tolerance_deg: 30.0,
            prevailing_nm: [0.0, 1.2],
            windup_nm_per_rad: 3000.0,
            play_deg: 2.0,
            torque_tolerance_percent: 10.0,
        }
    }
}

/// Sampling.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Sampling {
    /// Samples per second.
    pub rate_hz: f64,
    /// Jitter of the time stamps, s, 1 sigma.
    pub jitter_s: f64,
    /// Gaps per second.
    pub gaps_per_s: f64,
    /// Longest gap, s (0.0088 *measured* at a nominal 1 kHz).
    pub gap_max_s: f64,
    /// Part of all samples that is missing one by one.
    pub dropped_part: f64,
}

impl Default for Sampling {
    fn default() -> Self {
        Self {
            rate_hz: 1000.0,
            jitter_s: 5e-5,
            gaps_per_s: 0.5,
            gap_max_s: 0.009,
            dropped_part: 0.0,
        }
    }
}
