//! Everything that fixes one simulated run.
//!
//! Magnitudes marked *measured* are those of two real arms and of the measured screw runs whose
//! attribution stands in the data notes (`../shared/data/README.md`); the rest is common practice,
//! no source.

use serde::{Deserialize, Serialize};

/// Number of joints of the simulated arm.
pub const JOINTS: usize = 7;

/// All parameters of one run. The same scenario gives the same run, byte for byte.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Scenario {
    /// Thread, joint and friction.
    pub bolt: Bolt,
    /// What goes wrong with the thread.
    pub fault: Fault,
    /// How the bolt is turned.
    pub mode: Mode,
    /// How steadily the operator works.
    pub operator: Operator,
    /// Socket and tool.
    pub tool: Tool,
    /// Where the arm stands, and what is wrong with its readings.
    pub arm: Arm,
    /// What the user writes into the description: never the true figures above.
    pub stated: Stated,
    /// Sampling.
    pub sampling: Sampling,
    /// Seed of every random draw.
    pub seed: u64,
}

/// Thread, joint and friction: the torque-angle curve of a straight, sound bolt.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Bolt {
    /// Major diameter, mm.
    pub diameter_mm: f64,
    /// Pitch, mm.
    pub pitch_mm: f64,
    /// Torque at which the operator means to stop, N·m.
    pub target_nm: f64,
    /// Friction coefficient of thread and head.
    pub friction: f64,
    /// Bolt angle from the start of the run to snug, turns.
    pub rundown_turns: f64,
    /// Mean torque of the rundown without locking feature, N·m.
    pub running_nm: f64,
    /// Surface grain of the rundown, standard deviation as a part of its torque.
    pub grain: f64,
    /// Bolt angle over which the grain stays alike, degrees.
    pub grain_correlation_deg: f64,
    /// Surface grain in the clamping zone, as a part of the clamping torque.
    pub clamp_grain: f64,
    /// Locking (prevailing torque) feature, if the thread has one.
    pub locking: Option<Locking>,
    /// Bolt angle from snug to target, degrees: hard 30, soft 360 (ISO 5393, VDI/VDE 2647).
    pub elastic_deg: f64,
    /// Length of the curved toe around snug, as a part of `elastic_deg`.
    pub toe: f64,
    /// Torque at which the joint begins to yield, N·m; none: it does not.
    pub yield_nm: Option<f64>,
    /// Torque to move the bolt again after a stop beyond the torque it last turned with, as a part
    /// of it.
    pub breakaway: f64,
}

impl Default for Bolt {
    fn default() -> Self {
        Self {
            diameter_mm: 10.0,
            pitch_mm: 1.5,
            target_nm: 48.0,
            friction: 0.14,
            rundown_turns: 5.0,
            running_nm: 0.6,
            grain: 0.15,
            grain_correlation_deg: 8.0,
            clamp_grain: 0.01,
            locking: None,
            elastic_deg: 60.0,
            toe: 0.2,
            yield_nm: None,
            breakaway: 0.03,
        }
    }
}

/// A locking feature: torque rises while it enters and stays.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Locking {
    /// Torque it adds to the running torque, N·m.
    pub torque_nm: f64,
    /// Bolt angle at which it begins to enter, turns.
    pub entry_turns: f64,
    /// Bolt angle over which the torque rises, turns.
    pub rise_turns: f64,
}

/// What goes wrong with the thread.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
pub enum Fault {
    /// A sound thread.
    #[default]
    None,
    /// The threads shear off in the clamping zone.
    Strip {
        /// Torque at which they begin to, as a part of the target (0.4 to 1.1).
        onset_fraction: f64,
        /// Bolt angle over which the torque falls from its peak to the plateau, degrees.
        drop_deg: f64,
        /// Plateau as a part of the peak.
        plateau: f64,
        /// Roughness of the plateau, as a part of it.
        roughness: f64,
        /// Bolt angle that the operator goes on after the onset, degrees.
        carry_on_deg: f64,
    },
    /// The thread was started across.
    CrossThread {
        /// Bolt angle at which the flanks begin to bind, turns.
        onset_turns: f64,
        /// Bolt angle from there until the torque has grown by the target, turns.
        growth_turns: f64,
        /// Curvature of the growth: 1 is a straight rise.
        growth_power: f64,
        /// Roughness, as a part of the added torque.
        roughness: f64,
        /// Axial advance per turn after the onset, as a part of the pitch.
        advance_ratio: f64,
        /// Torque at which the operator gives up, as a part of the target.
        stop_fraction: f64,
    },
}

impl Fault {
    /// A thread that strips at three quarters of the target.
    pub fn strip() -> Self {
        Self::Strip {
            onset_fraction: 0.75,
            drop_deg: 30.0,
            plateau: 0.35,
            roughness: 0.1,
            carry_on_deg: 180.0,
        }
    }

    /// A thread that begins to bind after half a turn.
    pub fn cross_thread() -> Self {
        Self::CrossThread {
            onset_turns: 0.5,
            growth_turns: 1.0,
            growth_power: 1.2,
            roughness: 0.15,
            advance_ratio: 0.5,
            stop_fraction: 0.8,
        }
    }
}

/// How the bolt is turned.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
pub enum Mode {
    /// The arm's last joint turns the socket, stroke by stroke.
    WristStrokes {
        /// Angle of one stroke, degrees (at most 330).
        stroke_deg: f64,
        /// How the wrist gets back.
        back: Return,
        /// Speed of the rundown, degrees per second.
        speed_deg_s: f64,
        /// Speed in the clamping zone, degrees per second.
        clamp_speed_deg_s: f64,
        /// Mean speed of the return, degrees per second; its peak is 1.9 times that.
        return_speed_deg_s: f64,
    },
    /// A powered spindle turns the socket; the arm only holds it.
    PoweredSpindle {
        /// Steps in order; the last one runs to the operator's stop.
        steps: Vec<SpindleStep>,
        /// White noise of the spindle torque, N·m.
        torque_noise_nm: f64,
        /// Error of its scale, as a part of the reading.
        torque_scale_error: f64,
        /// Quantum of its angle, degrees (0.25 *measured*).
        angle_quantum_deg: f64,
    },
}

impl Default for Mode {
    fn default() -> Self {
        Self::WristStrokes {
            stroke_deg: 240.0,
            back: Return::default(),
            speed_deg_s: 60.0,
            clamp_speed_deg_s: 20.0,
            return_speed_deg_s: 70.0,
        }
    }
}

impl Mode {
    /// A powered spindle of usual magnitudes.
    pub fn spindle() -> Self {
        Self::PoweredSpindle {
            steps: vec![
                SpindleStep {
                    until_fraction: 0.25,
                    rpm: 60.0,
                    stop_s: 0.3,
                },
                SpindleStep {
                    until_fraction: 1.0,
                    rpm: 10.0,
                    stop_s: 0.0,
                },
            ],
            torque_noise_nm: 0.05,
            torque_scale_error: 0.005,
            angle_quantum_deg: 0.25,
        }
    }
}

/// How the wrist gets back for the next stroke.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
pub enum Return {
    /// A ratchet slips.
    Ratchet {
        /// Angle of one tooth, degrees.
        tooth_deg: f64,
        /// Drag on the bolt while it slips, N·m.
        drag_nm: f64,
    },
    /// The socket is lifted off, turned back and put on again.
    LiftAndReseat {
        /// Height of the lift, mm.
        lift_mm: f64,
        /// Angle between two seats, degrees: 60 for a hexagon, 30 for twelve points.
        seat_deg: f64,
    },
}

impl Default for Return {
    fn default() -> Self {
        Self::Ratchet {
            tooth_deg: 5.0,
            drag_nm: 0.2,
        }
    }
}

/// One step of a powered spindle.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SpindleStep {
    /// Torque at which it ends, as a part of the target.
    pub until_fraction: f64,
    /// Speed, turns per minute.
    pub rpm: f64,
    /// Standstill after it, s. Torque falls to zero meanwhile.
    pub stop_s: f64,
}

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
            presliding_rad: 5e-4,
            ripple_nm: [0.08, 0.08, 0.07, 0.07, 0.05, 0.05, 0.04],
            bias_nm: 0.3,
            drift_nm_per_min: 0.05,
            mass_error: 0.01,
            centre_error_m: 0.001,
            servo_nm_per_rad: [20e3, 20e3, 15e3, 15e3, 8e3, 8e3, 6e3],
        }
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
}

impl Default for Sampling {
    fn default() -> Self {
        Self {
            rate_hz: 1000.0,
            jitter_s: 5e-5,
            gaps_per_s: 0.5,
            gap_max_s: 0.009,
        }
    }
}
