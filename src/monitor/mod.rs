//! Drives the street, one sample at a time: the only door most users need.

mod clock;
mod detectors;
mod landmarks;
mod source;
mod standoff;

use crate::arm::{ArmDescription, ArmError, ArmModel};
use crate::curve::{AngleStep, BinnedCurve, Level, StepBuilder, Trail, Window, knee};
use crate::detect::{
    Detection, Finding, FindingKind, LOCAL_STEPS, SampleView, SamplesStale, SnugChange, SnugWatch,
    StepView, under_torque,
};
use crate::fastener::{ExpectedRun, Fault};
use crate::phase::{Phase, PhaseTracker, PhaseView};
use crate::procedure::{BoltJob, Direction, Figure, JobError, Mode, RunSummary, Seen, Snug, judge};
use crate::sample::JointSample;
use crate::turn::{AdvanceTracker, Effort, JoinConfig, Pause, StrokeJoiner};
use crate::wrench::{AxialTorque, SideMoment};

use clock::Clock;
use detectors::Detectors;
use landmarks::Landmarks;
use source::Source;
use standoff::Standoff;

/// Steps of the line that gives the final torque (1.5°), beside the unfinished one.
const FINAL_STEPS: usize = 3;
/// Travel of the tool with unknown torque after which the last torque no longer stands (5°).
const UNSEEN_RAD: f32 = 0.087;
/// Prior of the moment as a multiple of the target, and at least, N·m.
const PRIOR_TARGETS: f32 = 3.0;
const PRIOR_LEAST_NM: f32 = 30.0;
/// Standard uncertainty, as a part of the target, above which a torque is not shown.
const OBSERVABLE_PART: f32 = 0.2;

/// What one sample changed.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Update {
    /// Time of the sample, µs.
    pub time_us: u64,
    /// Bolt torque, N·m, tightening positive.
    pub torque_nm: f32,
    /// Standard uncertainty of that torque, N·m.
    pub torque_u_nm: f32,
    /// Whether the torque can be told in this pose; where `false`, it must not be shown as a value.
    pub torque_observable: bool,
    /// Bolt angle since the start of the run, rad, tightening positive.
    pub angle_rad: f32,
    /// Standard uncertainty of that angle, rad.
    pub angle_u_rad: f32,
    /// Whether the bolt was turning at this sample.
    pub turning: bool,
    /// Where the work stands.
    pub phase: Phase,
    /// Moment across the bolt axis at the socket, taken anew with every eighth sample; `None` without
    /// an arm or a tool in its gripper.
    pub side_moment: Option<SideMoment>,
    /// Set at the sample at which the snug event was seen. Seen anew after it was withdrawn.
    pub snug_seen: bool,
    /// A finding made at this sample.
    pub finding: Option<Finding>,
    /// Whether turning is permitted: `false` from the first stopping finding on.
    pub permitted: bool,
    /// Set when an angle step of the curve was closed at this sample: a point worth sending.
    pub curve_point: bool,
}

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
}

impl core::fmt::Display for MonitorError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Arm(e) => e.fmt(f),
            Self::Job(e) => e.fmt(f),
            Self::Fastener(e) => e.fmt(f),
            Self::NoArm => f.write_str(
                "the bolt is turned by wrist strokes, but no arm is described: add the arm, or use mode powered_spindle",
            ),
        }
    }
}

impl core::error::Error for MonitorError {}

/// The monitor of one bolt: `N` joints (0: a spindle alone), a curve of `B` bins.
///
/// Takes every sample, never fails, never panics, allocates nothing; the state is as large as the
/// type. After the run ask for [`Monitor::summary`].
#[derive(Clone, Debug)]
pub struct Monitor<const N: usize, const B: usize = 512> {
    job: BoltJob,
    expected: ExpectedRun,
    source: Source<N>,
    joiner: StrokeJoiner,
    steps: StepBuilder,
    window: Window,
    level: Level,
    curve: BinnedCurve<B>,
    trail: Trail,
    advance: AdvanceTracker,
    snug: SnugWatch,
    /// Whether the newest step is still to be judged.
    unjudged: bool,
    phase: PhaseTracker,
    detectors: Detectors,
    clock: Clock,
    standoff: Standoff,
    /// +1 when done up, −1 when undone: from the driving direction to tightening positive.
    tightening: f32,
    landmarks: Landmarks,
    /// Time of the last sample before a silence that was said, µs.
    silent_since_us: Option<u64>,
    last: Update,
}

/// What the judges of a step said, beside detections.
#[derive(Clone, Copy, Debug, Default)]
struct Judged {
    /// Mean torque of the step with its standard uncertainty, N·m, where observable.
    step_nm: Option<(f32, f32)>,
    snug: Option<SnugChange>,
}

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
            window: Window::default(),
            level: Level::default(),
            curve: BinnedCurve::new(0.0),
            trail: Trail::default(),
            advance: AdvanceTracker::default(),
            snug: SnugWatch::default(),
            unjudged: false,
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
            last: Update {
                time_us: 0,
                torque_nm: 0.0,
                torque_u_nm: 0.0,
                torque_observable: false,
                angle_rad: 0.0,
                angle_u_rad: 0.0,
                turning: false,
                phase: Phase::default(),
                side_moment: None,
                snug_seen: false,
                finding: None,
                permitted: true,
                curve_point: false,
            },
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
        job.check().map_err(MonitorError::Job)?;
        job.check_fastener().map_err(MonitorError::Fastener)?;
        let arm = arm
            .map(ArmModel::<N>::try_new)
            .transpose()
            .map_err(MonitorError::Arm)?;
        if arm.is_none() && job.mode == Mode::WristStrokes {
            return Err(MonitorError::NoArm);
        }
        Ok(arm)
    }

    /// Takes over the tare of a monitor that was fed a recording of free motion; this run then
    /// makes none of its own.
    pub fn adopt_tare(&mut self, free_motion: &Self) {
        self.source.adopt_tare(&free_motion.source);
    }

    /// Takes in one sample. One that is not finite or runs backwards in time is counted and
    /// otherwise ignored.
    ///
    /// Bounded: the pose takes a loop over the joints, the wrench six reflections. The rest falls on
    /// different samples: one that joins a stroke passes twice over 48 bins; one that closes an angle
    /// step (never the same) takes at most 15 sums of the window, 8 steps of the trail and, as long as
    /// the bolt turns steadily, 2 pairs of the curve; the next usable one judges that step. So a finding
    /// about a step comes one sample after it.
    pub fn update(&mut self, sample: &JointSample<N>) -> Update {
        self.last.snug_seen = false;
        self.last.finding = None;
        self.last.curve_point = false;
        self.last.turning = false;
        let stale_after_s = self.clock.stale_after_s();
        let Some((since_start_s, dt_s)) = self.clock.tick(sample) else {
            return self.last;
        };
        self.last.time_us = sample.time_us;
        let reading = self.source.read(sample, since_start_s, dt_s);
        self.last.torque_nm = reading.torque.value_nm * self.tightening;
        self.last.torque_u_nm = reading.torque.u_nm();
        // Whatever the pose tells, it is not told of a tool that is not held or a load just changed.
        let told = !reading.settling && reading.pause != Some(Pause::Released);
        let torque = AxialTorque {
            observable: reading.torque.observable && told,
            ..reading.torque
        };
        self.last.torque_observable = torque.observable;
        self.last.side_moment = reading.side;
        let at_m = reading.advance_m.map(|m| m * self.tightening);
        if reading.taring {
            if let Some(at_m) = at_m {
                self.standoff.tare(at_m);
            }
            return self.last;
        }

        let motion = if let Some(why) = reading.pause {
            self.joiner.pause(reading.tool_rad, why)
        } else if reading.torque.observable {
            self.joiner.update(
                reading.tool_rad,
                &Effort {
                    torque_nm: reading.torque.value_nm,
                    noise_nm: reading.torque.noise_nm,
                    systematic_u_nm: reading.torque.systematic_u_nm,
                },
            )
        } else {
            self.joiner.hold(reading.tool_rad)
        };
        self.last.turning = motion.progress_rad > 0.0;
        self.last.angle_rad = motion.bolt_rad * self.tightening;
        self.last.angle_u_rad = self.joiner.angle_u_rad();

        if reading.torque.observable && !reading.settling {
            let torque = Figure {
                value: reading.torque.value_nm,
                u: self.last.torque_u_nm,
            };
            let angle = self.angle();
            self.landmarks
                .follow(dt_s, torque, angle, || self.window.line(LOCAL_STEPS));
        }
        // A step is judged with the sample after the one that closes it, so that no sample bears both.
        let judged = core::mem::take(&mut self.unjudged).then(|| self.judge_step());
        let level_nm = self.level.mean_nm();
        let step = self
            .steps
            .add(sample.time_us, &motion, &torque, reading.advance_m);
        if let Some(step) = step {
            self.last.curve_point = true;
            self.keep(step);
            self.unjudged = !reading.settling;
        }
        let out = match self.job.goal.direction() {
            Direction::Tighten => None,
            Direction::Undo => Some((motion.bolt_rad, self.expected.pitch_m)),
        };
        let free_motion = reading.free_motion
            || at_m.is_some_and(|m| self.standoff.is_clear(m, self.last.turning, out));
        if !reading.settling {
            self.detectors.on_sample(&SampleView {
                dt_s,
                torque: &reading.torque,
                expected: &self.expected,
                turning: self.last.turning,
                bolt_rad: motion.bolt_rad,
                tool_rad: reading.tool_rad,
                paused: reading.pause.is_some(),
                joints: self.source.joints(),
                free_motion,
                side: reading.side.as_ref(),
                stale_after_s,
            });
        }
        if let Some(detection) = self.detectors.next() {
            let finding = self.finding(&detection, sample.time_us);
            let onset_nm = self.detectors.yield_onset_nm();
            self.landmarks.note(&finding, self.angle(), onset_nm);
            self.last.finding = Some(finding);
            self.last.permitted = !self.landmarks.stopped;
        }
        self.last.phase = self.phase.update(&PhaseView {
            turning: self.last.turning,
            bolt_rad: motion.bolt_rad,
            torque_nm: torque
                .observable
                .then_some((torque.value_nm, torque.u_nm())),
            step_nm: judged.and_then(|j| j.step_nm),
            level_nm,
            ceiling_nm: self.expected.ceiling_nm,
            snug: judged.and_then(|j| j.snug),
            finding: self.last.finding.map(|f| f.kind),
        });
        self.last
    }

    /// What there is to say when no sample has come by `now_us`, in the samples' own time: once per
    /// silence, that samples are stale. For a caller whose samples may stop coming; a silence that
    /// ends is found by [`Monitor::update`] as well.
    pub fn silence(&mut self, now_us: u64) -> Option<Finding> {
        let silent_s = self.clock.silent_s(now_us)?;
        let detection = SamplesStale::in_gap(silent_s, self.clock.stale_after_s())?;
        let since_us = self.last.time_us;
        if self.silent_since_us.replace(since_us) == Some(since_us) {
            return None;
        }
        Some(self.finding(&detection, now_us))
    }

    /// What only the end of the run tells: that it ended at a step that stops it, or below its torque
    /// window. The latter not where a finding that stops says why, or the torque cannot be told. Ask
    /// once, when the run has ended.
    pub fn finish(&self) -> Option<Finding> {
        let detection = match self.due_stop() {
            Some(stop) => stop,
            None => self.falls_short()?,
        };
        Some(self.finding(&detection, self.last.time_us))
    }

    fn falls_short(&self) -> Option<Detection> {
        let told = self.window.newest().is_some_and(|s| s.observable)
            && self.joiner.unseen_rad() < UNSEEN_RAD
            && !self.landmarks.stopped;
        let (torque_nm, u) = self.final_torque();
        let end = Figure {
            value: torque_nm.filter(|_| told)?,
            u,
        };
        under_torque(end, &self.expected)
    }

    /// What is known of the run so far; final when the run has ended.
    pub fn summary(&self) -> RunSummary {
        let (torque_nm, torque_u_nm) = self.final_torque();
        let newest = self.window.newest();
        let snug = self.snug_point();
        let seen = Seen {
            final_torque_nm: torque_nm.map(|t| t * self.tightening),
            final_torque_u_nm: torque_u_nm,
            observable: newest.map_or(self.last.torque_observable, |s| s.observable)
                && self.joiner.unseen_rad() < UNSEEN_RAD,
            final_angle_rad: self.signed(self.angle()),
            snug,
            mark_rad: self.landmarks.mark_rad.map(|mark| self.signed(mark)),
            highest_nm: self.landmarks.highest_nm,
            yield_nm: self.landmarks.yield_nm,
            breakaway_nm: self.landmarks.breakaway_nm,
            free_rad: self.landmarks.free_rad,
            stopped: self.landmarks.stopped || self.due_stop().is_some(),
            adverse: self.landmarks.adverse,
            sensing_in_doubt: self.landmarks.sensing_in_doubt,
            joints_disagree: self.landmarks.joints_disagree,
            missing_part: self.clock.missing_part(),
        };
        let (verdict, reasons) = judge(&self.job, &seen);
        RunSummary {
            verdict,
            reasons,
            final_torque_nm: seen.final_torque_nm.unwrap_or(0.0),
            final_torque_u_nm: torque_u_nm,
            final_angle_rad: self.last.angle_rad,
            final_angle_u_rad: self.last.angle_u_rad,
            snug,
            samples: self.clock.samples,
            gaps: self.clock.gaps,
            unusable_samples: self.clock.unusable,
        }
    }

    /// Bolt angle in the driving direction, rad.
    fn angle(&self) -> Figure {
        Figure {
            value: self.last.angle_rad * self.tightening,
            u: self.last.angle_u_rad,
        }
    }

    /// From the driving direction to tightening positive.
    fn signed(&self, figure: Figure) -> Figure {
        Figure {
            value: figure.value * self.tightening,
            u: figure.u,
        }
    }

    /// Torque at the furthest bolt angle and its standard uncertainty, driving direction: the last
    /// stretch of the curve, the unfinished step included, as a line.
    fn final_torque(&self) -> (Option<f32>, f32) {
        let end_rad = self.last.angle_rad * self.tightening;
        let unfinished = self.steps.partial(self.last.time_us, end_rad);
        let unfinished = unfinished.as_ref();
        let line = self.window.line_up_to(FINAL_STEPS, unfinished);
        match (line, unfinished.or(self.window.newest())) {
            (Some(line), Some(step)) => {
                let (noise, systematic) = (line.at_u(end_rad), step.systematic_u_nm);
                let u = crate::math::sqrt(noise * noise + systematic * systematic);
                match self.detectors.swing() {
                    Some(swing) => (
                        Some(swing.low_nm),
                        crate::math::sqrt(u * u + swing.u_nm() * swing.u_nm()),
                    ),
                    None => (Some(line.at(end_rad)), u),
                }
            }
            (None, Some(step)) => (Some(step.torque_nm), step.torque_u_nm()),
            _ => (None, self.last.torque_u_nm),
        }
    }

    /// The snug point as far as the run tells it; `None` before the snug event and for a bolt
    /// that was stopped before its head seated.
    pub fn snug_point(&self) -> Option<Snug> {
        if self.landmarks.unseated {
            return None;
        }
        let trail = self.trail.curve(&self.window)?;
        let knee = knee(&trail, &self.curve, self.level.mean_nm())?;
        let joins = self.joiner.angle_u_rad();
        Some(Snug {
            angle_rad: knee.angle_rad * self.tightening,
            angle_u_rad: crate::math::sqrt(knee.angle_u_rad * knee.angle_u_rad + joins * joins),
            torque_nm: knee.torque_nm * self.tightening,
        })
    }

    /// The torque–angle curve of the run, in the driving direction.
    pub fn curve(&self) -> &BinnedCurve<B> {
        &self.curve
    }

    /// What the description lets us expect.
    pub fn expected(&self) -> &ExpectedRun {
        &self.expected
    }

    fn keep(&mut self, step: AngleStep) {
        self.window.push(step);
        self.curve.add(&step);
        if !self.snug.seen() {
            self.level.add(&self.window);
        }
        self.trail.follow(&self.window);
        if let Some(z) = step.advance_m {
            self.advance.add(step.angle_rad, z, step.width_rad);
        }
    }

    /// Shows the newest step to whoever judges steps.
    fn judge_step(&mut self) -> Judged {
        let local = self.window.line(LOCAL_STEPS);
        let mut judged = Judged::default();
        let Some(step) = self.window.newest() else {
            return judged;
        };
        judged.step_nm = step
            .observable
            .then(|| (step.torque_nm, step.torque_u_nm()));
        if self.seat_is_missing() {
            return judged;
        }
        let view = StepView {
            step,
            window: &self.window,
            local: local.as_ref(),
            expected: &self.expected,
            level: &self.level,
            snug: self.snug.seen(),
            advance_ratio: self.advance.ratio(self.expected.pitch_m),
            angle_u_rad: self.last.angle_u_rad,
        };
        if self.tightening > 0.0 {
            judged.snug = self.snug.on_step(&view);
        }
        match judged.snug {
            Some(SnugChange::Seen) => {
                self.last.snug_seen = true;
                self.trail.begin(&self.window);
            }
            Some(SnugChange::Withdrawn) => self.trail.withdraw(),
            None => {}
        }
        self.detectors.on_step(&view);
        judged
    }

    /// What stops the run at the last step, which no sample has followed yet.
    fn due_stop(&self) -> Option<Detection> {
        let step = self.window.newest().filter(|_| self.unjudged)?;
        if self.seat_is_missing() {
            return None;
        }
        let local = self.window.line(LOCAL_STEPS);
        let mut detectors = self.detectors.clone();
        detectors.on_step(&StepView {
            step,
            window: &self.window,
            local: local.as_ref(),
            expected: &self.expected,
            level: &self.level,
            snug: self.snug.seen(),
            advance_ratio: self.advance.ratio(self.expected.pitch_m),
            angle_u_rad: self.last.angle_u_rad,
        });
        detectors.next().filter(|d| d.kind.stops())
    }

    /// Without a seat there is no snug point, and the torque falls and rises as it pleases.
    fn seat_is_missing(&self) -> bool {
        self.landmarks.unseated && self.tightening > 0.0
    }

    fn finding(&self, detection: &Detection, time_us: u64) -> Finding {
        let line = self.window.line(LOCAL_STEPS);
        let (torque_nm, torque_u_nm) = match (detection.kind, self.window.newest()) {
            (
                FindingKind::CrossThread
                | FindingKind::EarlySnug
                | FindingKind::Galling
                | FindingKind::Strip,
                Some(step),
            ) => (
                self.window.mean_torque_nm(3) * self.tightening,
                step.torque_u_nm(),
            ),
            _ => (self.last.torque_nm, self.last.torque_u_nm),
        };
        Finding {
            kind: detection.kind,
            time_us,
            angle_rad: self.last.angle_rad,
            torque_nm,
            torque_u_nm,
            slope_nm_per_rad: line.map_or(0.0, |l| l.slope),
            slope_u_nm_per_rad: line.map_or(0.0, |l| l.slope_u),
            advance_ratio: self.advance.ratio(self.expected.pitch_m),
            quantity: detection.quantity,
            value: detection.value,
            limit: detection.limit,
            likely: detection.likely,
            runner_up: detection.runner_up,
        }
    }
}
