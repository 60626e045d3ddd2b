//! Undoing: one file per phenomenon, all of them reading one story of the run, [`Grips`].

mod breakaway;
mod drive_stripped;
mod fracture;
mod galling;
mod grips;
mod seized;
mod thread_free;
mod turning_together;

#[cfg(test)]
mod tests;

use crate::fastener::ExpectedRun;
use crate::math::TAU;

use super::{Detection, Detector, SampleView, StepView};

use breakaway::Breakaway;
use drive_stripped::DriveStripped;
use fracture::UndoFracture;
use galling::RunOutGalling;
use grips::Grips;
use seized::Seized;
use thread_free::ThreadFree;
use turning_together::TurningTogether;

/// Seat of the drive with the fewest, rad (a cross recess: 90°), ...
const QUARTER_RAD: f32 = TAU / 4.0;
/// ... and of a hexagon or hexalobular, rad (60°).
const SEAT_RAD: f32 = TAU / 6.0;
/// Axial advance per turn, as a part of the pitch, that parts a bolt that comes out (1) from one that
/// does not (0).
const COMES_OUT_RATIO: f32 = 0.5;

/// What the arm tells of the bolt's way out of the thread, two standard uncertainties sure.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Advance {
    Unknown,
    BacksOut,
    Stands,
}

/// What the detectors of undoing look at.
#[derive(Clone, Copy, Debug)]
struct Undone<'a> {
    grips: &'a Grips,
    expected: &'a ExpectedRun,
    known: &'a UndoExpected,
    advance: Advance,
    advance_ratio: Option<(f32, f32)>,
    /// Whether the bolt has broken loose.
    loose: bool,
    /// Whether it has been seen coming out.
    came_out: bool,
}

/// What is known of a bolt that is to be undone.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct UndoExpected {
    /// Torque at which it was tightened, by the record, N·m.
    pub recorded_nm: Option<f32>,
    /// Bolt angle from the start of the run until the last thread has left, rad.
    pub run_out_rad: Option<f32>,
    /// Least torque that the thread takes on its way out (locking feature), N·m; 0 where none is stated.
    pub least_drag_nm: f32,
}

/// All detectors of undoing.
#[derive(Clone, Copy, Debug)]
pub struct Undoing {
    known: UndoExpected,
    grips: Grips,
    loose: bool,
    came_out: bool,
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
            loose: false,
            came_out: false,
            drive_stripped: DriveStripped::default(),
            fracture: UndoFracture::default(),
            turning_together: TurningTogether::default(),
            galling: RunOutGalling::default(),
            breakaway: Breakaway::default(),
            thread_free: ThreadFree::default(),
            seized: Seized::new(known.recorded_nm),
        }
    }
}

impl Detector for Undoing {
    fn on_step(&mut self, view: &StepView<'_>) -> Option<Detection> {
        self.seized.moved();
        if !self.grips.add(view.step) {
            return None;
        }
        self.loose |= self.grips.quiet();
        let advance = match view.advance_ratio {
            Some((ratio, u)) if ratio - 2.0 * u > COMES_OUT_RATIO => Advance::BacksOut,
            Some((ratio, u)) if ratio + 2.0 * u < COMES_OUT_RATIO => Advance::Stands,
            _ => Advance::Unknown,
        };
        self.came_out |= advance == Advance::BacksOut;
        let run = Undone {
            grips: &self.grips,
            expected: view.expected,
            known: &self.known,
            advance,
            advance_ratio: view.advance_ratio,
            loose: self.loose,
            came_out: self.came_out,
        };
        // What stops goes first; what must wait finds its condition again with the next mean.
        self.drive_stripped
            .look(&run)
            .or_else(|| self.fracture.look(&run))
            .or_else(|| self.turning_together.look(&run))
            .or_else(|| self.galling.look(&run))
            .or_else(|| self.breakaway.look(&run))
            .or_else(|| self.thread_free.look(&run))
    }

    fn on_sample(&mut self, view: &SampleView<'_>) -> Option<Detection> {
        self.seized.look(view)
    }
}
