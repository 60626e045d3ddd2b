//! A thread that strips: what falls while the bolt turns on and does not break off.

use super::fall::Fallen;
use super::{Cause, Detection, FindingKind, Quantity};

/// The finding, with what else it may be: a bolt that yields, or one that is about to break.
pub(super) fn strip(fallen: &Fallen, yielded: bool) -> Detection {
    Detection {
        kind: FindingKind::Strip,
        quantity: Quantity::DropNm,
        value: fallen.by_nm,
        limit: fallen.limit_nm,
        place: None,
        likely: Some(Cause::StrippingThread),
        runner_up: Some(if yielded {
            Cause::BrokenBolt
        } else {
            Cause::YieldingBolt
        }),
    }
}
