//! Joint torques that no longer agree with the tare although nothing is touched.
//!
//! Only where the tip travels as no tool does that is on a bolt, or stands as far off it as it was
//! tared (between lifted strokes, after the run), are the joint torques known to carry no load from
//! outside. There each joint's unexplained torque, averaged over a while, must be zero within the
//! uncertainty that tare, friction, gravity and stated drift leave. One joint that is off while all
//! others are as they should be has drifted; a force on the arm loads several.

use crate::arm::MAX_JOINTS;
use crate::math::sqrt;
use crate::wrench::JointHealth;

use super::{Cause, Detection, Detector, FindingKind, Place, Quantity, SampleView};

/// Time off the bolt that is averaged, s: noise and what is not known of starts and stops pass. A hand
/// that takes the tool away holds it still for no longer.
const FREE_S: f32 = 0.25;
/// The limit in standard uncertainties: with eight joints and a normal error, once in two hundred
/// thousand such times.
const SIGMA: f32 = 5.0;
/// Joints that are as they should be stay within this, in standard uncertainties: seven others with a
/// normal error leave it once in two thousand times.
const QUIET_SIGMA: f32 = 4.0;

/// Sums over that time.
#[derive(Clone, Copy, Debug, Default)]
struct Mean {
    torque_nm_s: f32,
    u_nm_s: f32,
}

/// Detector of torque zeros that drifted, and of what leans on an arm that should be free.
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
        let beyond = |sigma: f32| move |m: &&Mean| m.torque_nm_s.abs() > sigma * m.u_nm_s;
        // What leans on the arm loads the joints on its way to the base: it lies beyond the last.
        let (index, last) = (joints.iter().enumerate()).rfind(|(_, m)| beyond(SIGMA)(m))?;
        let (kind, likely, runner_up) = if joints.iter().filter(beyond(QUIET_SIGMA)).count() == 1 {
            (
                FindingKind::SensorDrift,
                Cause::DriftingSensor,
                Cause::ContactElsewhere,
            )
        } else {
            (
                FindingKind::JointsDisagree,
                Cause::ContactElsewhere,
                Cause::DriftingSensor,
            )
        };
        self.found = true;
        Some(Detection {
            kind,
            quantity: Quantity::MomentNm,
            value: last.torque_nm_s / free_s,
            limit: SIGMA * last.u_nm_s / free_s,
            place: Some(Place::joint(index)),
            likely: Some(likely),
            runner_up: Some(runner_up),
        })
    }
}
