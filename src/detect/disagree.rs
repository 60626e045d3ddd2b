//! Joint torques that contradict each other: contact elsewhere on the arm, or a faulty sensor.

use super::{Cause, Detection, Detector, FindingKind, Quantity, SampleView};

/// What joints with a normal error exceed by chance once in 10⁵ looks: the quantile of chi-square over
/// its degrees of freedom, for 1 and 2 joints more than a wrench has components (tables; checked
/// against the closed forms in the test).
const CHANCE: [f32; 2] = [19.51, 11.51];
/// Nearly all of the error is friction, which stays what it is until a joint turns round: averaging
/// for longer would not allow less, and a run of fifty strokes is a hundred independent looks. So sound
/// joints contradict each other in one run of a thousand, if friction is as stated. At rest it is up to
/// a fifth above the sliding one (common practice, no source), and the ratio goes with its square.
const AT_REST: f32 = 1.2 * 1.2;
/// Time over which the ratio is averaged, s: a knock passes.
const AVERAGE_S: f32 = 0.3;

/// Detector of contradicting joint torques.
#[derive(Clone, Copy, Debug, Default)]
pub struct JointsDisagree {
    ratio: f32,
    found: bool,
}

/// Residual ratio (1 expected) above which so many joints contradict each other. With a wrist sensor
/// there is more to contradict than the joints, and the limit is wider than it need be.
fn limit(joints: usize) -> f32 {
    let [one, two] = CHANCE;
    AT_REST * if joints > 7 { two } else { one }
}

impl Detector for JointsDisagree {
    fn on_sample(&mut self, view: &SampleView<'_>) -> Option<Detection> {
        let limit = limit(view.joints.len());
        let dt = view.dt_s.clamp(0.0, AVERAGE_S);
        self.ratio += (view.torque.residual_ratio - self.ratio) * (dt / (dt + AVERAGE_S));
        if self.found || !(self.ratio > limit) {
            return None;
        }
        self.found = true;
        Some(Detection {
            kind: FindingKind::JointsDisagree,
            quantity: Quantity::ResidualRatio,
            value: self.ratio,
            limit,
            place: None,
            likely: Some(Cause::ContactElsewhere),
            runner_up: Some(Cause::SensorFault),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// With 1 degree of freedom chi-square is the square of a normal variable, whose two-sided 1e-5
    /// quantile is 4.4172 (tables); with 2 its tail is `exp(−x/2)`.
    #[test]
    fn limits_are_those_of_chi_square() {
        assert!((CHANCE[0] - 4.4172_f32 * 4.4172).abs() < 0.01);
        let tail = (-CHANCE[1]).exp();
        assert!((tail / 1e-5 - 1.0).abs() < 0.02, "{tail}");
        assert!(limit(8) < limit(7) && limit(7) == limit(6));
    }
}
