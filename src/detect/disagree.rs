//! Joint torques that contradict each other: contact elsewhere on the arm, or a faulty sensor.

use super::{Cause, Detection, Detector, FindingKind, Quantity, SampleView};

/// Residual ratio (1 expected) above which the readings contradict each other: five standard
/// deviations of joint friction that at rest is a fifth above the sliding one which the description
/// states (common practice, no source), squared. Friction at rest is nearly all of the deviation, so
/// averaging for longer would not allow less.
const LIMIT: f32 = 36.0;
/// Time over which the ratio is averaged, s: a knock passes.
const AVERAGE_S: f32 = 0.3;

/// Detector of contradicting joint torques.
#[derive(Clone, Copy, Debug, Default)]
pub struct JointsDisagree {
    ratio: f32,
    found: bool,
}

impl Detector for JointsDisagree {
    fn on_sample(&mut self, view: &SampleView<'_>) -> Option<Detection> {
        let dt = view.dt_s.clamp(0.0, AVERAGE_S);
        self.ratio += (view.torque.residual_ratio - self.ratio) * (dt / (dt + AVERAGE_S));
        if self.found || !(self.ratio > LIMIT) {
            return None;
        }
        self.found = true;
        Some(Detection {
            kind: FindingKind::JointsDisagree,
            quantity: Quantity::ResidualRatio,
            value: self.ratio,
            limit: LIMIT,
            likely: Some(Cause::ContactElsewhere),
            runner_up: Some(Cause::SensorFault),
        })
    }
}
