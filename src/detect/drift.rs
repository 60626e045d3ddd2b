//! Joint torques that no longer agree with the tare although nothing is touched.
//!
//! Only where the tip travels as no tool does that is on a bolt (before the bolt, between lifted
//! strokes, after it is free) are the joint torques known to carry no load from outside. There each
//! joint's unexplained torque, averaged over half a second, must be zero within the uncertainty that
//! tare, friction, gravity and stated drift leave.

use crate::arm::MAX_JOINTS;
use crate::math::sqrt;
use crate::wrench::JointHealth;

use super::{Cause, Detection, Detector, FindingKind, Quantity, SampleView};

/// Time of free motion that is averaged, s: starts and stops of the arm,
/// whose inertia is not modelled, pass.
const FREE_S: f32 = 0.5;
/// The limit in standard uncertainties: with eight joints and a normal error, once in two hundred
/// thousand such times.
const SIGMA: f32 = 5.0;

/// Sums over that time.
#[derive(Clone, Copy, Debug, Default)]
struct Mean {
    torque_nm_s: f32,
    u_nm_s: f32,
}

/// Detector of torque zeros that drifted.
#[derive(Clone, Copy, Debug, Default)]
pub struct SensorDrift {
    free_s: f32,
    joints: [Mean; MAX_JOINTS],
    found: bool,
}

impl Detector for SensorDrift {
    fn on_sample(&mut self, view: &SampleView<'_>) -> Option<Detection> {
        if self.found {
            return None;
        }
        let usable = || view.joints.iter().all(|j| j.health == JointHealth::Usable);
        if !view.free_motion || !usable() {
            // On a bolt with every sample, where there is nothing to forget.
            if self.free_s != 0.0 {
                *self = Self::default();
            }
            return None;
        }
        self.free_s += view.dt_s;
        for (mean, joint) in self.joints.iter_mut().zip(view.joints) {
            mean.torque_nm_s += joint.external_nm * view.dt_s;
            mean.u_nm_s += sqrt(joint.external_variance_nm2) * view.dt_s;
        }
        if !(self.free_s >= FREE_S) {
            return None;
        }
        let Self { free_s, joints, .. } = core::mem::take(self);
        let off = joints
            .iter()
            .find(|m| m.torque_nm_s.abs() > SIGMA * m.u_nm_s)?;
        let value = off.torque_nm_s / free_s;
        let limit = SIGMA * off.u_nm_s / free_s;
        self.found = true;
        Some(Detection {
            kind: FindingKind::SensorDrift,
            quantity: Quantity::MomentNm,
            value,
            limit,
            likely: Some(Cause::DriftingSensor),
            runner_up: Some(Cause::ContactElsewhere),
        })
    }
}
