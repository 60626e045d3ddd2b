//! From a recording whose number of joints is known only now to the monitor made for it.

use bolting_monitor::monitor::MonitorError;
use bolting_monitor::procedure::Mode;

use super::outcome::{Outcome, run};
use crate::description::Description;
use crate::samples::Recording;

/// A run as it was replayed.
#[derive(Clone, Debug)]
pub struct Replayed {
    /// What the monitor said.
    pub outcome: Outcome,
    /// Sentences for the user on how the recording was taken.
    pub notices: Vec<String>,
}

/// Why a recording cannot be replayed.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ReplayError {
    /// Recording and description are of different arms.
    #[error(
        "the recording has {recorded} joints, the arm of the description {described}: give the description (or the URDF and its tip_link) of the arm that was recorded"
    )]
    Joints {
        /// Joints of the recording.
        recorded: usize,
        /// Joints of the description.
        described: usize,
    },
    /// Joints without a description of them, and no spindle either.
    #[error(
        "the recording has {recorded} joints and no spindle, the description no arm: add the table [arm] to it"
    )]
    NoArm {
        /// Joints of the recording.
        recorded: usize,
    },
    /// The tare is of another arm.
    #[error(
        "the recording of free motion has {tare} joints, the run {run}: record both with the same arm"
    )]
    Tare {
        /// Joints of the tare.
        tare: usize,
        /// Joints used of the run.
        run: usize,
    },
    /// The description does not make a monitor.
    #[error("{0}")]
    Monitor(MonitorError),
}

/// Replays a recording with the monitor for its number of joints. Without an arm in the recording
/// or in the description, the spindle alone is the source.
///
/// # Errors
/// See [`ReplayError`].
pub fn replay(
    description: &Description,
    tare: Option<&Recording>,
    recording: &Recording,
) -> Result<Replayed, ReplayError> {
    let recorded = recording.joints;
    let described = description.arm.as_ref().map(|arm| arm.joints.len());
    let outcome = match described {
        Some(joints) if joints == recorded && joints > 0 => {
            with_arm(joints, description, tare, recording)?
        }
        Some(described) if recorded > 0 => {
            return Err(ReplayError::Joints {
                recorded,
                described,
            });
        }
        _ if !recording.has_spindle() => return Err(ReplayError::NoArm { recorded }),
        _ => return spindle_alone(description, tare, recording),
    };
    let mut notices = Vec::new();
    if description.job.mode == Mode::PoweredSpindle && !recording.has_spindle() {
        notices.push(
            "the mode is \"powered_spindle\", the recording has no spindle: torque and angle are taken from the arm"
                .to_owned(),
        );
    }
    Ok(Replayed { outcome, notices })
}

fn spindle_alone(
    description: &Description,
    tare: Option<&Recording>,
    recording: &Recording,
) -> Result<Replayed, ReplayError> {
    let mut notices = Vec::new();
    let mut alone = description.clone();
    alone.arm = None;
    if alone.job.mode == Mode::WristStrokes {
        alone.job.mode = Mode::PoweredSpindle;
        notices.push(
            "the mode is \"wrist_strokes\", the recording a spindle alone: replayed as plain torque over angle"
                .to_owned(),
        );
    } else if recording.joints > 0 {
        notices.push(
            "the description has no arm: the joints are left out, the spindle alone is used"
                .to_owned(),
        );
    }
    if tare.is_some() {
        notices.push(
            "the recording of free motion is left out: it is for an arm, not for a spindle alone"
                .to_owned(),
        );
    }
    let outcome =
        run::<0>(&alone, None, recording.spindle_samples()).map_err(ReplayError::Monitor)?;
    Ok(Replayed { outcome, notices })
}

fn with_arm(
    joints: usize,
    description: &Description,
    tare: Option<&Recording>,
    recording: &Recording,
) -> Result<Outcome, ReplayError> {
    let arm = match joints {
        1 => arm_of::<1>,
        2 => arm_of::<2>,
        3 => arm_of::<3>,
        4 => arm_of::<4>,
        5 => arm_of::<5>,
        6 => arm_of::<6>,
        7 => arm_of::<7>,
        _ => arm_of::<8>,
    };
    arm(description, tare, recording)
}

fn arm_of<const N: usize>(
    description: &Description,
    tare: Option<&Recording>,
    recording: &Recording,
) -> Result<Outcome, ReplayError> {
    let samples = recording.samples::<N>().ok_or(ReplayError::Joints {
        recorded: recording.joints,
        described: N,
    })?;
    let free = tare.map(|tare| {
        tare.samples::<N>().ok_or(ReplayError::Tare {
            tare: tare.joints,
            run: N,
        })
    });
    match free.transpose()? {
        Some(mut free) => run(description, Some(&mut free), samples),
        None => run(description, None, samples),
    }
    .map_err(ReplayError::Monitor)
}
