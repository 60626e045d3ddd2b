//! A joint torque at the end of its range: it tells only a bound, and the bolt torque is not told.

use crate::wrench::{JointHealth, SATURATED_PART};

use super::{Cause, Detection, Detector, FindingKind, Place, Quantity, SampleView};

/// Detector of clipped joint torques. Needs the range of the description.
#[derive(Clone, Copy, Debug, Default)]
pub struct SensorSaturated {
    found: bool,
}

impl Detector for SensorSaturated {
    fn on_sample(&mut self, view: &SampleView<'_>) -> Option<Detection> {
        let (index, joint) = (view.joints.iter().enumerate())
            .find(|(_, joint)| joint.health == JointHealth::Saturated)?;
        if self.found {
            return None;
        }
        self.found = true;
        let limit_nm = SATURATED_PART * joint.range_nm.unwrap_or(0.0);
        Some(Detection {
            kind: FindingKind::SensorSaturated,
            quantity: Quantity::MomentNm,
            // Of several samples one was clipped: the mean of all may lie below.
            value: if joint.torque_nm.abs() < limit_nm {
                limit_nm.copysign(joint.torque_nm)
            } else {
                joint.torque_nm
            },
            limit: limit_nm,
            place: Some(Place::joint(index)),
            likely: Some(Cause::ContactElsewhere),
            runner_up: Some(Cause::SensorFault),
        })
    }
}
