//! What a detector says, with the evidence it says it on.

use serde::{Deserialize, Serialize};

/// What was found. The numbers on the wire stand in `wire/codes.rs`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum FindingKind {
    /// Torque rises where the thread should still run freely: it has most likely started crossed.
    CrossThread,
    /// Torque falls while the bolt goes on turning: the thread is most likely shearing.
    Strip,
    /// In this pose the joints cannot tell the bolt torque.
    TorqueNotObservable,
    /// The joint torques contradict each other: contact elsewhere on the arm, or a faulty sensor.
    JointsDisagree,
    /// The bolt turns without advancing or resisting: the thread has not caught.
    NotStarted,
    /// The torque rises steadily before snug is due: something is in the way, or the thread ends.
    EarlySnug,
    /// Snug is overdue: a part is most likely missing, or the bolt is too long.
    LateSnug,
    /// A rise that looked like snug has cleared.
    FalseSnug,
    /// Running torque grows and grows rough: the thread is most likely galling or seizing.
    Galling,
    /// The rundown takes more torque than the stated band allows.
    PrevailingHigh,
    /// The rundown takes less torque than the stated band asks for: the locking feature is dead or missing.
    PrevailingLow,
    /// The torque rises from the first degrees: the bolt was tight already.
    AlreadyTight,
    /// The slope drops where the bolt may yield, at or above the torque that was wanted.
    YieldOnset,
    /// The slope drops below the torque that was wanted: bolt, thread or joint gives way.
    EarlyYield,
    /// The torque has gone within a few degrees and stays away: the bolt has most likely broken.
    Fracture,
    /// The torque breaks off and comes back with the seats of the head: the socket slips on it.
    SocketSlip,
    /// The bolt turns in jerks: the torque is read from its lower envelope.
    StickSlip,
    /// The run ended below its torque window.
    UnderTorque,
    /// The torque is above its window.
    OverTorque,
    /// The bolt has turned further beyond snug than its window allows.
    OverAngle,
    /// The held bolt has lost torque since it stopped.
    Relaxation,
    /// The tool is coming off the head.
    ToolLifting,
    /// The bolt has broken loose.
    Breakaway,
    /// The bolt drags on without coming loose or advancing: it most likely turns with its nut or insert.
    TurningTogether,
    /// The torque has reached its limit and the bolt does not move.
    Seized,
    /// The last thread has left: the bolt is loose in the socket and may drop.
    ThreadFree,
    /// A joint torque stands at the end of its range.
    SensorSaturated,
    /// A joint torque has not changed at all while the arm moved.
    SensorFrozen,
    /// The joint torques no longer agree with the tare, without contact.
    SensorDrift,
    /// Samples are missing.
    SamplesStale,
    /// The tool levers: the moment across the bolt axis is too high.
    SideLoad,
    /// The socket turns on a head that does not grip: the drive is most likely worn out.
    DriveStripped,
}

impl FindingKind {
    /// Name in snake case, as the host writes it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::CrossThread => "cross_thread",
            Self::Strip => "strip",
            Self::TorqueNotObservable => "torque_not_observable",
            Self::JointsDisagree => "joints_disagree",
            Self::NotStarted => "not_started",
            Self::EarlySnug => "early_snug",
            Self::LateSnug => "late_snug",
            Self::FalseSnug => "false_snug",
            Self::Galling => "galling",
            Self::PrevailingHigh => "prevailing_high",
            Self::PrevailingLow => "prevailing_low",
            Self::AlreadyTight => "already_tight",
            Self::YieldOnset => "yield_onset",
            Self::EarlyYield => "early_yield",
            Self::Fracture => "fracture",
            Self::SocketSlip => "socket_slip",
            Self::StickSlip => "stick_slip",
            Self::UnderTorque => "under_torque",
            Self::OverTorque => "over_torque",
            Self::OverAngle => "over_angle",
            Self::Relaxation => "relaxation",
            Self::ToolLifting => "tool_lifting",
            Self::Breakaway => "breakaway",
            Self::TurningTogether => "turning_together",
            Self::Seized => "seized",
            Self::ThreadFree => "thread_free",
            Self::SensorSaturated => "sensor_saturated",
            Self::SensorFrozen => "sensor_frozen",
            Self::SensorDrift => "sensor_drift",
            Self::SamplesStale => "samples_stale",
            Self::SideLoad => "side_load",
            Self::DriveStripped => "drive_stripped",
        }
    }

    /// Whether turning on would do harm, so that the permit is withdrawn.
    pub const fn stops(self) -> bool {
        matches!(
            self,
            Self::CrossThread
                | Self::Strip
                | Self::EarlySnug
                | Self::Galling
                | Self::AlreadyTight
                | Self::EarlyYield
                | Self::Fracture
                | Self::SocketSlip
                | Self::OverTorque
                | Self::OverAngle
                | Self::TurningTogether
                | Self::Seized
                | Self::DriveStripped
        )
    }
}

/// What may stand behind a finding.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum Cause {
    /// Thread started crossed.
    CrossedThread,
    /// Thread shearing.
    StrippingThread,
    /// Bolt yielding.
    YieldingBolt,
    /// Bolt broken.
    BrokenBolt,
    /// Socket slipping on the head.
    SlippingSocket,
    /// Debris or a burr between the parts.
    Debris,
    /// Bolt bottoming in its hole, or too long for it.
    Bottoming,
    /// Washer or part missing, or bolt too long.
    MissingPart,
    /// Thread galling or seizing.
    GallingThread,
    /// Locking feature wrong, worn or missing.
    LockingFeature,
    /// Bolt tight already.
    AlreadyTight,
    /// Bolt turning together with its nut or insert.
    TurningTogether,
    /// Wrong part or wrong thread.
    WrongPart,
    /// Softer joint than described.
    SoftJoint,
    /// Faulty sensor.
    SensorFault,
    /// Contact elsewhere on the arm.
    ContactElsewhere,
    /// Tool coming off the head.
    ToolLifting,
    /// Sensor drifted since the tare.
    DriftingSensor,
    /// Drive of the head worn out.
    WornDrive,
    /// Thread not caught.
    NotCaught,
}

/// The quantity that crossed its limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum Quantity {
    /// Bolt torque above a ceiling, N·m.
    TorqueNm,
    /// Fall of torque below the highest carried so far, N·m.
    DropNm,
    /// Standard uncertainty of the bolt torque, N·m.
    UncertaintyNm,
    /// Weighted sum of squares of what the wrench leaves unexplained, in units of its expectation.
    ResidualRatio,
    /// Bolt angle, rad.
    AngleRad,
    /// Torque as a part of a recorded or stated one.
    TorqueRatio,
    /// Slope as a part of the steepest so far, or of the expected one.
    SlopeRatio,
    /// Amplitude of a swinging torque, N·m.
    AmplitudeNm,
    /// Moment across the bolt axis, or at a joint, N·m.
    MomentNm,
    /// Axial advance per turn as a part of the pitch.
    AdvanceRatio,
    /// Distance along the bolt axis, m.
    DistanceM,
    /// Duration, s.
    DurationS,
}

/// Where on the arm a finding points. Goes over the wire as it stands: append only.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum Place {
    /// A joint, counted from the base, which has the first: 1.
    Joint(u8),
    /// The tip should move this way to take the load off: a unit direction in the tip frame, across
    /// the tool's axis.
    Relief([f32; 3]),
}

impl Place {
    /// The joint at this index of a sample.
    pub(crate) fn joint(index: usize) -> Self {
        Self::Joint(u8::try_from(index + 1).unwrap_or(u8::MAX))
    }
}

/// A finding, made once, at the sample at which its limit was crossed.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Finding {
    /// What it is.
    pub kind: FindingKind,
    /// Time of the sample, µs.
    pub time_us: u64,
    /// Bolt angle since the start of the run, rad.
    pub angle_rad: f32,
    /// Bolt torque, N·m: of the sample, for those that look at the curve the mean of the last three angle
    /// steps. Not a number where it was not observable.
    pub torque_nm: f32,
    /// Standard uncertainty of that torque, N·m; of a mean that of its last step, which is no less.
    pub torque_u_nm: f32,
    /// Local slope of the curve, N·m/rad.
    pub slope_nm_per_rad: f32,
    /// Standard error of that slope, N·m/rad.
    pub slope_u_nm_per_rad: f32,
    /// Axial advance per turn as a part of the pitch (1: a straight thread), with its standard
    /// uncertainty; `None` where the arm does not tell it.
    pub advance_ratio: Option<(f32, f32)>,
    /// The quantity that decided.
    pub quantity: Quantity,
    /// Its value.
    pub value: f32,
    /// The limit it crossed, same unit.
    pub limit: f32,
    /// Where on the arm it points, if anywhere.
    pub place: Option<Place>,
    /// What most likely stands behind it, ...
    pub likely: Option<Cause>,
    /// ... and what else the evidence would fit.
    pub runner_up: Option<Cause>,
}

impl Finding {
    /// Whether turning on would do harm, so that the permit is withdrawn.
    pub const fn stops(&self) -> bool {
        self.kind.stops()
    }
}
