//! Everything that fixes one simulated run.
//!
//! Magnitudes marked *measured* are those of two real arms and of the measured screw runs whose
//! attribution stands in the data notes (`../shared/data/README.md`); the rest is common practice,
//! no source.

use serde::{Deserialize, Serialize};

use super::fault::Fault;
use super::setup::{Arm, Operator, Payload, Sampling, Stated, Tool};

/// All parameters of one run. The same scenario gives the same run, byte for byte.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Scenario {
    /// Whether the bolt is done up or undone.
    pub direction: Direction,
    /// Thread, joint and friction.
    pub bolt: Bolt,
    /// What goes wrong.
    pub fault: Fault,
    /// What else happens around the bolt, in order.
    pub events: Vec<Event>,
    /// How the bolt is turned.
    pub mode: Mode,
    /// What ends a sound run that is done up.
    #[serde(skip_serializing_if = "is_default")]
    pub until: Until,
    /// How steadily the operator works.
    pub operator: Operator,
    /// Socket and tool.
    pub tool: Tool,
    /// What the arm holds beside the tool while an event says so.
    pub payload: Payload,
    /// Where the arm stands, and what is wrong with its readings.
    pub arm: Arm,
    /// What the user writes into the description: never the true figures above.
    pub stated: Stated,
    /// Sampling.
    pub sampling: Sampling,
    /// Seed of every random draw.
    pub seed: u64,
}

/// Whether the bolt is done up or undone.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Direction {
    /// From the first thread to the target torque.
    #[default]
    Tighten,
    /// From a bolt that was given the target torque until the thread is free.
    Undo,
}

/// What ends a sound run that is done up.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
pub enum Until {
    /// The target torque.
    #[default]
    Torque,
    /// An angle beyond a torque that closes the joint.
    FurtherAngle {
        /// The torque, N·m.
        start_nm: f64,
        /// The angle beyond it, degrees.
        angle_deg: f64,
    },
    /// The joint yields: the hand stops so far beyond the onset.
    Yield {
        /// Angle beyond the onset, degrees.
        past_deg: f64,
    },
}

fn is_default<T: Default + PartialEq>(value: &T) -> bool {
    *value == T::default()
}

/// A change around the bolt that has nothing to do with it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
pub enum Event {
    /// The ratio of the force at the tool to that at the hand is changed.
    ForceRatio {
        /// Bolt angle, turns.
        at_turns: f64,
        /// The ratio from then on.
        ratio: f64,
    },
    /// The payload is taken up, or set down if it is held.
    Payload {
        /// Bolt angle, turns.
        at_turns: f64,
    },
    /// The foot switch is released and pressed again.
    FootSwitch {
        /// Bolt angle, turns.
        at_turns: f64,
        /// Time until it is pressed again, s.
        lasts_s: f64,
    },
    /// The tool has no power for a while.
    ToolPower {
        /// Bolt angle, turns.
        at_turns: f64,
        /// Time without power, s.
        lasts_s: f64,
    },
}

impl Event {
    /// Bolt angle at which it happens, turns.
    pub fn at_turns(&self) -> f64 {
        match self {
            Self::ForceRatio { at_turns, .. }
            | Self::Payload { at_turns }
            | Self::FootSwitch { at_turns, .. }
            | Self::ToolPower { at_turns, .. } => *at_turns,
        }
    }
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
    /// Surface grain of the rundown, standard deviation as a part of its torque (0.12 to 0.28
    /// *measured* over a turn of weak running torque).
    pub grain: f64,
    /// Bolt angle over which the grain stays alike, degrees (20 to 45 *measured*).
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
    /// Part of its clamp force that the joint, done up and left standing, loses within two minutes: its
    /// surfaces embed (5 to 10 % are usual in the first minutes, notes on check values, section 6).
    pub embedding: f64,
    /// Torque that the bolt carries already when the run begins, N·m: it is then beyond snug, and its
    /// rundown is behind it. 0: it is loose.
    #[serde(skip_serializing_if = "is_default")]
    pub carried_nm: f64,
    /// Whether the thread is left-handed.
    #[serde(skip_serializing_if = "is_default")]
    pub left_hand: bool,
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
            grain_correlation_deg: 20.0,
            clamp_grain: 0.01,
            locking: None,
            elastic_deg: 60.0,
            toe: 0.2,
            yield_nm: None,
            breakaway: 0.03,
            embedding: 0.05,
            carried_nm: 0.0,
            left_hand: false,
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
    /// Its own grain, as a part of it (0.04 to 0.10 *measured*, on forming threads).
    pub grain: f64,
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
    /// Angle between two seats of the socket, rad.
    pub(super) fn seat_rad(&self) -> f64 {
        match self {
            Self::WristStrokes {
                back: Return::LiftAndReseat { seat_deg, .. },
                ..
            } => seat_deg.to_radians(),
            _ => std::f64::consts::FRAC_PI_3,
        }
    }

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
