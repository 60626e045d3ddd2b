//! One file per phenomenon, behind one small interface. Knows nothing of input and output.
//!
//! A [`Detector`] looks at each angle step (and, where time matters, at each sample) and says at
//! most once what it found. A step is looked at one to four samples after it was closed, what may stop within three, by a group of
//! detectors at a time, always before the next step. All angles and torques are in the driving direction: when a bolt is
//! undone, loosening is positive here.
//!
//! Bounded: a detector asks for a line or a mean of the window a constant number of times, each of at
//! most 15 sums, and for each joint once.
//!
//! Findings are an operator's aid, not a safety function: they do not replace a calibrated
//! verification, and local codes and licensed practice decide.

#[cfg(test)]
mod bench;
mod clamp;
mod disagree;
mod drift;
mod finding;
mod frozen;
mod observable;
mod over_angle;
mod over_torque;
mod relaxation;
mod rundown;
mod saturated;
mod side_load;
mod snug;
mod stale;
mod stick_slip;
mod tool_lifting;
mod under_torque;
mod undo;

pub use clamp::GivingWay;
pub use disagree::JointsDisagree;
pub use drift::SensorDrift;
pub use finding::{Cause, Finding, FindingKind, Place, Quantity};
pub use frozen::SensorFrozen;
pub use observable::TorqueNotObservable;
pub use over_angle::OverAngle;
pub use over_torque::OverTorque;
pub use relaxation::Relaxation;
pub use rundown::Rundown;
pub use saturated::SensorSaturated;
pub use side_load::SideLoad;
pub use snug::{SnugChange, SnugWatch};
pub use stale::SamplesStale;
pub use stick_slip::{StickSlip, Swing};
pub use tool_lifting::ToolLifting;
pub use under_torque::under_torque;
pub use undo::{UndoExpected, Undoing};

use crate::curve::{AngleStep, Level, Line, Window};
use crate::fastener::ExpectedRun;
use crate::math::Vec3;
use crate::wrench::{AxialTorque, JointSight, SideMoment};

/// What a detector may look at when an angle step is complete.
#[derive(Clone, Copy, Debug)]
pub struct StepView<'a> {
    /// The step just completed.
    pub step: &'a AngleStep,
    /// The last steps, the new one included.
    pub window: &'a Window,
    /// Line through the last [`LOCAL_STEPS`] steps: the local slope.
    pub local: Option<&'a Line>,
    /// What the description lets us expect.
    pub expected: &'a ExpectedRun,
    /// Level and scatter of the rundown, held from the snug event on.
    pub level: &'a Level,
    /// Whether the snug event has been seen and stands.
    pub snug: bool,
    /// Axial advance per turn as a part of the pitch, with its standard uncertainty.
    pub advance_ratio: Option<(f32, f32)>,
    /// Standard uncertainty of the bolt angle, rad.
    pub angle_u_rad: f32,
}

/// Steps in the local slope (4°).
pub const LOCAL_STEPS: usize = 8;

/// What a burr, paint or a chip bears before it gives way, as a part of the target (common practice,
/// no source).
const CLEARS_PART: f32 = 0.35;

/// A wrong locking feature takes up to so many times what the stated one may (common practice, no
/// source; ISO 2320 gives nuts of classes 10 and 12 more than the others).
const WRONG_FEATURE: f32 = 2.0;

/// What a joint that stands may lose of its clamp force and be sound, as a part: 5 to 10 % in minutes
/// are usual, a gasket takes 40 % and more (common practice, no source).
const EMBEDS_PART: f32 = 0.15;

/// What a detector may look at with every sample.
#[derive(Clone, Copy, Debug)]
pub struct SampleView<'a> {
    /// Time since the sample before, s.
    pub dt_s: f32,
    /// Torque estimate of this sample.
    pub torque: &'a AxialTorque,
    /// What the description lets us expect.
    pub expected: &'a ExpectedRun,
    /// Whether the bolt turned at this sample.
    pub turning: bool,
    /// Bolt angle since the start of the run, rad, driving direction.
    pub bolt_rad: f32,
    /// Angle of the tool about the bolt, rad.
    pub tool_rad: f32,
    /// Whether nothing can turn the bolt: the arm is locked, or the tool let go.
    pub paused: bool,
    /// The joints, base first; empty without an arm.
    pub joints: &'a [JointSight],
    /// Whether the tool is free of the bolt: it travels as only such a tool does, or stands clear of
    /// the head.
    pub free_motion: bool,
    /// Moment across the bolt axis at the socket; `None` without an arm or a tool in its gripper.
    pub side: Option<&'a SideMoment>,
    /// Axis of the tool in the tip frame, from the arm towards the bolt; any length but 0.
    pub tool_axis: &'a Vec3,
    /// Time without a sample after which samples are stale, s.
    pub stale_after_s: f32,
}

/// A limit that was crossed; the monitor adds the rest of the evidence.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Detection {
    /// What it is.
    pub kind: FindingKind,
    /// The quantity that decided.
    pub quantity: Quantity,
    /// Its value.
    pub value: f32,
    /// The limit it crossed, same unit.
    pub limit: f32,
    /// Where on the arm it points, if anywhere.
    pub place: Option<Place>,
    /// What most likely stands behind it.
    pub likely: Option<Cause>,
    /// What else the evidence would fit.
    pub runner_up: Option<Cause>,
}

/// One phenomenon. Says at most once per run what it found.
pub trait Detector {
    /// Looks at a completed angle step.
    fn on_step(&mut self, view: &StepView<'_>) -> Option<Detection> {
        let _ = view;
        None
    }

    /// Looks at a sample.
    fn on_sample(&mut self, view: &SampleView<'_>) -> Option<Detection> {
        let _ = view;
        None
    }
}
