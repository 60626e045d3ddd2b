//! Refuses a description that physics or plain sense forbids, naming the key.

use crate::fastener::{Fault, Severity};

use super::check_goal;
use super::job::BoltJob;

/// A key of the description that is unsound.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct JobError {
    /// The key, as the description names it.
    pub key: &'static str,
    /// What it must be.
    pub must_be: &'static str,
    /// What it was.
    pub value: f32,
}

impl core::fmt::Display for JobError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(
            f,
            "{} is {}, but must be {}: correct it in the description",
            self.key, self.value, self.must_be
        )
    }
}

impl core::error::Error for JobError {}

pub(super) const POSITIVE: &str = "a finite number above 0";
pub(super) const NOT_NEGATIVE: &str = "a finite number, 0 or above";

impl BoltJob {
    /// Checks every figure.
    ///
    /// # Errors
    /// The first key that is unsound.
    pub fn check(&self) -> Result<(), JobError> {
        self.faults().next().map_or(Ok(()), Err)
    }

    /// What physics forbids or practice questions in the fastener and its target torque.
    pub fn fastener_faults(&self) -> impl Iterator<Item = Fault> + use<> {
        self.fastener.faults(self.goal.target_nm())
    }

    /// Checks the fastener against its target torque.
    ///
    /// # Errors
    /// The first fault that forbids the run. Doubts are no errors: see
    /// [`BoltJob::fastener_faults`].
    pub fn check_fastener(&self) -> Result<(), Fault> {
        self.fastener_faults()
            .find(|fault| fault.severity == Severity::Refused)
            .map_or(Ok(()), Err)
    }

    /// Every key that is unsound, so that they can be mended at once.
    pub fn faults(&self) -> impl Iterator<Item = JobError> + '_ {
        let s = &self.sensing;
        let t = &self.tool;
        let positive = [
            ("carried_torque_nm", self.carried_nm),
            ("rundown_turns", self.rundown_rad.map(|e| e.value)),
            ("elastic_angle_deg", self.elastic_rad.map(|e| e.value)),
            ("windup_nm_per_rad", t.windup_nm_per_rad),
            ("seat_angle_deg", Some(t.seat_rad)),
            ("side_moment_limit_nm", t.side_moment_limit_nm),
            ("prior.force_n", Some(s.prior_force_n)),
            ("prior.moment_nm", s.prior_moment_nm),
        ]
        .into_iter()
        .filter_map(|(key, v)| fault(key, v, POSITIVE, |x| x > 0.0));
        let not_negative = [
            (
                "rundown_tolerance_turns",
                self.rundown_rad.map(|e| e.tolerance),
            ),
            (
                "elastic_tolerance_deg",
                self.elastic_rad.map(|e| e.tolerance),
            ),
            ("ratchet_tooth_deg", t.ratchet_tooth_rad),
            ("socket_play_deg", t.socket_play_rad),
            ("length_m", Some(t.length_m)),
            ("spindle.torque_noise_nm", s.spindle_noise_nm),
            ("spindle.torque_u_percent", Some(s.spindle_scale_u)),
            ("spindle.torque_zero_u_nm", Some(s.spindle_zero_u_nm)),
            ("wrist_sensor.force_u_n", Some(s.wrist_force_u_n)),
            ("wrist_sensor.moment_u_nm", Some(s.wrist_moment_u_nm)),
            ("tare.duration_s", Some(self.tare.duration_s)),
        ]
        .into_iter()
        .filter_map(|(key, v)| fault(key, v, NOT_NEGATIVE, |x| x >= 0.0));
        check_goal::faults(&self.goal)
            .chain(positive)
            .chain(not_negative)
            .chain(self.faults_together())
    }

    /// Keys that are unsound together or as columns of three.
    fn faults_together(&self) -> impl Iterator<Item = JobError> {
        let axis = self.bolt_axis.map(|a| a.direction);
        let direction = |v: crate::math::Vec3| crate::math::unit(&v).is_none();
        [
            direction(self.tool.axis).then_some(JobError {
                key: "tool.axis",
                must_be: "a direction: three finite numbers, not all 0",
                value: self.tool.axis[0],
            }),
            axis.filter(|a| direction(*a)).map(|a| JobError {
                key: "bolt_axis.direction",
                must_be: "a direction: three finite numbers, not all 0",
                value: a[0],
            }),
            self.bolt_axis
                .filter(|a| !a.point_m.iter().all(|x| x.is_finite()))
                .map(|a| JobError {
                    key: "bolt_axis.point_m",
                    must_be: "three finite numbers",
                    value: a.point_m[0],
                }),
        ]
        .into_iter()
        .flatten()
    }
}

pub(super) fn fault(
    key: &'static str,
    value: Option<f32>,
    must_be: &'static str,
    holds: impl FnOnce(f32) -> bool,
) -> Option<JobError> {
    let value = value?;
    let sound = value.is_finite() && holds(value);
    (!sound).then_some(JobError {
        key,
        must_be,
        value,
    })
}

#[cfg(test)]
mod tests {
    use super::super::job::tests::job;
    use super::super::{Expected, Goal};

    #[test]
    fn every_mistake_is_named_by_its_key() {
        let mut j = job();
        assert_eq!(j.check(), Ok(()));
        j.goal = Goal::Torque {
            target_nm: f32::NAN,
            tolerance: 0.1,
        };
        j.rundown_rad = Some(Expected {
            value: -1.0,
            tolerance: 0.1,
        });
        j.tool.axis = [0.0; 3];
        let keys: heapless::Vec<_, 8> = j.faults().map(|e| e.key).collect();
        assert_eq!(
            keys.as_slice(),
            ["target_torque_nm", "rundown_turns", "tool.axis"]
        );
    }
}
