//! More torque than the bolt is to get, by what the torque surely is.

use super::clamp::RESTART_RAD;
use super::{Cause, Detection, Detector, FindingKind, Quantity, StepView};

/// Steps in the mean that is compared (1.5°).
const MEAN_STEPS: usize = 3;
/// The torque must exceed its window by so many standard uncertainties (JCGM 106, 8.3: guarded
/// rejection; 2 stands for 95 % and more).
const SIGMA: f32 = 2.0;

/// Detector of over-torque.
#[derive(Clone, Copy, Debug, Default)]
pub struct OverTorque {
    found: bool,
}

impl Detector for OverTorque {
    fn on_step(&mut self, view: &StepView<'_>) -> Option<Detection> {
        let step = view.step;
        let most_nm = view.expected.end_nm?.max;
        if self.found || !step.observable || step.since_stop_rad < RESTART_RAD {
            return None;
        }
        let mean_nm = view.window.mean_torque_nm(MEAN_STEPS);
        let limit = most_nm + SIGMA * step.torque_u_nm();
        if !(mean_nm > limit) {
            return None;
        }
        self.found = true;
        Some(Detection {
            kind: FindingKind::OverTorque,
            quantity: Quantity::TorqueNm,
            value: mean_nm,
            limit,
            place: None,
            likely: None,
            runner_up: Some(Cause::GallingThread),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::super::bench::{Turn, kinds, sound, turn};
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
}
