//! What goes wrong in a run: one cause each, with its magnitudes.
//!
//! No open measurement of a crossed, stripped or galled thread that joins torque and angle was found, so
//! the magnitudes are common practice, no source, and wide on purpose.

mod kind;

use serde::{Deserialize, Serialize};

pub use kind::FaultKind;

/// What goes wrong. Angles count from the start of the run in the direction of turning.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
pub enum Fault {
    /// Nothing.
    #[default]
    None,
    /// The thread has not caught: the bolt turns without advance or resistance.
    NotStarted {
        /// Drag on the head, as a part of the running torque.
        drag_part: f64,
        /// Bolt angle at which the operator gives up, turns.
        stop_turns: f64,
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
    /// Debris between the parts is clamped before they meet, and crushes unevenly.
    Debris {
        /// How much too early the torque rises, turns.
        early_turns: f64,
        /// Slope against that of the joint.
        slope_ratio: f64,
        /// Unevenness of the crushing, as a part of the added torque.
        roughness: f64,
    },
    /// A burr, paint or a small chip gives way: the rise clears, then the joint is sound.
    FalseSnug {
        /// How much too early the torque rises, turns.
        early_turns: f64,
        /// Highest torque of the rise, as a part of the target.
        height_fraction: f64,
        /// Bolt angle over which it rises, degrees.
        rise_deg: f64,
        /// Bolt angle over which it clears, degrees.
        clear_deg: f64,
    },
    /// The bolt meets the bottom of its hole before the head seats.
    Bottoming {
        /// How much too early it does, turns.
        early_turns: f64,
        /// Slope against it, N·m/rad: near the stiffness of the drive.
        rate_nm_per_rad: f64,
    },
    /// A washer or part is missing: snug comes late by its thickness over the pitch.
    MissingPart {
        /// Thickness, mm.
        thickness_mm: f64,
    },
    /// The flanks gall: torque grows and grows rough, then the thread seizes. In either direction.
    Galling {
        /// Bolt angle at which it begins, turns.
        onset_turns: f64,
        /// Bolt angle from there until the thread seizes, turns.
        seize_turns: f64,
        /// Torque that has been added when it does, as a part of the target.
        bind_fraction: f64,
        /// Roughness when it does, as a part of the added torque.
        roughness: f64,
    },
    /// The locking feature is worn or missing.
    PrevailingLow {
        /// What is left of it, as a part.
        left: f64,
    },
    /// A wrong locking feature: level, but above the band.
    PrevailingHigh {
        /// Torque added to the running torque, N·m.
        torque_nm: f64,
        /// Bolt angle at which it begins to enter, turns.
        entry_turns: f64,
    },
    /// The bolt was tight before the run.
    AlreadyTight {
        /// Torque it had been given, as a part of the target.
        fraction: f64,
    },
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
    /// Bolt or joint yields; near the target that is as wanted.
    Yield {
        /// Torque at which it begins to, as a part of the target.
        onset_fraction: f64,
        /// Bolt angle that the operator goes on after the onset at most, degrees.
        carry_on_deg: f64,
    },
    /// The bolt breaks: after yield when it is done up, instead of breaking loose when it is undone.
    Fracture {
        /// Torque at which it yields, as a part of the target.
        onset_fraction: f64,
        /// Bolt angle from there until it parts, degrees.
        neck_deg: f64,
        /// Bolt angle over which the torque then falls, degrees.
        drop_deg: f64,
        /// Bolt angle that the operator goes on after it parted, degrees.
        carry_on_deg: f64,
    },
    /// The socket slips over the corners of the head: saw-tooth torque, the bolt stands.
    SocketSlip {
        /// Torque at which it slips, as a part of the target.
        grip_fraction: f64,
        /// Grip of each seat as a part of the one before.
        wear: f64,
        /// Angle from seat to seat, degrees: 60 for a hexagon, 30 for twelve points.
        seat_deg: f64,
        /// Tool angle that the operator goes on after the first slip, degrees.
        carry_on_deg: f64,
    },
    /// The bolt turns in jerks: harmless.
    StickSlip {
        /// Torque above (sticking) and below (slipping) the resistance, as a part of it.
        amplitude: f64,
    },
    /// The operator stops before the target.
    UnderTorque {
        /// Torque at the stop, as a part of the target.
        stop_fraction: f64,
    },
    /// The operator goes on beyond the target.
    OverTorque {
        /// Torque at the stop, as a part of the target.
        stop_fraction: f64,
    },
    /// The joint is much softer than described: the target lies beyond the angle window.
    OverAngle {
        /// Angle from snug to target, as a part of the stated one.
        soft_ratio: f64,
    },
    /// The joint, a gasket or paint between its parts, goes on settling while it stands: beyond what
    /// every joint embeds, it loses much of its clamp force.
    Relaxation {
        /// Part of the clamp force that it loses (0.4 and more with a gasket; common practice,
        /// no source).
        loss: f64,
        /// Time constant, s.
        time_s: f64,
    },
    /// The tool comes off the head along the bolt axis while it turns.
    ToolLifting {
        /// Bolt angle at which it begins to, turns.
        onset_turns: f64,
        /// Speed of the retreat, mm/s.
        speed_mm_s: f64,
        /// Engagement of socket and head, mm.
        depth_mm: f64,
    },
    /// Undoing: the bolt turns together with its nut or insert.
    TurningTogether {
        /// Torque at which nut or insert turn, as a part of the recorded torque.
        drag_fraction: f64,
        /// Bolt angle at which the operator gives up, turns.
        stop_turns: f64,
    },
    /// Undoing: the bolt does not move at all.
    Seized {
        /// Torque at which the operator gives up, as a part of the recorded torque.
        limit_fraction: f64,
    },
    /// Undoing: the head does not grip; low, ragged torque that repeats with the seats.
    DriveStripped {
        /// Torque that the worn head still carries, as a part of the recorded torque.
        grip_fraction: f64,
        /// Angle from seat to seat, degrees.
        seat_deg: f64,
        /// Tool angle that the operator goes on, degrees.
        carry_on_deg: f64,
    },
    /// A joint torque stands at the end of its range.
    SensorSaturated {
        /// Joint, from 1.
        joint: usize,
        /// End of the range, N·m.
        limit_nm: f64,
    },
    /// A joint torque stops changing.
    SensorFrozen {
        /// Joint, from 1.
        joint: usize,
        /// Bolt angle from which it does, turns.
        onset_turns: f64,
    },
    /// The zero of a joint torque runs away after the tare.
    SensorDrift {
        /// Joint, from 1.
        joint: usize,
        /// Speed, N·m/s.
        rate_nm_per_s: f64,
    },
    /// A burst of samples is missing.
    SamplesStale {
        /// Bolt angle at which it begins, turns.
        onset_turns: f64,
        /// Its length, s.
        gap_s: f64,
    },
    /// Something leans on a link of the arm.
    ContactElsewhere {
        /// Link, from 1: the load acts at the next joint.
        link: usize,
        /// Bolt angle at which it begins, turns.
        onset_turns: f64,
        /// Force, N, base frame.
        force_n: [f64; 3],
    },
    /// The tool levers across the bolt axis.
    SideLoad {
        /// Bolt angle at which it begins, turns.
        onset_turns: f64,
        /// Moment across the axis, N·m.
        moment_nm: f64,
        /// Its direction about the axis, degrees from the socket's x axis at rest.
        direction_deg: f64,
    },
}

/// Torque, as a part of the target, from which a yielding bolt is where it was wanted.
const WANTED_YIELD: f64 = 0.9;

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

    /// Its kind.
    pub fn kind(&self) -> FaultKind {
        match self {
            Self::None => FaultKind::None,
            Self::NotStarted { .. } => FaultKind::NotStarted,
            Self::CrossThread { .. } => FaultKind::CrossThread,
            Self::Debris { .. } => FaultKind::Debris,
            Self::FalseSnug { .. } => FaultKind::FalseSnug,
            Self::Bottoming { .. } => FaultKind::Bottoming,
            Self::MissingPart { .. } => FaultKind::MissingPart,
            Self::Galling { .. } => FaultKind::Galling,
            Self::PrevailingLow { .. } => FaultKind::PrevailingLow,
            Self::PrevailingHigh { .. } => FaultKind::PrevailingHigh,
            Self::AlreadyTight { .. } => FaultKind::AlreadyTight,
            Self::Strip { .. } => FaultKind::Strip,
            Self::Yield { .. } => FaultKind::Yield,
            Self::Fracture { .. } => FaultKind::Fracture,
            Self::SocketSlip { .. } => FaultKind::SocketSlip,
            Self::StickSlip { .. } => FaultKind::StickSlip,
            Self::UnderTorque { .. } => FaultKind::UnderTorque,
            Self::OverTorque { .. } => FaultKind::OverTorque,
            Self::OverAngle { .. } => FaultKind::OverAngle,
            Self::Relaxation { .. } => FaultKind::Relaxation,
            Self::ToolLifting { .. } => FaultKind::ToolLifting,
            Self::TurningTogether { .. } => FaultKind::TurningTogether,
            Self::Seized { .. } => FaultKind::Seized,
            Self::DriveStripped { .. } => FaultKind::DriveStripped,
            Self::SensorSaturated { .. } => FaultKind::SensorSaturated,
            Self::SensorFrozen { .. } => FaultKind::SensorFrozen,
            Self::SensorDrift { .. } => FaultKind::SensorDrift,
            Self::SamplesStale { .. } => FaultKind::SamplesStale,
            Self::ContactElsewhere { .. } => FaultKind::ContactElsewhere,
            Self::SideLoad { .. } => FaultKind::SideLoad,
        }
    }

    /// Name of the finding that is due, in snake case; `"none"` without fault.
    pub fn finding(&self) -> &'static str {
        match self.kind() {
            FaultKind::None => "none",
            FaultKind::NotStarted => "not_started",
            FaultKind::CrossThread => "cross_thread",
            FaultKind::Debris | FaultKind::Bottoming => "early_snug",
            FaultKind::FalseSnug => "false_snug",
            FaultKind::MissingPart => "late_snug",
            FaultKind::Galling => "galling",
            FaultKind::PrevailingLow => "prevailing_low",
            FaultKind::PrevailingHigh => "prevailing_high",
            FaultKind::AlreadyTight => "already_tight",
            FaultKind::Strip => "strip",
            FaultKind::Yield if self.is_harmless() => "yield_onset",
            FaultKind::Yield => "early_yield",
            FaultKind::Fracture => "fracture",
            FaultKind::SocketSlip => "socket_slip",
            FaultKind::StickSlip => "stick_slip",
            FaultKind::UnderTorque => "under_torque",
            FaultKind::OverTorque => "over_torque",
            FaultKind::OverAngle => "over_angle",
            FaultKind::Relaxation => "relaxation",
            FaultKind::ToolLifting => "tool_lifting",
            FaultKind::TurningTogether => "turning_together",
            FaultKind::Seized => "seized",
            FaultKind::DriveStripped => "drive_stripped",
            FaultKind::SensorSaturated => "sensor_saturated",
            FaultKind::SensorFrozen => "sensor_frozen",
            FaultKind::SensorDrift => "sensor_drift",
            FaultKind::SamplesStale => "samples_stale",
            FaultKind::ContactElsewhere => "joints_disagree",
            FaultKind::SideLoad => "side_load",
        }
    }

    /// Whether the bolt is as sound at the end as without it: a stop would be a false one.
    pub fn is_harmless(&self) -> bool {
        match self {
            Self::None | Self::FalseSnug { .. } | Self::StickSlip { .. } => true,
            Self::Yield { onset_fraction, .. } => *onset_fraction >= WANTED_YIELD,
            _ => false,
        }
    }

    /// Whether turning on does harm, so that a stop is due.
    pub fn needs_stop(&self) -> bool {
        match self.kind() {
            FaultKind::CrossThread
            | FaultKind::Debris
            | FaultKind::Bottoming
            | FaultKind::Galling
            | FaultKind::AlreadyTight
            | FaultKind::Strip
            | FaultKind::Fracture
            | FaultKind::SocketSlip
            | FaultKind::OverTorque
            | FaultKind::OverAngle
            | FaultKind::TurningTogether
            | FaultKind::Seized
            | FaultKind::DriveStripped => true,
            FaultKind::Yield => !self.is_harmless(),
            _ => false,
        }
    }
}
