//! A drive that does not hold: the torque lets go and grips again, with the seats of the head.
//!
//! One slip may be a tool that was not seated; a second one is a drive that does not hold. Where the
//! torque is too low and ragged for clear grips, a run that has gone through three seats of the
//! fewest (four) without anything like a breakaway is judged by all of its climbs together.

use crate::math::TAU;

use super::super::{Cause, Detection, FindingKind, Quantity};
use super::outward::Advance;
use super::{QUARTER_RAD, Undone};

/// A re-grip is a climb by this part of the highest torque: a loose thread's grain swings by a fifth
/// at most, a grip that carries less than a third of the highest turns no bolt.
const REGRIP_PART: f32 = 1.0 / 3.0;
/// All climbs of a turn together, once three seats have gone by.
const CLIMBS_PART: f32 = 0.5;
/// Three seats of a cross recess, rad.
const SEATS_RAD: f32 = 3.0 * QUARTER_RAD;

/// Detector of stripped drives.
#[derive(Clone, Copy, Debug, Default)]
pub struct DriveStripped {
    found: bool,
}

impl DriveStripped {
    /// Looks at the run so far.
    pub fn look(&mut self, run: &Undone<'_>) -> Option<Detection> {
        let grips = run.grips;
        // A bolt that comes out is turned by its drive, however rough it runs.
        if self.found || run.loose || run.advance == Advance::BacksOut {
            return None;
        }
        let second = (grips.second_regrip_nm(), REGRIP_PART * grips.highest_nm);
        let turns = (grips.since_contact_rad() / TAU).max(1.0);
        let all = (grips.regrips_nm(), turns * CLIMBS_PART * grips.highest_nm);
        let late = grips.since_contact_rad() >= SEATS_RAD && !grips.growing_quiet();
        let (value, limit) = if second.0 > 0.0 && second.0 >= second.1 {
            second
        } else if late && all.0 > 0.0 && all.0 >= all.1 {
            all
        } else {
            return None;
        };
        self.found = true;
        Some(Detection {
            kind: FindingKind::DriveStripped,
            quantity: Quantity::AmplitudeNm,
            value,
            limit,
            likely: Some(Cause::WornDrive),
            runner_up: Some(Cause::SlippingSocket),
        })
    }
}
