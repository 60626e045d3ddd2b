//! What a run is meant to reach.

use serde::{Deserialize, Serialize};

use crate::fastener::Band;

/// Direction of the work.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Direction {
    /// The bolt is done up.
    Tighten,
    /// The bolt is undone.
    Undo,
}

/// An expected figure and the half width within which it counts as met.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Expected {
    /// The expected figure.
    pub value: f32,
    /// Half width of the window around it.
    pub tolerance: f32,
}

impl Expected {
    /// The middle of a window, and its half width.
    pub const fn of(window: Band) -> Self {
        Self {
            value: 0.5 * (window.min + window.max),
            tolerance: 0.5 * (window.max - window.min),
        }
    }

    /// Figure and window times `factor`.
    pub const fn times(self, factor: f32) -> Self {
        Self {
            value: self.value * factor,
            tolerance: self.tolerance * factor,
        }
    }

    /// The window as a closed interval.
    pub const fn band(&self) -> Band {
        Band {
            min: self.value - self.tolerance,
            max: self.value + self.tolerance,
        }
    }
}

/// What a run is meant to reach. Torques in N·m, angles in rad, all without sign.
///
/// A window on the angle from snug to the target is not part of the goal: see
/// [`BoltJob::elastic_rad`](super::BoltJob::elastic_rad).
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Goal {
    /// Watched and recorded, not judged.
    Watch(Direction),
    /// Done up to a torque.
    Torque {
        /// Torque that the bolt is to get.
        target_nm: f32,
        /// Half width of the window around it, as a part of it (0.1 = ±10 %).
        tolerance: f32,
    },
    /// Done up to a torque that closes the joint, then through an angle.
    TorqueThenAngle {
        /// Torque from which the angle counts.
        start_nm: f32,
        /// The angle beyond it.
        angle_rad: Expected,
        /// Torque at the end: an angle reached with less or more tells of another joint.
        end_nm: Band,
    },
    /// Done up until the slope falls: bolt or thread begins to yield.
    Yield {
        /// Slope at which yield counts as begun, as a part of the steepest.
        slope_part: f32,
        /// Torque between which yield may begin.
        onset_nm: Band,
    },
    /// Checked without being turned: does it move before it carries this torque?
    Recheck {
        /// The torque.
        torque_nm: f32,
        /// Angle that still counts as not moved.
        most_rad: f32,
    },
    /// Undone.
    Loosen {
        /// Torque that it was last done up with, if that is on record.
        recorded_nm: Option<f32>,
        /// Torque between which it may break loose.
        breakaway_nm: Option<Band>,
        /// Angle until the last thread is free.
        run_out_rad: Option<Expected>,
    },
}

impl Goal {
    /// Direction in which the bolt is turned.
    pub const fn direction(&self) -> Direction {
        match self {
            Self::Watch(direction) => *direction,
            Self::Loosen { .. } => Direction::Undo,
            _ => Direction::Tighten,
        }
    }

    /// Torque that doing up aims at, N·m: of a band, its middle.
    pub const fn target_nm(&self) -> Option<f32> {
        match self {
            Self::Torque { target_nm, .. } => Some(*target_nm),
            Self::TorqueThenAngle { end_nm: band, .. } | Self::Yield { onset_nm: band, .. } => {
                Some(0.5 * (band.min + band.max))
            }
            Self::Recheck { torque_nm, .. } => Some(*torque_nm),
            Self::Watch(_) | Self::Loosen { .. } => None,
        }
    }

    /// Torque by which the figures of the run are measured, N·m: the target, or what an undone bolt
    /// was done up with.
    pub const fn scale_nm(&self) -> Option<f32> {
        match self {
            Self::Loosen {
                recorded_nm: None,
                breakaway_nm: Some(band),
                ..
            } => Some(band.max),
            Self::Loosen { recorded_nm, .. } => *recorded_nm,
            _ => self.target_nm(),
        }
    }

    /// Torque between which the run is to end, N·m.
    pub fn end_nm(&self) -> Option<Band> {
        match *self {
            Self::Torque {
                target_nm,
                tolerance,
            } => Some(Band {
                min: target_nm * (1.0 - tolerance),
                max: target_nm * (1.0 + tolerance),
            }),
            Self::TorqueThenAngle { end_nm, .. } => Some(end_nm),
            Self::Yield { onset_nm, .. } => Some(onset_nm),
            _ => None,
        }
    }

    /// Torque whose first reaching fixes an angle, N·m: where a further angle counts from, or where
    /// a check ends.
    pub const fn mark_nm(&self) -> Option<f32> {
        match self {
            Self::TorqueThenAngle { start_nm, .. } => Some(*start_nm),
            Self::Recheck { torque_nm, .. } => Some(*torque_nm),
            _ => None,
        }
    }

    /// The same for a pass at a part of the target. Only a torque can be given in parts; anything
    /// else stays as it is.
    pub fn at_part(self, part: f32) -> Self {
        match self {
            Self::Torque {
                target_nm,
                tolerance,
            } => Self::Torque {
                target_nm: part * target_nm,
                tolerance,
            },
            other => other,
        }
    }
}
