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
            likely: None,
            runner_up: Some(Cause::GallingThread),
        })
    }
}
