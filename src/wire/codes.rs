//! Numbers that stand for enum values on the wire. Append only: a number once given keeps its
//! meaning for ever, wherever the variant stands in its enum.

use crate::detect::{Cause, FindingKind, Quantity};
use crate::procedure::{Reason, Verdict};
use crate::wire::JobStatus;

macro_rules! codes {
    ($name:ident { $($variant:ident = $code:literal),+ $(,)? }) => {
        impl $name {
            /// The number that stands for this value on the wire.
            pub const fn wire_code(self) -> u8 {
                match self { $(Self::$variant => $code),+ }
            }

            /// The value that a number on the wire stands for; `None` if this version knows none.
            pub const fn from_wire_code(code: u8) -> Option<Self> {
                match code { $($code => Some(Self::$variant),)+ _ => None }
            }
        }
    };
}

codes!(FindingKind {
    CrossThread = 1,
    Strip = 2,
    TorqueNotObservable = 3,
    JointsDisagree = 4,
    NotStarted = 5,
    EarlySnug = 6,
    LateSnug = 7,
    FalseSnug = 8,
    Galling = 9,
    PrevailingHigh = 10,
    PrevailingLow = 11,
    AlreadyTight = 12,
    YieldOnset = 13,
    EarlyYield = 14,
    Fracture = 15,
    SocketSlip = 16,
    StickSlip = 17,
    UnderTorque = 18,
    OverTorque = 19,
    OverAngle = 20,
    Relaxation = 21,
    ToolLifting = 22,
    Breakaway = 23,
    TurningTogether = 24,
    Seized = 25,
    ThreadFree = 26,
    SensorSaturated = 27,
    SensorFrozen = 28,
    SensorDrift = 29,
    SamplesStale = 30,
    SideLoad = 31,
    DriveStripped = 32,
});

codes!(Cause {
    CrossedThread = 1,
    StrippingThread = 2,
    YieldingBolt = 3,
    BrokenBolt = 4,
    SlippingSocket = 5,
    Debris = 6,
    Bottoming = 7,
    MissingPart = 8,
    GallingThread = 9,
    LockingFeature = 10,
    AlreadyTight = 11,
    TurningTogether = 12,
    WrongPart = 13,
    SoftJoint = 14,
    SensorFault = 15,
    ContactElsewhere = 16,
    ToolLifting = 17,
    DriftingSensor = 18,
    WornDrive = 19,
    NotCaught = 20,
});

codes!(Quantity {
    TorqueNm = 1,
    DropNm = 2,
    UncertaintyNm = 3,
    ResidualRatio = 4,
    AngleRad = 5,
    TorqueRatio = 6,
    SlopeRatio = 7,
    AmplitudeNm = 8,
    MomentNm = 9,
    AdvanceRatio = 10,
    DistanceM = 11,
    DurationS = 12,
});

codes!(Verdict {
    Accepted = 1,
    Rejected = 2,
    NotAssessable = 3,
});

codes!(Reason {
    TorqueInWindow = 1,
    TorqueBelowWindow = 2,
    TorqueAboveWindow = 3,
    UncertaintyTooLarge = 4,
    TorqueNotObservable = 5,
    FindingStands = 6,
    JointsDisagree = 7,
    NoTarget = 8,
    NoSnug = 9,
    SnugOutsideWindow = 10,
    ElasticAngleOutsideWindow = 11,
    SamplesMissing = 12,
    UndoingNotJudged = 13,
    FurtherAngleInWindow = 14,
    FurtherAngleBelowWindow = 15,
    FurtherAngleAboveWindow = 16,
    StartTorqueNotReached = 17,
    AngleUncertaintyTooLarge = 18,
    YieldInWindow = 19,
    YieldBelowWindow = 20,
    YieldAboveWindow = 21,
    NoYield = 22,
    HeldStill = 23,
    MovedBeforeTorque = 24,
    CheckTorqueNotReached = 25,
    BreakawayInWindow = 26,
    BreakawayBelowWindow = 27,
    BreakawayAboveWindow = 28,
    NoBreakaway = 29,
    ThreadFree = 30,
    FreeTooSoon = 31,
    FreeTooLate = 32,
    ThreadNotFree = 33,
    NeverTurned = 34,
    SnugInWindow = 35,
    ElasticAngleInWindow = 36,
    FindingAgainst = 37,
    SensingInDoubt = 38,
    YieldInDoubt = 39,
    TorqueLostWhileHeld = 40,
    RunningTorqueInDoubt = 41,
    RunOutInDoubt = 42,
});

codes!(JobStatus {
    Loaded = 1,
    TooLarge = 2,
    OutOfOrder = 3,
    Damaged = 4,
    Refused = 5,
    PartLeftOut = 6,
});
