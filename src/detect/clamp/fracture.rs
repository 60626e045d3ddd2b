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
/// No thread shears so fast: it would be through in 10°, a part of the pitch that is less than its
/// flanks give way elastically. Part of the highest torque per rad (8 % a degree).
const FASTEST_STRIP_PER_RAD: f32 = 4.6;
/// A thread that shears takes longer than 40° to lose all it carries, as a rule: the same, at 2.4 %
/// a degree.
const FAST_PER_RAD: f32 = 1.4;
/// Angle of yielding before the highest torque that tells of a bolt about to break, rad (4°).
const YIELDED_RAD: f32 = 0.07;
/// How long a fall of middling pace is looked at before it is taken for the likelier, rad (5°).
const PATIENCE_RAD: f32 = 0.087;

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
    let fast = fallen.rate_per_rad > FAST_PER_RAD;
    if gone
        || fallen.rate_per_rad > FASTEST_STRIP_PER_RAD
        || (fast && yielded_rad > YIELDED_RAD)
    {
        Break::Broken
    } else if fast && fallen.known_rad < PATIENCE_RAD {
        Break::Open
    } else {
        Break::Whole
    }
}
