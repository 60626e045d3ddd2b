//! Refuses a description that physics or plain sense forbids, naming the key.

use crate::fastener::{Band, Fault, Forecast, Joint, Severity};

use super::check_goal;
use super::goal::Goal;
use super::job::BoltJob;

/// A key of the description that is unsound.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct JobError {
    /// The figure, as [`BoltJob`] names it, with its unit.
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

const AT_LEAST_ONE: &str = "a finite number, 1 or above";

/// Least stiffness of a tool, N·m/rad: one that gives by a radian for each newton metre is a spring and no
/// tool. The angle that it gives by is reckoned with the inverse, which must be a number.
const LEAST_WINDUP_NM_PER_RAD: f32 = 1.0;

impl BoltJob {
    /// Checks every figure.
    ///
    /// # Errors
    /// The first key that is unsound.
    pub fn check(&self) -> Result<(), JobError> {
        self.faults().next().map_or(Ok(()), Err)
    }

    /// What physics forbids or practice questions in the fastener, its target torque, the highest
    /// torque that its window admits, and windows that what is known of the fastener speaks against.
    pub fn fastener_faults(&self) -> impl Iterator<Item = Fault> + use<> {
        // Going as far as yield is no fault where yield is the aim.
        let plastic = matches!(self.goal, Goal::Yield { .. } | Goal::TorqueThenAngle { .. });
        let forecast = self.forecast();
        let beyond = (self.window_beyond()).map(|window| forecast.window_faults(window.max));
        self.fastener
            .faults(self.goal.target_nm())
            .filter(move |fault| !(plastic && fault.severity == Severity::Warned))
            .chain(beyond.into_iter().flatten())
            .chain(self.windows_apart(&forecast))
    }

    /// The torque window whose upper end is to be held against the fastener.
    fn window_beyond(&self) -> Option<Band> {
        (self.goal.end_nm()).filter(|_| matches!(self.goal, Goal::Torque { .. }))
    }

    /// Stated windows that have nothing in common with what the fastener lets expect.
    fn windows_apart(&self, forecast: &Forecast) -> impl Iterator<Item = Fault> + use<> {
        let (yields_nm, breaks_loose_nm) = match self.goal {
            Goal::Yield { onset_nm, .. } => (Some(onset_nm), None),
            Goal::Loosen { breakaway_nm, .. } => (None, breakaway_nm),
            _ => (None, None),
        };
        // A class is itself no more than a wide window.
        let described = !matches!(self.fastener.joint, Some(Joint::Class(_)) | None);
        [
            ("yield_torque_nm", yields_nm, forecast.yield_nm),
            (
                "breakaway_torque_nm",
                breaks_loose_nm,
                forecast.breakaway_nm,
            ),
            (
                "rundown_rad",
                self.rundown_rad.map(|e| e.band()),
                forecast.snug_rad,
            ),
            (
                "elastic_rad",
                self.elastic_rad.map(|e| e.band()),
                forecast.elastic_rad.filter(|_| described),
            ),
        ]
        .into_iter()
        .filter_map(|(key, stated, expected)| Fault::apart("window", key, stated?, expected?))
    }

    /// Checks the fastener against its target torque.
    ///
    /// # Errors
    /// The first fault that forbids the run. Doubts are no errors: see
    /// [`BoltJob::fastener_faults`]. Without the feature `fastener-check` only figures that no bolt
    /// has are faults ([`Fastener::first_unsound_figure`](crate::fastener::Fastener::first_unsound_figure)):
    /// whether the fastener bears the target is then the host's to check.
    pub fn check_fastener(&self) -> Result<(), Fault> {
        if !cfg!(feature = "fastener-check") {
            return self.fastener.first_unsound_figure().map_or(Ok(()), Err);
        }
        let refused = (self.fastener.refused(self.goal.target_nm())).or_else(|| {
            let window = self.window_beyond()?;
            Fault::first_refused(|| self.forecast().window_faults(window.max))
        });
        let refused =
            refused.or_else(|| Fault::first_refused(|| self.windows_apart(&self.forecast())));
        refused.map_or(Ok(()), Err)
    }

    /// Every key that is unsound, so that they can be mended at once.
    pub fn faults(&self) -> impl Iterator<Item = JobError> + '_ {
        let s = &self.sensing;
        let t = &self.tool;
        let positive = [
            ("carried_nm", self.carried_nm),
            ("rundown_rad.value", self.rundown_rad.map(|e| e.value)),
            ("elastic_rad.value", self.elastic_rad.map(|e| e.value)),
            ("tool.seat_rad", Some(t.seat_rad)),
            ("tool.side_moment_limit_nm", t.side_moment_limit_nm),
            ("sensing.prior_force_n", Some(s.prior_force_n)),
            ("sensing.prior_moment_nm", s.prior_moment_nm),
        ]
        .into_iter()
        .filter_map(|(key, v)| fault(key, v, POSITIVE, |x| x > 0.0));
        let springs = fault(
            "tool.windup_nm_per_rad",
            t.windup_nm_per_rad,
            AT_LEAST_ONE,
            |x| x >= LEAST_WINDUP_NM_PER_RAD,
        );
        let not_negative = [
            (
                "rundown_rad.tolerance",
                self.rundown_rad.map(|e| e.tolerance),
            ),
            (
                "elastic_rad.tolerance",
                self.elastic_rad.map(|e| e.tolerance),
            ),
            ("tool.ratchet_tooth_rad", t.ratchet_tooth_rad),
            ("tool.socket_play_rad", t.socket_play_rad),
            ("tool.length_m", Some(t.length_m)),
            ("sensing.spindle_noise_nm", s.spindle_noise_nm),
            ("sensing.spindle_scale_u", Some(s.spindle_scale_u)),
            ("sensing.spindle_zero_u_nm", Some(s.spindle_zero_u_nm)),
            ("sensing.wrist_force_u_n", Some(s.wrist_force_u_n)),
            ("sensing.wrist_moment_u_nm", Some(s.wrist_moment_u_nm)),
            ("tare.duration_s", Some(self.tare.duration_s)),
        ]
        .into_iter()
        .filter_map(|(key, v)| fault(key, v, NOT_NEGATIVE, |x| x >= 0.0));
        check_goal::faults(&self.goal)
            .chain(positive)
            .chain(springs)
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

// Never inlined: some thirty figures are looked at.
#[inline(never)]
pub(super) fn fault(
    key: &'static str,
    value: Option<f32>,
    must_be: &'static str,
    holds: fn(f32) -> bool,
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
            ["goal.target_nm", "rundown_rad.value", "tool.axis"]
        );
    }

    /// A figure that is above 0 and whose inverse is none, or that no tool has.
    #[test]
    fn a_tool_is_stiffer_than_a_spring() {
        for soft in [1e-39, 1e-3, 0.9] {
            let mut j = job();
            j.tool.windup_nm_per_rad = Some(soft);
            let error = j.check().unwrap_err();
            assert_eq!((error.key, error.value), ("tool.windup_nm_per_rad", soft));
        }
        let mut j = job();
        j.tool.windup_nm_per_rad = Some(1.0);
        assert_eq!(j.check(), Ok(()));
    }
}
