//! Drives the street, one block of samples at a time: the only door most users need. What happens with a
//! sample, and when, is in `walk.rs`.

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
mod walk;

pub use begin::MonitorError;
pub use update::Update;
pub use walk::Stage;

use crate::curve::{BinnedCurve, StepBuilder, Trail};
use crate::detect::{Finding, SamplesStale, SnugWatch};
use crate::fastener::ExpectedRun;
use crate::gather::Gather;
use crate::phase::PhaseTracker;
use crate::procedure::{BoltJob, Figure};
use crate::sample::JointSample;
use crate::turn::StrokeJoiner;

use clock::Clock;
use detectors::{Detectors, Group};
use landmarks::Landmarks;
use recent::Recent;
use source::Source;
use standoff::Standoff;
use walk::Walk;

/// The monitor of one bolt: `N` joints (0: a spindle alone), a curve of `B` bins.
///
/// Takes every sample, never fails, never panics, allocates nothing; the state is as large as the
/// type. After the run ask for [`Monitor::summary`].
#[derive(Clone, Debug)]
pub struct Monitor<const N: usize, const B: usize = 512> {
    job: BoltJob,
    expected: ExpectedRun,
    gather: Gather<N>,
    /// Time without a sample after which samples were stale when the gathered block began, s.
    stale_after_s: f32,
    walk: Walk,
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
    /// Up to 1.5 kHz the update is of this sample. Faster ones are gathered into blocks of about a
    /// millisecond, each of which walks the street in [stages](Stage) while the next gathers; the update is of the
    /// newest block that has come to its end, up to 2 ms back, and what was found in it is told once, in the update of
    /// the sample that ended it.
    ///
    /// Bounded: the pose takes a loop over the joints, the wrench the moment by standing weights. New weights,
    /// the arm's inertia and the moment across take turns, a part with each block; one that joins a
    /// stroke passes twice over 48 bins; one that closes an angle step (never the same) takes at most 15
    /// sums of the window, 2 steps of the trail and, as long as the bolt turns steadily, 2 pairs of the curve;
    /// the usable ones after it show that step to those who judge it, a group with each. So a finding about a
    /// step comes one to four blocks after it, one that stops within three. Only where the bolt turns so
    /// fast that the next step is closed before, that block shows the step before to all who are left.
    pub fn update(&mut self, sample: &JointSample<N>) -> Update {
        self.last.snug_seen = false;
        self.last.finding = None;
        self.last.curve_point = false;
        let stale_after_s = self.clock.stale_after_s();
        if !self.clock.tick(sample) {
            return self.refuse(sample.time_us);
        }
        let ends_early = !self.gather.takes(sample);
        if ends_early {
            self.set_off(None);
        }
        let ends = self.take_in(sample, stale_after_s);
        self.walk_on(ends_early || ends);
        self.last
    }

    /// An unusable sample tells nothing, and once they are all that comes it says so, and stops.
    fn refuse(&mut self, time_us: u64) -> Update {
        self.last.turning = false;
        self.last.torque_observable = false;
        self.last.finding = self.silence(time_us);
        Update {
            permitted: self.last.permitted && !self.clock.end_is_unseen(),
            ..self.last
        }
    }

    /// What there is to say when no sample has come by `now_us`, in the samples' own time: once per
    /// silence, that samples are stale. For a caller whose samples may stop coming; a silence that
    /// ends is found by [`Monitor::update`] as well, and so are samples that come but cannot be used.
    pub fn silence(&mut self, now_us: u64) -> Option<Finding> {
        let silent_s = self.clock.silent_s(now_us)?;
        let detection = SamplesStale::in_gap(silent_s, self.clock.stale_after_s())?;
        let since_us = self.clock.last_us();
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
