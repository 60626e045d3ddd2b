//! Undoing: one file per phenomenon, all of them reading one story of the run, [`Grips`].

mod breakaway;
mod drive_stripped;
mod fracture;
mod galling;
mod grips;
mod outward;
mod peak;
mod seized;
mod thread_free;
mod turning_together;

#[cfg(test)]
mod broken_tests;
#[cfg(test)]
mod drive_tests;
#[cfg(test)]
mod tests;

use crate::fastener::ExpectedRun;
use crate::math::TAU;

use super::{Detection, Detector, FindingKind, SampleView, StepView};

use breakaway::Breakaway;
use drive_stripped::DriveStripped;
use fracture::UndoFracture;
use galling::RunOutGalling;
use grips::Grips;
use outward::{Advance, Outward};
use seized::Seized;
use thread_free::ThreadFree;
use turning_together::TurningTogether;

/// Seat of the drive with the fewest, rad (a cross recess: 90°), ...
const QUARTER_RAD: f32 = TAU / 4.0;
/// ... and of a hexagon or hexalobular, rad (60°).
const SEAT_RAD: f32 = TAU / 6.0;
/// Torque that has not been felt stays below this many standard uncertainties.
const FELT_SIGMA: f32 = 4.0;

/// What the detectors of undoing look at.
#[derive(Clone, Copy, Debug)]
struct Undone<'a> {
    grips: &'a Grips,
    expected: &'a ExpectedRun,
    known: &'a UndoExpected,
    advance: Advance,
    /// Whether an arm tells it, if not yet.
    seen_by_arm: bool,
    /// Ratio of advance to pitch over the last turn, where the bolt stood.
    stood_for_a_turn: Option<f32>,
    /// Whether the bolt has broken loose.
    loose: bool,
    /// Whether it has been seen coming out.
    came_out: bool,
    /// Whether a torque was felt after it fell from its highest: a thread is there.
    drags_on: bool,
}

/// What is known of a bolt that is to be undone.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct UndoExpected {
    /// Torque at which it was tightened, by the record, N·m.
    pub recorded_nm: Option<f32>,
    /// Highest torque at which it may break loose, where a window is stated, N·m.
    pub breakaway_max_nm: Option<f32>,
    /// Bolt angle from the start of the run until the last thread has left, rad.
    pub free_rad: Option<f32>,
    /// Least angle over which its torque may have been built up from snug, rad.
    pub quickest_rad: Option<f32>,
    /// Least torque that the thread takes on its way out (locking feature), N·m; 0 where none is stated.
    pub least_drag_nm: f32,
}

/// All detectors of undoing.
#[derive(Clone, Copy, Debug)]
pub struct Undoing {
    known: UndoExpected,
    grips: Grips,
    outward: Outward,
    loose: bool,
    came_out: bool,
    drags_on: bool,
    run_out_in_doubt: bool,
    failed: Option<FindingKind>,
    drive_stripped: DriveStripped,
    fracture: UndoFracture,
    turning_together: TurningTogether,
    galling: RunOutGalling,
    breakaway: Breakaway,
    thread_free: ThreadFree,
    seized: Seized,
}

impl Undoing {
    /// From what is known of the bolt.
    pub fn new(known: &UndoExpected) -> Self {
        Self {
            known: *known,
            grips: Grips::default(),
            outward: Outward::default(),
            loose: false,
            came_out: false,
            drags_on: false,
            run_out_in_doubt: false,
            failed: None,
            drive_stripped: DriveStripped::default(),
            fracture: UndoFracture::default(),
            turning_together: TurningTogether::default(),
            galling: RunOutGalling::default(),
            breakaway: Breakaway::default(),
            thread_free: ThreadFree::default(),
            seized: Seized::new(known.recorded_nm, known.breakaway_max_nm),
        }
    }

    /// Whether the bolt drags on at more than its thread may take, and was not seen to come out: it may
    /// turn with its nut, too little or too briefly for a finding.
    pub fn run_out_in_doubt(&self) -> bool {
        self.run_out_in_doubt
    }
}

impl Detector for Undoing {
    fn on_step(&mut self, view: &StepView<'_>) -> Option<Detection> {
        self.seized.moved();
        self.grips.add(view.step, view.angle_u_rad);
        let pitch_m = view.expected.pitch_m;
        self.outward.add(view.step, pitch_m);
        self.loose |= self.grips.quiet();
        let advance = self.outward.since_start(pitch_m);
        self.came_out |= advance == Advance::BacksOut;
        let drags = self.grips.torque_nm > FELT_SIGMA * self.grips.torque_u_nm;
        self.drags_on = (self.grips.peak.fall())
            .is_some_and(|fall| self.drags_on || drags && fall.since_rad >= SEAT_RAD);
        // As it is seen now: a hand that wandered early is outweighed by the way since.
        self.run_out_in_doubt =
            advance != Advance::BacksOut && turning_together::may_turn(&self.grips, view.expected);
        let run = Undone {
            grips: &self.grips,
            expected: view.expected,
            known: &self.known,
            advance,
            seen_by_arm: self.outward.is_seen(),
            stood_for_a_turn: self.outward.stood_for_a_turn(),
            loose: self.loose,
            came_out: self.came_out,
            drags_on: self.drags_on,
        };
        // What stops goes first; what must wait finds its condition again with the next step. One
        // bolt has one of the first three.
        if self.failed.is_none() {
            let failed = (self.drive_stripped.look(&run))
                .or_else(|| self.fracture.look(&run))
                .or_else(|| self.turning_together.look(&run));
            self.failed = failed.map(|found| found.kind);
            if failed.is_some() {
                return failed;
            }
        }
        // A tool that slipped may still loosen the bolt.
        if matches!(self.failed, None | Some(FindingKind::DriveStripped)) {
            (self.galling.look(&run))
                .or_else(|| self.breakaway.look(&run))
                .or_else(|| self.thread_free.look(&run))
        } else {
            None
        }
    }

    fn on_sample(&mut self, view: &SampleView<'_>) -> Option<Detection> {
        self.seized.look(view)
    }
}
