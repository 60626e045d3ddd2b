//! More torque than the bolt is to get, by what the torque surely is.
//!
//! While it turns, step by step; a torque that is held counts as well, for a bolt that carries a torque
//! already may not turn at all. A bolt at rest takes more to break loose than it was turned with: that
//! part is added to the limit, less of it the further the bolt has turned since.

use super::clamp::{REST_PART, RESTART_RAD, rest_part};
use super::{Cause, Detection, Detector, FindingKind, Quantity, SampleView, StepView};
use crate::curve::STEP_RAD;
use crate::fastener::ExpectedRun;

/// Steps in the mean that is compared (1.5°).
const MEAN_STEPS: usize = 3;
/// The torque must exceed its window by so many standard uncertainties (JCGM 106, 8.3: guarded
/// rejection; 2 stands for 95 % and more).
const SIGMA: f32 = 2.0;
/// Time for which a torque must be held, s (common practice, no source): more than a spike of the reading.
const LASTING_S: f32 = 0.02;

/// Detector of over-torque.
#[derive(Clone, Copy, Debug, Default)]
pub struct OverTorque {
    held_s: f32,
    found: bool,
}

impl Detector for OverTorque {
    fn on_step(&mut self, view: &StepView<'_>) -> Option<Detection> {
        let step = view.step;
        if self.found || !step.observable {
            return None;
        }
        let rest = if step.since_stop_rad < RESTART_RAD {
            // Of the middle of the mean.
            rest_part(step.since_stop_rad - 0.5 * MEAN_STEPS as f32 * STEP_RAD)
        } else {
            0.0
        };
        let mean_nm = view.window.mean_torque_nm(MEAN_STEPS);
        let limit = most_nm(view.expected, rest)? + SIGMA * step.torque_u_nm();
        // A bolt that turns forward resists: as much torque the other way is a sign gone wrong, and the
        // bolt is wrung off under a reading that never reaches its target.
        if !(mean_nm.abs() > limit) {
            return None;
        }
        Some(self.found(mean_nm, limit))
    }

    fn on_sample(&mut self, view: &SampleView<'_>) -> Option<Detection> {
        let torque = view.torque;
        // While nothing drives, no torque is added to what was there before.
        if self.found || !torque.observable || view.paused || view.free_motion {
            return None;
        }
        let most_nm = most_nm(view.expected, REST_PART)?;
        // Most samples: no root to be taken.
        let limit = if torque.value_nm > most_nm {
            most_nm + SIGMA * torque.u_nm()
        } else {
            f32::INFINITY
        };
        // Noise around the limit: time above it counts, time below it counts back.
        if torque.value_nm > limit {
            self.held_s += view.dt_s.max(0.0);
        } else {
            self.held_s = (self.held_s - view.dt_s.max(0.0)).max(0.0);
            return None;
        }
        (self.held_s >= LASTING_S).then(|| self.found(torque.value_nm, limit))
    }
}

impl OverTorque {
    fn found(&mut self, value: f32, limit: f32) -> Detection {
        self.found = true;
        Detection {
            kind: FindingKind::OverTorque,
            quantity: Quantity::TorqueNm,
            value,
            limit,
            place: None,
            likely: None,
            runner_up: Some(Cause::GallingThread),
        }
    }
}

/// Most that the bolt is to get, N·m, where breaking loose may add a part of it. A check states no window:
/// there the bolt is at rest, and what would break it loose at the torque of the check is the most.
fn most_nm(expected: &ExpectedRun, rest: f32) -> Option<f32> {
    match expected.end_nm {
        Some(window) => Some(window.max * (1.0 + rest)),
        None => expected.target_nm.map(|torque| torque * (1.0 + REST_PART)),
    }
}

#[cfg(test)]
mod tests {
    use super::super::bench::{Turn, kinds, sound, touch, turn};
    use super::*;

    #[test]
    fn only_what_surely_lies_above_the_window_is_too_much() {
        // 52.8 N·m and two standard uncertainties of 0.11 N·m are passed at 412.2°, by a mean of 1.5°.
        let said = turn(&mut OverTorque::default(), 420.0, |deg| {
            Turn::steady(sound(deg))
        });
        assert_eq!(kinds(&said), [FindingKind::OverTorque]);
        assert!((412.5..413.5).contains(&said[0].1), "{}", said[0].1);
        let held = turn(&mut OverTorque::default(), 420.0, |deg| {
            Turn::steady(sound(deg).min(52.9))
        });
        assert_eq!(held, []);
    }

    #[test]
    fn as_much_torque_the_wrong_way_is_too_much() {
        let said = turn(&mut OverTorque::default(), 420.0, |deg| {
            Turn::steady(-sound(deg))
        });
        assert_eq!(kinds(&said), [FindingKind::OverTorque]);
        assert!((412.5..413.5).contains(&said[0].1), "{}", said[0].1);
    }

    #[test]
    fn breaking_loose_after_a_stop_is_not_too_much() {
        let said = turn(&mut OverTorque::default(), 420.0, |deg| Turn {
            since_stop_deg: if deg < 408.0 { 90.0 } else { deg - 408.0 },
            ..Turn::steady(sound(deg.min(408.0)) * if deg < 408.0 { 1.0 } else { 1.1 })
        });
        // It is, when it stays.
        assert!(
            said.first().is_some_and(|(_, at_deg)| *at_deg > 412.0),
            "{said:?}"
        );
    }

    #[test]
    fn goes_within_which_a_stop_may_add_torque_are_judged_by_what_it_may_add() {
        // Goes of 4°, each broken loose by a fifth more: sound up to 52 N·m, ...
        let go = |deg: f32, most_nm: f32| {
            let since_stop_deg = if deg < 380.0 {
                90.0
            } else {
                (deg - 380.0) % 4.0 + 0.5
            };
            let rest = 1.0 + 0.2 * (-since_stop_deg / 1.7).exp();
            Turn {
                since_stop_deg,
                ..Turn::steady(sound(deg).min(most_nm) * rest)
            }
        };
        let said = |most_nm| turn(&mut OverTorque::default(), 450.0, |deg| go(deg, most_nm));
        assert_eq!(said(52.0), []);
        // ... and then too much, told where the window is passed by what a stop may still add.
        let said = said(90.0);
        assert!((412.0..420.0).contains(&said[0].1), "{said:?}");
    }

    #[test]
    fn a_torque_that_is_held_counts_whether_the_bolt_turns_or_not() {
        // 52.8 N·m, and three tenths more that a bolt at rest may take: 68.6.
        let held = |nm: f32, ms: usize| {
            let samples = (0..1000).map(move |i| (0.0, if i < ms { nm } else { 50.0 }, false));
            touch(&mut OverTorque::default(), samples).map(|(found, sample)| (found.kind, sample))
        };
        assert_eq!(held(68.0, 1000), None);
        assert_eq!(held(80.0, 15), None);
        let (kind, sample) = held(70.0, 1000).expect("told");
        assert_eq!(kind, FindingKind::OverTorque);
        assert!((19..=20).contains(&sample), "{sample}");
    }
}
