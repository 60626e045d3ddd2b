//! From recordings of free motion to what a description states of the arm's joints: noise, friction,
//! drift of the zero, and how far the masses are off, each with its standard uncertainty.
//!
//! In free air the joint torques are
//!
//! `τ = g(q) + M(q) q̈ + Fc·sign(q̇) + Fv·q̇ + b + e`
//!
//! with gravity and inertia as the crate computes them. What those two leave is fitted by weighted least
//! squares, all joints at once: friction and zero of each joint, and the first moment of each link, since a
//! mass or centre that is off leaves torques at all joints before it. Only moving joints count: at rest
//! friction is undetermined.
//!
//! How far friction is from a straight line, and how far it comes back the same, shows between strokes:
//! from one to the next, half the difference of what is left is friction's, half the sum the zero's. The
//! fit's own uncertainty takes a stroke as one observation, for its samples are not independent
//! (cluster-robust, Liang and Zeger, *Biometrika* 73 (1986) 13–22; from memory).

mod explain;
mod fit;
mod pieces;
mod strokes;
mod toml;

use bolting_monitor::arm::{ArmDescription, MAX_JOINTS};

use crate::samples::Recording;

pub use toml::fragment;

/// What free motion says of one joint. Standard uncertainties.
#[derive(Clone, Debug, PartialEq)]
pub struct Joint {
    /// Its name.
    pub name: String,
    /// White noise of its torque at the sample rate, N·m; `None`: too few samples in a row.
    pub noise_nm: Option<f64>,
    /// Friction; `None`: it moved too little, [`Joint::why`] says how.
    pub friction: Option<Friction>,
    /// What is missing of its motion.
    pub why: Option<String>,
    /// Strokes in its upward and downward direction.
    pub strokes: [usize; 2],
    /// Start and end of a stroke, s, that is far from all others: something was touched, most likely.
    pub touched_s: Option<[f64; 2]>,
    /// Slow and fast speed of its motion, rad/s: a tenth of it is slower, a tenth faster.
    pub speed_rad_s: [f64; 2],
}

/// Friction of one joint and what its zero does meanwhile. The uncertainties are of the friction torque at the
/// speeds that were driven, where the two together are known better than either.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Friction {
    /// Coulomb friction, N·m.
    pub coulomb_nm: f64,
    /// Its uncertainty: of the fit, and from stroke to stroke.
    pub coulomb_u_nm: f64,
    /// Viscous friction, N·m·s/rad; 0 where one speed alone was driven.
    pub viscous_nm_s_per_rad: f64,
    /// Its uncertainty.
    pub viscous_u_nm_s_per_rad: f64,
    /// How far the zero wanders from stroke to stroke, N·m.
    pub zero_u_nm: f64,
    /// All that is left of the torque while it moves, rms, N·m.
    pub left_nm: f64,
}

/// What free motion says of an arm.
#[derive(Clone, Debug, PartialEq)]
pub struct Calibration {
    /// Base first.
    pub joints: Vec<Joint>,
    /// How far gravity is off as a part of it, rms over motion and joints; `None`: gravity moved no joint.
    pub mass_u: Option<f64>,
    /// Time that was looked at, s.
    pub duration_s: f64,
}

/// Why nothing can be learnt.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum CalibrateError {
    /// Another arm.
    #[error(
        "the recording has {recorded} joints, the arm of the description {described}: give the description (or the URDF and its tip_link) of the arm that was recorded"
    )]
    Joints {
        /// Joints of the recording.
        recorded: usize,
        /// Joints of the description.
        described: usize,
    },
    /// The description is no arm; a checked one is.
    #[error("the description is no arm: {0}")]
    Arm(String),
    /// No joint moved as is needed.
    #[error("no joint moved enough to tell its friction:{0}")]
    NothingMoved(String),
}

/// Learns from recordings of free motion of one arm, with the tool on it as the samples say.
///
/// # Errors
/// See [`CalibrateError`].
pub fn calibrate(
    arm: &ArmDescription,
    recordings: &[Recording],
) -> Result<Calibration, CalibrateError> {
    let described = arm.joints.len();
    if let Some(other) = recordings.iter().find(|r| r.joints != described) {
        return Err(CalibrateError::Joints {
            recorded: other.joints,
            described,
        });
    }
    let explain = match described {
        1 => explain::all::<1>,
        2 => explain::all::<2>,
        3 => explain::all::<3>,
        4 => explain::all::<4>,
        5 => explain::all::<5>,
        6 => explain::all::<6>,
        7 => explain::all::<7>,
        _ => explain::all::<MAX_JOINTS>,
    };
    let explained = explain(arm, recordings).map_err(|e| CalibrateError::Arm(e.to_string()))?;
    let sure_rad_s = f64::from(arm.friction_transition_rad_s);
    let motion: Vec<strokes::Motion> = (0..described)
        .map(|joint| strokes::motion(&explained.pieces, joint, sure_rad_s))
        .collect();
    if motion.iter().all(|m| m.why.is_some()) {
        let why = arm.joints.iter().zip(&motion);
        let list = why.map(|(j, m)| format!("\n  {}: {}", j.name, m.why.as_deref().unwrap_or("")));
        return Err(CalibrateError::NothingMoved(list.collect()));
    }
    let fitted = fit::fit(&explained, &motion, arm);
    let joints = (arm.joints.iter().zip(motion).enumerate())
        .map(|(i, (joint, motion))| Joint {
            name: joint.name.to_string(),
            noise_nm: explained.noise_nm[i],
            friction: fitted.joints[i].map(|line| strokes::friction(&line, &motion, &fitted, i)),
            touched_s: strokes::touched_s(&explained.pieces, &motion, &fitted, i),
            why: motion.why,
            strokes: motion.strokes,
            speed_rad_s: motion.speed_rad_s,
        })
        .collect();
    Ok(Calibration {
        joints,
        mass_u: fitted.mass_u,
        duration_s: explained.duration_s,
    })
}
