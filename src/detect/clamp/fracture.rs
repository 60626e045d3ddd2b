//! A bolt that breaks.
//!
//! What the bolt, the joint and the drive have stored breaks it off: the torque goes within a few
//! degrees, and nothing is left but what turns under the head. A sound bolt breaks only after it has
//! yielded.

use super::fall::Fallen;

/// A torque is gone when it has lost this part ...
const GONE_PART: f32 = 0.8;
/// ... within this bolt angle from its highest, rad (20°).
const GONE_RAD: f32 = 0.35;
/// What falls by more than this part of the highest torque per rad (8 % a degree) and has lost half
/// of it is about to be gone: what is left of a thread that shears by half goes more slowly.
const BREAKS_PER_RAD: f32 = 4.6;
/// Likewise where the slope had been too low for some degrees before, rad (4°): a thread loses it over
/// less.
const BREAKS_SLACK_PER_RAD: f32 = 3.0;
const SLACK_RAD: f32 = 0.07;
const HALF: f32 = 0.5;
/// What falls by less (4 % a degree: all within 25°) is a thread.
const SHEARS_PER_RAD: f32 = 2.3;
/// Angle of yielding before the highest torque that tells of a bolt about to break, rad (8°).
const YIELDED_RAD: f32 = 0.14;
/// A fall that has just begun gathers pace: what falls by this part per rad (1.75 % a degree) is
/// looked at for so long before it is taken for a thread, rad (2.5°).
const GATHERS_PER_RAD: f32 = 1.0;
const PATIENCE_RAD: f32 = 0.044;

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
/// torque.
pub(super) fn breaks(fallen: &Fallen, yielded_rad: f32) -> Break {
    let gone = fallen.part() > GONE_PART && fallen.forward_rad <= GONE_RAD;
    let pace = if yielded_rad > SLACK_RAD {
        BREAKS_SLACK_PER_RAD
    } else {
        BREAKS_PER_RAD
    };
    let half_gone = fallen.part() > HALF && fallen.rate_per_rad > pace;
    let fast = fallen.rate_per_rad > SHEARS_PER_RAD;
    let gathers = fallen.rate_per_rad > GATHERS_PER_RAD && fallen.known_rad < PATIENCE_RAD;
    if gone || half_gone || (fast && yielded_rad > YIELDED_RAD) {
        Break::Broken
    } else if (fast && fallen.part() < HALF) || gathers {
        Break::Open
    } else {
        Break::Whole
    }
}
