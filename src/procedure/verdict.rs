//! The answer for one run.

use heapless::Vec;
use serde::{Deserialize, Serialize};

/// Answer for one run. Never a bare pass: see [`RunSummary::reasons`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Verdict {
    /// Everything asked for was seen and met.
    Accepted,
    /// Something asked for was seen not to be met, or a finding stands against the bolt.
    Rejected,
    /// The data cannot tell.
    NotAssessable,
}

impl Verdict {
    /// Name in snake case, as the host writes it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Accepted => "accepted",
            Self::Rejected => "rejected",
            Self::NotAssessable => "not_assessable",
        }
    }
}

/// Why a verdict is what it is. The order is the wire order: append only.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum Reason {
    /// Final torque inside the window around the target, uncertainty small against the window.
    TorqueInWindow,
    /// Final torque below the window.
    TorqueBelowWindow,
    /// Final torque above the window.
    TorqueAboveWindow,
    /// The uncertainty is too large against the window.
    UncertaintyTooLarge,
    /// The bolt torque was not observable when it mattered.
    TorqueNotObservable,
    /// A stopping finding stands.
    FindingStands,
    /// The joint torques contradicted each other.
    JointsDisagree,
    /// No target torque was given.
    NoTarget,
    /// No snug point was seen.
    NoSnug,
    /// Snug came outside the expected turns.
    SnugOutsideWindow,
    /// The angle from snug to the end lies outside the expected window.
    ElasticAngleOutsideWindow,
    /// Too many samples were missing or unusable.
    SamplesMissing,
    /// Undone without a window to hold it against.
    UndoingNotJudged,
    /// The angle beyond the start torque lies in its window.
    FurtherAngleInWindow,
    /// The angle beyond the start torque lies below its window.
    FurtherAngleBelowWindow,
    /// The angle beyond the start torque lies above its window.
    FurtherAngleAboveWindow,
    /// The torque from which the further angle counts was not reached.
    StartTorqueNotReached,
    /// The uncertainty of an angle is too large against its window.
    AngleUncertaintyTooLarge,
    /// Yield began inside its window.
    YieldInWindow,
    /// Yield began below its window.
    YieldBelowWindow,
    /// Yield began above its window.
    YieldAboveWindow,
    /// Yield was not reached.
    NoYield,
    /// The bolt carried the check torque without moving.
    HeldStill,
    /// The bolt moved while it was checked.
    MovedBeforeTorque,
    /// The check torque was not reached.
    CheckTorqueNotReached,
    /// The bolt came loose inside its window.
    BreakawayInWindow,
    /// The bolt came loose below its window.
    BreakawayBelowWindow,
    /// The bolt came loose above its window.
    BreakawayAboveWindow,
    /// The bolt was not seen to come loose.
    NoBreakaway,
    /// The last thread was free where it was expected.
    ThreadFree,
    /// The thread was free before it was due.
    FreeTooSoon,
    /// The thread was free later than it was due.
    FreeTooLate,
    /// The thread was not seen to be free.
    ThreadNotFree,
    /// The bolt did not turn.
    NeverTurned,
    /// Snug came inside the expected turns.
    SnugInWindow,
    /// The angle from snug to the target lies inside its window.
    ElasticAngleInWindow,
    /// A finding that did not stop the run speaks against the bolt.
    FindingAgainst,
    /// A joint torque was drifting, frozen or clipped.
    SensingInDoubt,
    /// At the end the slope lay below that of a yielding bolt, too little or too briefly for a finding.
    YieldInDoubt,
    /// While it was held, the bolt lost torque to below its window.
    TorqueLostWhileHeld,
    /// Whether the running torque lies in its stated band cannot be told.
    RunningTorqueInDoubt,
    /// Turned on at more than its thread may take, not seen to come out: it may turn with its nut.
    RunOutInDoubt,
}

/// The snug angle: where the elastic line meets the line of the prevailing torque.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Snug {
    /// Bolt angle since the start of the run, rad.
    pub angle_rad: f32,
    /// Its standard uncertainty, rad.
    pub angle_u_rad: f32,
    /// Torque at that point (the prevailing torque), N·m.
    pub torque_nm: f32,
}

/// What is known of a run when it ends.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct RunSummary {
    /// The answer.
    pub verdict: Verdict,
    /// Why.
    pub reasons: Vec<Reason, 8>,
    /// Torque that the bolt carried where it last turned, N·m.
    pub final_torque_nm: f32,
    /// Its standard uncertainty (coverage factor 1), N·m.
    pub final_torque_u_nm: f32,
    /// Bolt angle since the start of the run, rad.
    pub final_angle_rad: f32,
    /// Its standard uncertainty, rad.
    pub final_angle_u_rad: f32,
    /// The snug point, if there was one.
    pub snug: Option<Snug>,
    /// Samples offered, usable or not.
    pub samples: u32,
    /// Gaps between samples that were longer than 2.5 usual steps.
    pub gaps: u32,
    /// Samples not used: not finite, or time running backwards.
    pub unusable_samples: u32,
}
