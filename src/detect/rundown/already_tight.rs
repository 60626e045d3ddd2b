//! Already tight: the torque is beyond anything that running down takes before the bolt has turned.
//!
//! Told by time, not by angle: a bolt that is tight may not turn at all.

use super::super::{Cause, Detection, FindingKind, Quantity, SampleView};
use super::FREE_RAD;

/// Torque above the ceiling, as a part of the target (common practice, no source: a crossed thread
/// takes half a turn to the target, and so a twelfth of it within these degrees).
const PART: f32 = 0.15;
/// Likewise in standard uncertainties.
const SIGMA: f32 = 3.0;
/// Time for which it must last, s: a knock passes.
const LASTING_S: f32 = 0.05;

/// Detector of bolts that are tight before the run.
#[derive(Clone, Copy, Debug, Default)]
pub struct AlreadyTight {
    turned_rad: f32,
    lasting_s: f32,
}

impl AlreadyTight {
    /// Takes in how far the bolt has turned, rad.
    pub fn turned(&mut self, end_rad: f32) {
        self.turned_rad = self.turned_rad.max(end_rad);
    }

    /// Looks at a sample.
    pub fn look(&mut self, view: &SampleView<'_>) -> Option<Detection> {
        let expected = view.expected;
        // Only where a rundown is stated: a bolt that was put in by hand is not tight.
        let running_down = expected.earliest_snug_rad.is_some_and(|e| e > FREE_RAD);
        let limit = expected.ceiling_nm
            + (expected.part_of_target_nm(PART)).max(SIGMA * view.torque.u_nm());
        if !running_down
            || expected.carried_nm.is_some()
            || self.turned_rad > FREE_RAD
            || !view.torque.observable
            || !(view.torque.value_nm > limit)
        {
            self.lasting_s = 0.0;
            return None;
        }
        self.lasting_s += view.dt_s;
        (self.lasting_s >= LASTING_S).then_some(Detection {
            kind: FindingKind::AlreadyTight,
            quantity: Quantity::TorqueNm,
            value: view.torque.value_nm,
            limit,
            likely: Some(Cause::AlreadyTight),
            runner_up: Some(Cause::Bottoming),
        })
    }
}
