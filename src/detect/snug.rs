//! The snug event: a sustained rise that noise and prevailing torque do not explain.
//!
//! Early and once; the snug *angle* is found afterwards by [`crate::curve::knee`]. The event is
//! provisional: where the rise turns flat again well below target (a locking feature entered), or
//! falls back before it has gone beyond what a burr bears, it is withdrawn.

use super::{CLEARS_PART, LOCAL_STEPS, StepView};
use crate::curve::Line;
use crate::math::{Limited, TAU, sqrt};

/// Slope counts as a rise from this many standard errors on.
const SLOPE_SIGMA: f32 = 5.0;
/// Least slope, as a part of the softest elastic rate expected.
const SLOPE_PART: f32 = 0.25;
/// Torque above the rundown that snug must have reached, as a part of the target.
const RISE_PART: f32 = 0.04;
/// Likewise in units of the torque's standard uncertainty.
const RISE_SIGMA: f32 = 4.0;
/// Likewise in units of how far the rundown torque wanders about its average: surface grain passes it now
/// and then in a rundown of many turns, but does not stay there.
const RISE_WANDER: f32 = 3.0;
/// Angle over which the rundown torque is averaged, rad (45°), and over which its wander is (a turn).
const BASE_RAD: f32 = 0.785;
const WANDER_RAD: f32 = TAU;
/// Steps of the slope that decides (10°), and of the one that withdraws (32°).
const RISE_STEPS: usize = 20;
const FLAT_STEPS: usize = 64;
/// A rise that turns flat above this part of the target is yield, not a locking feature, where snug is due.
const WITHDRAW_BELOW_PART: f32 = 0.6;
/// Flat after a fall to less than this part of the highest torque is a failing thread.
const FALLEN_PART: f32 = 0.8;
/// A burr or chip that gives way leaves less than this part of the rise.
const LEFT_PART: f32 = 0.3;

/// What changed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum SnugChange {
    /// The event was seen.
    Seen,
    /// It was no snug: the rise has turned flat again.
    Withdrawn,
}

/// Watches for the snug event.
#[derive(Clone, Copy, Debug, Default)]
pub struct SnugWatch {
    base_nm: f32,
    base_weight_rad: f32,
    wander_square: f32,
    wander_weight_rad: f32,
    seen: bool,
    seen_at_rad: f32,
    peak_nm: f32,
}

impl SnugWatch {
    /// Whether the event was seen and stands.
    pub fn seen(&self) -> bool {
        self.seen
    }

    /// Looks at a completed step; `view.snug` is not used.
    pub fn on_step(&mut self, view: &StepView<'_>) -> Option<SnugChange> {
        if view.expected.carried_nm.is_some() {
            return None;
        }
        if self.seen {
            return self.withdrawn(view).then(|| {
                self.seen = false;
                self.base_nm = view.step.torque_nm;
                SnugChange::Withdrawn
            });
        }
        let expected = view.expected;
        let least_rate = SLOPE_PART * expected.least_rate_nm_per_rad;
        let rises = |l: &Line| l.slope > least_rate && l.slope > SLOPE_SIGMA * l.slope_u;
        let enough = |n| view.window.len() >= n;
        let rising = view.local.is_some_and(|l| enough(LOCAL_STEPS) && rises(l))
            || (enough(RISE_STEPS) && view.window.line(RISE_STEPS).is_some_and(|l| rises(&l)));
        if !rising || self.base_weight_rad <= 0.0 {
            self.learn(view);
            return None;
        }
        let ceiling = if expected.ceiling_stated {
            expected.ceiling_nm
        } else {
            self.base_nm
        };
        let rise = (expected.part_of_target_nm(RISE_PART))
            .at_least(RISE_SIGMA * view.step.torque_u_nm())
            .at_least(RISE_WANDER * sqrt(self.wander_square));
        let now = view.window.mean_torque_nm(3);
        if now > ceiling.at_least(self.base_nm) + rise {
            self.seen = true;
            self.seen_at_rad = view.step.angle_rad;
            self.peak_nm = now;
            return Some(SnugChange::Seen);
        }
        None
    }

    fn learn(&mut self, view: &StepView<'_>) {
        let w = view.step.width_rad;
        let off_nm = view.step.torque_nm - self.base_nm;
        if self.base_weight_rad >= BASE_RAD {
            self.wander_weight_rad = (self.wander_weight_rad + w).at_most(WANDER_RAD);
            let share = (w / self.wander_weight_rad).at_most(1.0);
            self.wander_square += (off_nm * off_nm - self.wander_square) * share;
        }
        self.base_weight_rad = (self.base_weight_rad + w).at_most(BASE_RAD);
        self.base_nm += off_nm * (w / self.base_weight_rad).at_most(1.0);
    }

    fn withdrawn(&mut self, view: &StepView<'_>) -> bool {
        self.peak_nm = self
            .peak_nm
            .at_least(view.window.mean_torque_nm(LOCAL_STEPS));
        let highest_nm = view
            .expected
            .target_nm
            .map_or(f32::MAX, |target| WITHDRAW_BELOW_PART * target);
        let rise_nm = self.peak_nm - self.base_nm;
        let left_nm = view.window.mean_torque_nm(LOCAL_STEPS) - self.base_nm;
        if rise_nm < view.expected.part_of_target_nm(CLEARS_PART) && left_nm < LEFT_PART * rise_nm {
            return true;
        }
        // Before snug is due it is one, however much of a first pass's torque it takes.
        let gives_way = self.peak_nm > highest_nm
            || view.window.mean_torque_nm(FLAT_STEPS) < FALLEN_PART * self.peak_nm;
        if gives_way && view.expected.may_be_snug(view.step.angle_rad) {
            return false;
        }
        // The whole of the long window must lie behind the event.
        let oldest = view.window.iter().next().map_or(0.0, |s| s.angle_rad);
        view.window.len() >= FLAT_STEPS
            && oldest > self.seen_at_rad
            && view
                .window
                .line(FLAT_STEPS)
                .is_some_and(|l| l.slope < SLOPE_PART * view.expected.least_rate_nm_per_rad)
    }
}
