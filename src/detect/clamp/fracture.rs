//! A bolt that breaks.
//!
//! What the bolt, the joint and the drive have stored breaks it off: the torque goes within 5° to 20°
//! to what turns under the head. A thread that shears loses 20 % to 30 % over 5° to 30°, and keeps 10 %
//! to 60 % of the peak (common practice, no source). So a
//! fracture loses 5 % a degree and more, a thread 6 % and less; a sound bolt breaks only after it has
//! yielded, which decides between them. Where both begin alike the name waits, but not for long: either
//! is to be stopped.

use super::fall::Fallen;
use super::{Cause, Detection, FindingKind, Quantity};

/// A torque is gone when it has lost this part ...
const GONE_PART: f32 = 0.8;
/// ... within this bolt angle from its highest, rad (20°).
const GONE_RAD: f32 = 0.35;
/// Loss by which a fall is named at the latest: by then a fracture has its full pace.
const TOLD_PART: f32 = 0.3;
/// Part of the highest torque per rad by which it then falls if it breaks (8 % a degree: some more than
/// the mean of the slowest, for it goes fastest in the middle) ...
const BREAKS_PER_RAD: f32 = 4.6;
/// ... and by how much less after each rad of yielding (½ % a degree after each degree).
const YIELDED_PER_RAD2: f32 = 16.4;
/// What falls on by less than so much per rad (1½ % a degree) is a thread, and what falls by less than so
/// much (3 %) if it still does a little later, rad (1°): a fall gathers pace. A torque that drops at once
/// and rises again is none: friction of head and thread changes so where they turn in jerks.
const SHEARS_PER_RAD: f32 = 0.86;
const STILL_SHEARS_PER_RAD: f32 = 1.7;
const GATHERS_RAD: f32 = 0.0175;
/// What falls by more than so much per rad (4 % a degree) after so much of yielding, rad (8°), breaks: a
/// thread that shears loses its slope over less.
const FAST_PER_RAD: f32 = 2.3;
const YIELDED_RAD: f32 = 0.14;
/// A bolt that is sound carries its target and breaks above it (it is tightened to 0.7 to 0.9 of where it
/// yields, common practice): what falls from less than this part of it and has not yielded is a thread
/// until nothing is left.
const CARRIES_PART: f32 = 0.8;
/// Part of the highest torque above the rundown that is nothing, and for how long there must be no
/// more, rad (10°).
const NOTHING_PART: f32 = 0.05;
const NOTHING_RAD: f32 = 0.175;

/// What a fall that stands out is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Break {
    /// The bolt has broken.
    Broken,
    /// It has not.
    Whole,
    /// Some degrees more will tell.
    Open,
}

/// `yielded_rad`: bolt angle for which the slope had been that of a yielding bolt at the highest
/// torque; `target_nm`: 0 where none is known.
pub(super) fn breaks(fallen: &Fallen, yielded_rad: f32, target_nm: f32) -> Break {
    let pace = fallen.rate_per_rad;
    let gone = fallen.part() > GONE_PART && fallen.forward_rad <= GONE_RAD;
    let told = fallen.part() > TOLD_PART;
    let carries = fallen.peak_nm >= CARRIES_PART * target_nm || yielded_rad > YIELDED_RAD;
    let steep = carries && pace > BREAKS_PER_RAD - YIELDED_PER_RAD2 * yielded_rad;
    let yielded = pace > FAST_PER_RAD && yielded_rad > YIELDED_RAD;
    let shears = if fallen.known_rad > GATHERS_RAD {
        pace < STILL_SHEARS_PER_RAD
    } else {
        pace < SHEARS_PER_RAD
    };
    if gone || (told && steep) || yielded {
        Break::Broken
    } else if told || (shears && fallen.falls_on) {
        Break::Whole
    } else {
        Break::Open
    }
}

/// Whether a thread that seemed to strip was a bolt that broke: a stripped thread still drags.
pub(super) fn nothing_left(fallen: &Fallen) -> Break {
    if fallen.nothing_rad > NOTHING_RAD {
        Break::Broken
    } else {
        Break::Open
    }
}

/// Whether this torque above the rundown is nothing of the highest one, N·m.
pub(super) fn is_nothing(left_nm: f32, peak_nm: f32) -> bool {
    left_nm < NOTHING_PART * peak_nm
}

/// The finding.
pub(super) fn fracture(fallen: &Fallen) -> Detection {
    Detection {
        kind: FindingKind::Fracture,
        quantity: Quantity::DropNm,
        value: fallen.by_nm,
        limit: fallen.limit_nm,
        place: None,
        likely: Some(Cause::BrokenBolt),
        runner_up: Some(Cause::StrippingThread),
    }
}
