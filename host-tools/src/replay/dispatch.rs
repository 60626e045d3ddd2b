//! From a recording whose number of joints is known only now to the monitor made for it.

use bolting_monitor::monitor::{Monitor, MonitorError};
use bolting_monitor::procedure::Mode;

use super::free::{Swing, swing};
use super::outcome::{Outcome, run};
use crate::description::Description;
use crate::samples::Recording;
use crate::words::K;

/// How far beyond its limit in the URDF a joint may stand, rad: a quarter of a turn. No offset of a
/// calibration is that large, and degrees taken for radians soon are.
const FAR_RAD: f64 = std::f64::consts::FRAC_PI_2;

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
    /// A joint stands where it cannot.
    #[error(
        "joint {joint}, counted from the base, stands at {position_rad:.2} rad, the URDF allows {lower:.2} to {upper:.2}: are q{joint} and its neighbours in degrees, or is the URDF of another arm?"
    )]
    Position {
        /// The joint, from 1.
        joint: usize,
        /// Its position, rad.
        position_rad: f32,
        /// Least position, rad.
        lower: f64,
        /// Greatest position, rad.
        upper: f64,
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
    /// The tare is of no free motion.
    #[error(
        "the recording of free motion is none: the torque at the socket moves by {swing_nm:.1} N·m in it, known to ±{u_nm:.1} N·m, and in free air there is none; give --tare a recording in which the tool touches nothing and the arm moves slowly"
    )]
    NotFree {
        /// From the least to the greatest torque, N·m.
        swing_nm: f32,
        /// Its expanded uncertainty (k = 2), N·m.
        u_nm: f32,
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
    within_limits(description, recording)?;
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

/// Positions that the joint cannot have: most likely they are not in radians.
fn within_limits(description: &Description, recording: &Recording) -> Result<(), ReplayError> {
    let beyond = recording.positions_rad().find_map(|(joint, position_rad)| {
        let [lower, upper] = description.limits_rad.get(joint).copied().flatten()?;
        let far = [lower - FAR_RAD, upper + FAR_RAD];
        let fits = (far[0]..=far[1]).contains(&f64::from(position_rad));
        (!fits).then_some(ReplayError::Position {
            joint: joint + 1,
            position_rad,
            lower,
            upper,
        })
    });
    beyond.map_or(Ok(()), Err)
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
    let taring = tare.map(|tare| tared::<N>(description, tare)).transpose()?;
    run(description, taring.as_deref(), samples).map_err(ReplayError::Monitor)
}

/// A monitor that took its zero from a recording of free motion, all of it.
fn tared<const N: usize>(
    description: &Description,
    tare: &Recording,
) -> Result<Box<Monitor<N>>, ReplayError> {
    let wrong_arm = ReplayError::Tare {
        tare: tare.joints,
        run: N,
    };
    let (Some(free), Some(again)) = (tare.samples::<N>(), tare.samples::<N>()) else {
        return Err(wrong_arm);
    };
    let arm = description.arm.as_ref().filter(|_| N > 0);
    let mut job = description.job.clone();
    job.tare.duration_s = f32::MAX;
    let made = Monitor::<N>::try_new(&job, arm).map_err(ReplayError::Monitor)?;
    let mut taring = Box::new(made);
    free.for_each(|sample| {
        taring.update(&sample);
    });
    match swing(&description.job, arm, again).map_err(ReplayError::Monitor)? {
        None => Ok(taring),
        Some(Swing { swing_nm, u_nm }) => Err(ReplayError::NotFree {
            swing_nm,
            u_nm: K * u_nm,
        }),
    }
}
