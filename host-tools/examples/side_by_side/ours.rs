//! This crate: the calls that the monitor makes for every sample.

use std::array::from_fn;

use bolting_monitor::arm::{ArmDescription, ArmModel};
use bolting_monitor::wrench::{Posterior, Readings};

use super::{AXIS, Answer, N, PRIOR, Sample, TORQUE_U_NM};

/// The arm.
pub struct Ours {
    model: ArmModel<N>,
    variances: [f32; N],
}

impl Ours {
    /// From a description.
    pub fn new(arm: &ArmDescription) -> Result<Self, String> {
        Ok(Self {
            model: ArmModel::try_new(arm).map_err(|e| e.to_string())?,
            variances: TORQUE_U_NM.map(|u| (u * u) as f32),
        })
    }

    /// Pose to answer.
    pub fn solve(&self, sample: &Sample) -> Answer {
        let pose = self
            .model
            .pose(&sample.position_rad.map(|q| q as f32), false, false);
        let external: [f32; N] = from_fn(|i| sample.torque_nm[i] as f32 - pose.gravity_nm[i]);
        let mut posterior = Posterior::prior(PRIOR.0 as f32, PRIOR.1 as f32);
        posterior.fold(&mut Readings::new(
            &pose.jacobian,
            &external,
            &self.variances,
        ));
        let axis = AXIS.map(|a| a as f32);
        let moment = posterior.functional(&[0.0, 0.0, 0.0, axis[0], axis[1], axis[2]]);
        Answer {
            moment_nm: f64::from(moment.mean),
            u_nm: f64::from(moment.variance).sqrt(),
        }
    }
}
