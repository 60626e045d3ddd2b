//! A run that ended below its torque window. Only the end of the run tells it: until then every bolt
//! is below.

use super::{Detection, FindingKind, Quantity};
use crate::fastener::ExpectedRun;
use crate::procedure::Figure;

/// The torque must lie below its window by so many standard uncertainties (JCGM 106, 8.3: guarded
/// rejection; 2 stands for 95 % and more).
const SIGMA: f32 = 2.0;

/// The finding for a bolt that ended with this torque, N·m, in the driving direction.
pub fn under_torque(end: Figure, expected: &ExpectedRun) -> Option<Detection> {
    let limit = expected.end_nm?.min - SIGMA * end.u;
    (end.value < limit).then_some(Detection {
        kind: FindingKind::UnderTorque,
        quantity: Quantity::TorqueNm,
        value: end.value,
        limit,
        place: None,
        likely: None,
        runner_up: None,
    })
}

#[cfg(test)]
mod tests {
    use super::super::bench::EXPECTED;
    use super::*;

    #[test]
    fn only_what_surely_lies_below_the_window_is_too_little() {
        let end = |value, u| under_torque(Figure { value, u }, &EXPECTED).map(|d| d.kind);
        assert_eq!(end(42.0, 0.5), Some(FindingKind::UnderTorque));
        assert_eq!(end(42.3, 0.5), None);
        assert_eq!(end(48.0, 0.5), None);
        assert_eq!(
            under_torque(Figure { value: 1.0, u: 0.1 }, &ExpectedRun::UNKNOWN),
            None
        );
    }
}
