//! A bolt that takes up torque and hardly turns: already tight before the run, or at the end of its
//! thread before its head can have seated.
//!
//! Told by time, not by angle: such a bolt may not turn a single step before the target is reached.

use super::super::{CLEARS_PART, Cause, Detection, FindingKind, Quantity, SampleView};
use super::FREE_RAD;
use super::rise::Rise;

/// Torque above the ceiling in the first degrees, as a part of the target (common practice, no
/// source: a crossed thread takes half a turn to the target, and so a twelfth of it by then).
const TIGHT_PART: f32 = 0.15;
/// Likewise in standard uncertainties, there and everywhere.
const SIGMA: f32 = 3.0;
/// Bolt angle within which the torque must have come, rad (5°).
const STANDING_RAD: f32 = 0.087;
/// Time for which it must last, s: a knock passes.
const LASTING_S: f32 = 0.03;

/// Detector of bolts that do not turn where they should run down.
#[derive(Clone, Copy, Debug, Default)]
pub struct Blocked {
    lasting_s: f32,
}

impl Blocked {
    /// Looks at a sample. `rise`, the bolt angle and the one from which the head may seat in rad as of
    /// the last step.
    pub fn look(
        &mut self,
        view: &SampleView<'_>,
        rise: &Rise,
        turned_rad: f32,
        seat_from_rad: f32,
    ) -> Option<Detection> {
        let expected = view.expected;
        let tight = turned_rad <= FREE_RAD;
        let sigma = SIGMA * view.torque.u_nm();
        let limit = if tight {
            expected.ceiling_nm + (expected.part_of_target_nm(TIGHT_PART)).max(sigma)
        } else {
            rise.limit_nm.max(rise.level_nm) + (expected.part_of_target_nm(CLEARS_PART)).max(sigma)
        };
        // Only where a rundown is stated: a bolt that was put in by hand is not tight.
        if turned_rad >= seat_from_rad
            || rise.since_rad() > STANDING_RAD
            || !view.torque.observable
            || !(view.torque.value_nm > limit)
        {
            self.lasting_s = 0.0;
            return None;
        }
        self.lasting_s += view.dt_s;
        if self.lasting_s < LASTING_S {
            return None;
        }
        let (kind, likely, runner_up) = if tight {
            (
                FindingKind::AlreadyTight,
                Cause::AlreadyTight,
                Cause::Bottoming,
            )
        } else {
            (FindingKind::EarlySnug, Cause::Bottoming, Cause::WrongPart)
        };
        Some(Detection {
            kind,
            quantity: Quantity::TorqueNm,
            value: view.torque.value_nm,
            limit,
            likely: Some(likely),
            runner_up: Some(runner_up),
        })
    }
}
