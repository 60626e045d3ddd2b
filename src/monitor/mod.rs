//! Drives the street, one sample at a time: the only door most users need.

mod begin;
mod clock;
mod detectors;
mod ending;
mod judging;
mod landmarks;
mod recent;
mod source;
mod standoff;
mod turns;
mod update;

pub use begin::MonitorError;
pub use update::Update;

use crate::curve::{BinnedCurve, StepBuilder, Trail};
use crate::detect::{Finding, SampleView, SamplesStale, SnugWatch};
use crate::fastener::ExpectedRun;
use crate::phase::{PhaseTracker, PhaseView};
use crate::procedure::{BoltJob, Direction, Figure};
use crate::sample::JointSample;
use crate::turn::{Effort, Pause, StrokeJoiner};
use crate::wrench::AxialTorque;

use clock::Clock;
use detectors::{Detectors, Group};
use judging::Judged;
use landmarks::Landmarks;
use recent::Recent;
use source::Source;
use standoff::Standoff;
use turns::Load;

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
    recent: Recent,
    curve: BinnedCurve<B>,
    trail: Trail,
    snug: SnugWatch,
    /// Who is to be asked next about the newest step; `None` once all were.
    unasked: Option<Group>,
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

impl<const N: usize, const B: usize> Monitor<N, B> {
    /// Takes over the tare of a monitor that was fed a recording of free motion; this run then
    /// makes none of its own.
    pub fn adopt_tare(&mut self, free_motion: &Self) {
        self.source.adopt_tare(&free_motion.source);
    }

    /// Takes in one sample. One that is not usable or runs backwards in time is counted and
    /// otherwise ignored.
    ///
    /// Bounded: the pose takes a loop over the joints, the wrench the moment by standing weights. The rest
    /// falls on different samples: new weights, the arm's inertia and the moment across take turns, a part
    /// with each; one that joins a stroke passes twice over 48 bins; one that closes an angle
    /// step (never the same) takes at most 15 sums of the window, 2 steps of the trail and, as long as
    /// the bolt turns steadily, 2 pairs of the curve; the usable ones after it show that step to those
    /// who judge it, a group with each. So a finding about a step comes one to four samples after it, one
    /// that stops within three. Only where the bolt turns so fast that the next step is closed before, that sample shows the
    /// step before to all who are left.
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
        let load = match self.unasked {
            Some(group) => group.load(),
            None if self.steps.is_nearly_full() => Load::Some,
            None => Load::None,
        };
        let reading = self.source.read(sample, since_start_s, dt_s, load);
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
                .follow(dt_s, torque, angle, self.recent.local.as_ref());
        }
        // A step is judged from the sample after the one that closes it on, so that no sample bears both.
        let mut judged = Judged::default();
        self.judge_next(&mut judged);
        let level_nm = self.recent.level.mean_nm();
        let step = self
            .steps
            .add(sample.time_us, &motion, &torque, reading.advance_m);
        if let Some(step) = step {
            self.last.curve_point = true;
            self.keep(step, &mut judged);
            self.unasked = (!reading.settling).then(|| self.detectors.first());
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
                tool_axis: &self.job.tool.axis,
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
            step_nm: judged.step_nm,
            level_nm,
            ceiling_nm: self.expected.ceiling_nm,
            snug: judged.snug,
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

    /// The torque–angle curve of the run, in the driving direction.
    pub fn curve(&self) -> &BinnedCurve<B> {
        &self.curve
    }

    /// What the description lets us expect.
    pub fn expected(&self) -> &ExpectedRun {
        &self.expected
    }
}
