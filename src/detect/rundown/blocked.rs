//! A bolt that takes up torque and hardly turns: already tight before the run, or at the end of its
//! thread before its head can have seated.
//!
//! Told by time, not by angle: such a bolt may not turn a single step before the target is reached.

use super::super::{Cause, Detection, FindingKind, Quantity, SampleView};
use super::FREE_RAD;
use super::rise::Rise;

/// Torque above the ceiling in the first degrees, as a part of the target (common practice, no
/// source: a crossed thread takes half a turn to the target, and so a twelfth of it by then).
const TIGHT_PART: f32 = 0.15;
/// Likewise where no rundown is stated: a bolt may have been put in and pulled up by hand, which is a
/// part of that ...
const TIGHT_BY_HAND_PART: f32 = 0.5;
/// ... and then takes the torque that the hardest joint does, over the angle in rad that it takes to
/// the target: 27° (ISO 5393).
const HARDEST_RAD: f32 = 0.47;
/// Torque above the limit of running down from which on a bolt counts as blocked, as a part of the
/// target ...
const BLOCKED_PART: f32 = 0.05;
/// ... and in standard uncertainties.
const SIGMA: f32 = 3.0;
/// Bolt angle that it may have turned meanwhile, in radians per target: 8°. The hardest joint takes
/// 27° (ISO 5393), and a burr that is crushed gives way over some degrees.
const HARD_RAD: f32 = 0.14;
/// Spacings of the points that the rise is taken from, rad (0.25° and 1°), each time the last but one:
/// one for what stops at once, one for what bears softly at first.
const SPACINGS_RAD: [f32; 2] = [0.0044, 0.0175];
/// Time for which it must last, s: a knock passes.
const LASTING_S: f32 = 0.03;

/// Detector of bolts that do not turn where they should run down.
#[derive(Clone, Copy, Debug, Default)]
pub struct Blocked {
    lasting_s: f32,
    /// Bolt angle (rad) and torque (N·m) one and two spacings before.
    before: [[(f32, f32); 2]; SPACINGS_RAD.len()],
}

impl Blocked {
    /// Looks at a sample. `rise` is that of the last step, `seat_from_rad` the bolt angle from which
    /// the head may seat, where a rundown is stated.
    pub fn look(
        &mut self,
        view: &SampleView<'_>,
        rise: &Rise,
        seat_from_rad: Option<f32>,
    ) -> Option<Detection> {
        let (expected, torque) = (view.expected, view.torque);
        let tight = view.bolt_rad <= FREE_RAD;
        if seat_from_rad.is_none() && !tight {
            // Most samples of such a run: nothing to follow.
            self.lasting_s = 0.0;
            return None;
        }
        let sigma = SIGMA * torque.u_nm();
        let runs_down = seat_from_rad.is_some_and(|seat| view.bolt_rad < seat);
        let limit = if tight {
            let part = if runs_down {
                TIGHT_PART
            } else {
                TIGHT_BY_HAND_PART + (view.bolt_rad / HARDEST_RAD).max(0.0)
            };
            expected.ceiling_nm + expected.part_of_target_nm(part).max(sigma)
        } else {
            let mut least_nm = f32::INFINITY;
            for (before, spacing) in self.before.iter_mut().zip(SPACINGS_RAD) {
                let [older, newer] = *before;
                if view.bolt_rad - newer.0 >= spacing {
                    *before = [newer, (view.bolt_rad, torque.value_nm)];
                }
                let turned = (view.bolt_rad - older.0) / HARD_RAD;
                let allowed_nm = rise.limit_nm.max(older.1) + expected.part_of_target_nm(turned);
                least_nm = least_nm.min(allowed_nm);
            }
            least_nm + (expected.part_of_target_nm(BLOCKED_PART)).max(sigma)
        };
        if expected.target_nm.is_none()
            || !(tight || runs_down)
            || !torque.observable
            || !(torque.value_nm > limit)
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
            value: torque.value_nm,
            limit,
            place: None,
            likely: Some(likely),
            runner_up: Some(runner_up),
        })
    }
}
