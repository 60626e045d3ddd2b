//! Numbers that stand for enum values on the wire. Append only: a number once given keeps its
//! meaning for ever, wherever the variant stands in its enum.

use crate::detect::{FindingKind, Quantity};
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
});

codes!(Quantity {
    TorqueNm = 1,
    DropNm = 2,
    UncertaintyNm = 3,
    ResidualRatio = 4,
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
});

codes!(JobStatus {
    Loaded = 1,
    TooLarge = 2,
    OutOfOrder = 3,
    Damaged = 4,
    Refused = 5,
});
