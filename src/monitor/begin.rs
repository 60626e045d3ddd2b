//! From descriptions to a monitor: all that can go wrong goes wrong here.

use crate::arm::{ArmDescription, ArmError, ArmModel};
use crate::curve::{BinnedCurve, StepBuilder, Trail};
use crate::detect::SnugWatch;
use crate::fastener::Fault;
use crate::gather::Gather;
use crate::parts::Part;
use crate::phase::PhaseTracker;
use crate::procedure::{BoltJob, Direction, JobError, Mode};
use crate::turn::{JoinConfig, StrokeJoiner};

use super::clock::Clock;
use super::detectors::Detectors;
use super::landmarks::Landmarks;
use super::recent::Recent;
use super::source::Source;
use super::standoff::Standoff;
use super::walk::Walk;
use super::{Monitor, Update};

/// Prior of the moment as a multiple of the target, and at least, N·m.
const PRIOR_TARGETS: f32 = 3.0;
const PRIOR_LEAST_NM: f32 = 30.0;
/// Standard uncertainty, as a part of the target, above which a torque is not shown.
const OBSERVABLE_PART: f32 = 0.2;

/// Why a monitor cannot be made. Once made, it never fails.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum MonitorError {
    /// The arm model is unsound.
    Arm(ArmError),
    /// The bolt description is unsound.
    Job(JobError),
    /// The fastener, or its target torque, is impossible.
    Fastener(Fault),
    /// The bolt is turned by the wrist, but no arm was described.
    NoArm,
    /// The job needs a part that was left out of this build.
    LeftOut(Part),
}

impl core::fmt::Display for MonitorError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Arm(e) => e.fmt(f),
            Self::Job(e) => e.fmt(f),
            Self::Fastener(e) => e.fmt(f),
            Self::LeftOut(part) => part.fmt(f),
            Self::NoArm => f.write_str(
                "the bolt is turned by wrist strokes, but no arm is described: add the arm, or use mode powered_spindle",
            ),
        }
    }
}

impl core::error::Error for MonitorError {}

impl<const N: usize, const B: usize> Monitor<N, B> {
    /// Checks the descriptions and starts a run.
    ///
    /// # Errors
    /// [`MonitorError`] names the joint or key that is unsound. `arm` may be left out when a
    /// powered spindle is the source; then `N` is 0.
    // Made where it stays: a call of its own would leave copies of the whole on the stack.
    #[inline(always)]
    pub fn try_new(job: &BoltJob, arm: Option<&ArmDescription>) -> Result<Self, MonitorError> {
        let arm = Self::check(job, arm)?;
        let prior_moment_nm = job.sensing.prior_moment_nm.unwrap_or_else(|| {
            job.goal
                .scale_nm()
                .map_or(PRIOR_LEAST_NM, |t| (PRIOR_TARGETS * t).max(PRIOR_LEAST_NM))
        });
        let observable_u_nm = OBSERVABLE_PART
            * job
                .goal
                .scale_nm()
                .unwrap_or(prior_moment_nm / PRIOR_TARGETS);
        let expected = job.expected_run();
        Ok(Self {
            expected,
            gather: Gather::default(),
            stale_after_s: 0.0,
            walk: Walk::NONE,
            source: Source::new(job, arm, prior_moment_nm, observable_u_nm),
            joiner: StrokeJoiner::new(&JoinConfig {
                windup_nm_per_rad: job.tool.windup_nm_per_rad,
                tooth_rad: job.tool.ratchet_tooth_rad,
                play_rad: job.tool.socket_play_rad,
                seat_rad: job.tool.seat_rad,
                reseats: job.mode == Mode::WristStrokes,
                gives_way: job.goal.direction() == Direction::Undo,
            }),
            steps: StepBuilder::default(),
            recent: Recent::default(),
            curve: BinnedCurve::new(0.0),
            trail: Trail::default(),
            snug: SnugWatch::default(),
            unasked: None,
            phase: PhaseTracker::new(job.goal.direction()),
            detectors: Detectors::new(job, &expected, observable_u_nm),
            clock: Clock::default(),
            standoff: Standoff::default(),
            tightening: match job.goal.direction() {
                Direction::Tighten => 1.0,
                Direction::Undo => -1.0,
            },
            landmarks: Landmarks::new(&job.goal),
            silent_since_us: None,
            last: Update::NOTHING,
            job: job.clone(),
        })
    }

    /// Checks the descriptions without starting a run; gives the arm's model, if there is an arm.
    ///
    /// # Errors
    /// As [`Monitor::try_new`].
    pub fn check(
        job: &BoltJob,
        arm: Option<&ArmDescription>,
    ) -> Result<Option<ArmModel<N>>, MonitorError> {
        (Part::Arm.needed(arm.is_some()))
            .and_then(|()| Part::Undoing.needed(job.goal.direction() == Direction::Undo))
            .map_err(MonitorError::LeftOut)?;
        job.check().map_err(MonitorError::Job)?;
        job.check_fastener().map_err(MonitorError::Fastener)?;
        // An arm was refused above where it is left out: said once more, the compiler knows it, too.
        let arm = arm
            .filter(|_| Part::Arm.is_built_in())
            .map(ArmModel::<N>::try_new)
            .transpose()
            .map_err(MonitorError::Arm)?;
        if arm.is_none() && job.mode == Mode::WristStrokes {
            return Err(MonitorError::NoArm);
        }
        Ok(arm)
    }
}
