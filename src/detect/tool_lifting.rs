//! A tool that comes off the head: it goes back along the bolt while it turns it.
//!
//! A bolt that is done up takes the tool with it, or at the least stands; a tool that goes back has
//! less and less of the head in its socket. A bolt that is undone pushes the tool back, but never
//! further than its thread comes out: what the tool goes beyond the pitch it goes off the head. Judged
//! within one stroke, for a tool that is set down anew may stand otherwise.

use super::{Cause, Detection, Detector, FindingKind, Quantity, StepView};
use crate::math::{Limited, TAU};
use crate::procedure::Direction;

/// Way back that counts, m: a hand that presses wanders by some tenths, a head is 4 mm high and more
/// (M6, ISO 4014).
const BACK_M: f32 = 1.5e-3;
/// Likewise as a multiple of the way back that the run has recovered from.
const BACK_RECOVERED: f32 = 2.0;
/// Steps in the mean that is compared (2°).
const MEAN_STEPS: usize = 4;

/// Detector of a tool that lifts off.
#[derive(Clone, Copy, Debug)]
pub struct ToolLifting {
    direction: Direction,
    /// Deepest position on the head in this stroke, the least since, and the longest way back that
    /// was made good, m.
    furthest_m: Option<f32>,
    nearest_since_m: f32,
    recovered_m: f32,
    since_stop_rad: f32,
    found: bool,
}

impl ToolLifting {
    /// Of a bolt that is turned this way.
    pub const fn new(direction: Direction) -> Self {
        Self {
            direction,
            furthest_m: None,
            nearest_since_m: 0.0,
            recovered_m: 0.0,
            since_stop_rad: 0.0,
            found: false,
        }
    }

    /// Mean position of the tool towards the head over the last steps, m; `None` where it is not known
    /// how far the bolt may have pushed the tool back.
    fn depth_m(&self, view: &StepView<'_>) -> Option<f32> {
        let pitch_m = view.expected.pitch_m;
        let (mut sum, mut count) = (0.0, 0.0);
        for step in view.window.last(MEAN_STEPS) {
            let advance_m = step.advance_m()?;
            sum += match self.direction {
                Direction::Tighten => advance_m,
                Direction::Undo if pitch_m > 0.0 => pitch_m * step.angle_rad / TAU - advance_m,
                Direction::Undo => return None,
            };
            count += 1.0;
        }
        (count > 0.0).then(|| sum / count)
    }
}

impl Detector for ToolLifting {
    fn on_step(&mut self, view: &StepView<'_>) -> Option<Detection> {
        let restarted = view.step.since_stop_rad < self.since_stop_rad;
        self.since_stop_rad = view.step.since_stop_rad;
        if restarted {
            self.furthest_m = None;
        }
        let settled = view.step.since_stop_rad > MEAN_STEPS as f32 * crate::curve::STEP_RAD;
        if self.found || !settled {
            return None;
        }
        let now_m = self.depth_m(view)?;
        let Some(furthest_m) = self.furthest_m.filter(|furthest_m| now_m < *furthest_m) else {
            let back_m = self.furthest_m.map_or(0.0, |m| m - self.nearest_since_m);
            self.recovered_m = self.recovered_m.at_least(back_m);
            (self.furthest_m, self.nearest_since_m) = (Some(now_m), now_m);
            return None;
        };
        self.nearest_since_m = self.nearest_since_m.at_most(now_m);
        let limit = BACK_M.at_least(BACK_RECOVERED * self.recovered_m);
        let back_m = furthest_m - now_m;
        if back_m <= limit {
            return None;
        }
        self.found = true;
        Some(Detection {
            kind: FindingKind::ToolLifting,
            quantity: Quantity::DistanceM,
            value: back_m,
            limit,
            place: None,
            likely: Some(Cause::ToolLifting),
            runner_up: None,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::super::bench::{Turn, kinds, sound, turn};
    use super::*;

    fn at(deg: f32, advance_mm: f32) -> Turn {
        Turn {
            advance_m: Some(1e-3 * advance_mm),
            ..Turn::steady(sound(deg))
        }
    }

    #[test]
    fn a_tool_that_goes_back_while_it_turns_lifts_off() {
        // A coarse thread takes the tool 1.5 mm a turn; a hand wanders by 0.3 mm.
        let sound = |deg: f32| at(deg, 1.5 * deg / 360.0 + 0.3 * (deg / 20.0).sin());
        assert_eq!(
            turn(&mut ToolLifting::new(Direction::Tighten), 400.0, sound),
            []
        );
        let lifts = |deg: f32| at(deg, 1.5 * deg / 360.0 - 0.05 * (deg - 200.0).max(0.0));
        let said = turn(&mut ToolLifting::new(Direction::Tighten), 400.0, lifts);
        assert_eq!(kinds(&said), [FindingKind::ToolLifting]);
        assert!((230.0..240.0).contains(&said[0].1), "{}", said[0].1);
    }

    #[test]
    fn a_tool_that_was_set_down_anew_may_stand_higher() {
        let reseated = |deg: f32| Turn {
            since_stop_deg: if deg < 200.0 { 90.0 } else { deg - 200.0 },
            ..at(deg, if deg < 200.0 { 0.0 } else { -3.0 })
        };
        assert_eq!(
            turn(&mut ToolLifting::new(Direction::Tighten), 400.0, reseated),
            []
        );
    }

    #[test]
    fn a_bolt_that_comes_out_takes_the_tool_with_it_and_no_further() {
        // Out along the thread, with a hand that wanders by 0.3 mm; then faster than the thread.
        let comes_out = |deg: f32| at(deg, 1.5 * deg / 360.0 + 0.3 * (deg / 20.0).sin());
        let mut undoing = ToolLifting::new(Direction::Undo);
        assert_eq!(turn(&mut undoing, 720.0, comes_out), []);
        // A bolt that turns with its nut leaves the tool where it stands.
        let stands = |deg: f32| at(deg, 0.3 * (deg / 20.0).sin());
        let mut undoing = ToolLifting::new(Direction::Undo);
        assert_eq!(turn(&mut undoing, 720.0, stands), []);
        let lifts = |deg: f32| at(deg, 1.5 * deg / 360.0 + 0.05 * (deg - 200.0).max(0.0));
        let said = turn(&mut ToolLifting::new(Direction::Undo), 400.0, lifts);
        assert_eq!(kinds(&said), [FindingKind::ToolLifting]);
        assert!((230.0..240.0).contains(&said[0].1), "{}", said[0].1);
    }
}
