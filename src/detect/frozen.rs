//! A joint torque that has not changed by a bit while it should have. What "should" means is
//! decided with the reading itself, see [`SensorHealth`](crate::wrench::SensorHealth); the bolt
//! torque is not told while it lasts.

use crate::wrench::{FROZEN_S, JointHealth};

use super::{Cause, Detection, Detector, FindingKind, Place, Quantity, SampleView};

/// Detector of frozen joint torques.
#[derive(Clone, Copy, Debug, Default)]
pub struct SensorFrozen {
    found: bool,
}

impl Detector for SensorFrozen {
    fn on_sample(&mut self, view: &SampleView<'_>) -> Option<Detection> {
        let (index, joint) = (view.joints.iter().enumerate())
            .find(|(_, joint)| joint.health == JointHealth::Frozen)?;
        if self.found {
            return None;
        }
        self.found = true;
        Some(Detection {
            kind: FindingKind::SensorFrozen,
            quantity: Quantity::DurationS,
            value: joint.silent_s,
            limit: FROZEN_S,
            place: Some(Place::joint(index)),
            likely: Some(Cause::SensorFault),
            runner_up: None,
        })
    }
}
