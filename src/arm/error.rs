//! Why a description is no arm.

use core::fmt;

use heapless::String;

use super::MAX_JOINTS;

/// A description that cannot be used, with the place of the fault.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum ArmError {
    /// The model was asked for more than [`MAX_JOINTS`] joints.
    TooManyJoints {
        /// Joints asked for.
        asked: usize,
    },
    /// The description has another number of joints than the model.
    JointCount {
        /// Joints in the description.
        described: usize,
        /// Joints of the model.
        expected: usize,
    },
    /// A figure of one joint.
    Joint {
        /// Place of the joint, the base joint is 0.
        index: usize,
        /// Name of the joint.
        name: String<32>,
        /// What is wrong.
        fault: Fault,
    },
    /// A figure that belongs to no joint.
    Arm {
        /// What is wrong.
        fault: Fault,
    },
}

/// What is wrong with one figure; `what` is its name in the description.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Fault {
    /// NaN, infinite, or of a size (10⁶ and more) that no figure of an arm has.
    NotFinite {
        /// The figure.
        what: &'static str,
    },
    /// Below zero where only zero and more has a meaning.
    Negative {
        /// The figure.
        what: &'static str,
    },
    /// Zero or less where only more has a meaning.
    NotPositive {
        /// The figure.
        what: &'static str,
    },
    /// The joint axis has no length.
    ZeroAxis,
    /// The columns of a rotation are not unit, not perpendicular or left-handed.
    NotARotation {
        /// The rotation.
        what: &'static str,
    },
}

impl fmt::Display for ArmError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TooManyJoints { asked } => write!(
                f,
                "an arm model of {asked} joints was asked for; at most {MAX_JOINTS} are possible: choose a tip nearer the base"
            ),
            Self::JointCount {
                described,
                expected,
            } => write!(
                f,
                "the arm description has {described} joints, the model {expected}: use the description of this arm or a model of {described} joints"
            ),
            // Counted from 1, as findings and columns count.
            Self::Joint { index, name, fault } => {
                write!(f, "joint {} \"{name}\": {fault}", index.saturating_add(1))
            }
            Self::Arm { fault } => write!(f, "arm: {fault}"),
        }
    }
}

impl core::error::Error for ArmError {}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotFinite { what } => write!(
                f,
                "{what} is not a number between -1e6 and 1e6: give a finite figure in the stated unit"
            ),
            Self::Negative { what } => write!(f, "{what} is negative: give 0 or more"),
            Self::NotPositive { what } => write!(f, "{what} is not above 0: give more than 0"),
            Self::ZeroAxis => write!(
                f,
                "axis is zero: give the direction about which the joint turns"
            ),
            Self::NotARotation { what } => write!(
                f,
                "{what} is not a rotation: its columns must be unit, perpendicular and right-handed to 1e-4"
            ),
        }
    }
}
