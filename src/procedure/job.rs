//! What this bolt is meant to get, and with what it is turned: the description that the host
//! compiles and the controller loads.

use heapless::String;
use serde::{Deserialize, Serialize};

use crate::fastener::Fastener;
use crate::math::Vec3;

use super::goal::{Expected, Goal};

/// Everything the monitor is told of one bolt and its tool. Whatever is `None` is unknown and
/// widens the uncertainty or delays a finding; it never fails a run.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct BoltJob {
    /// Name of the bolt for the record.
    pub name: String<32>,
    /// The bolt, what it is screwed into and what it clamps.
    pub fastener: Fastener,
    /// What the run is meant to reach.
    pub goal: Goal,
    /// Torque that the bolt carries already from an earlier pass, N·m; `None`: it is loose.
    pub carried_nm: Option<f32>,
    /// How the bolt is turned.
    pub mode: Mode,
    /// Bolt angle from the start of the run to snug, rad; where `None`, the forecast of the fastener
    /// tells the detectors what it can.
    pub rundown_rad: Option<Expected>,
    /// Bolt angle from snug to target, rad; likewise.
    pub elastic_rad: Option<Expected>,
    /// The tool and what holds it.
    pub tool: Tool,
    /// Line of the bolt in the base frame. Left out, torque is told about the tool's own axis as it points
    /// with each sample.
    pub bolt_axis: Option<AxisLine>,
    /// Uncertainties of the sensors beside the joints, and of the wrench before anything is read.
    pub sensing: Sensing,
    /// How the torque bias is found.
    pub tare: Tare,
}

/// How the bolt is turned.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Mode {
    /// The arm's wrist turns the socket, in one or more strokes.
    WristStrokes,
    /// A powered spindle turns the socket; the arm only holds it.
    PoweredSpindle,
}

/// A line in space.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct AxisLine {
    /// A point on the line, m, base frame.
    pub point_m: Vec3,
    /// Direction in which a bolt with a right-hand thread advances when it is done up (from the
    /// head to the thread's end); any length, base frame.
    pub direction: Vec3,
}

/// The tool between the arm and the bolt.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Tool {
    /// Turning axis in the tip frame, from the arm towards the bolt.
    pub axis: Vec3,
    /// Torsional stiffness between the measured angle and the bolt head, N·m/rad.
    pub windup_nm_per_rad: Option<f32>,
    /// Angle of one ratchet tooth, rad.
    pub ratchet_tooth_rad: Option<f32>,
    /// Free angle between socket and head, rad.
    pub socket_play_rad: Option<f32>,
    /// Angle between two seats of the socket on the head, rad (hexagon 60°, twelve points 30°).
    pub seat_rad: f32,
    /// From the tip link's origin along the axis to the socket, m. 0: unknown, the side moment is
    /// then that at the tip.
    pub length_m: f32,
    /// Moment across the bolt axis at the socket above which the tool levers, N·m
    /// (`None`: see [`BoltJob::side_moment_limit_nm`]).
    pub side_moment_limit_nm: Option<f32>,
}

/// Standard uncertainties beside those of the joints, and the prior of the wrench.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Sensing {
    /// White noise of the spindle torque, N·m (`None`: taken from the tare).
    pub spindle_noise_nm: Option<f32>,
    /// Standard uncertainty of the spindle torque, as a part of the reading.
    pub spindle_scale_u: f32,
    /// Standard uncertainty of the spindle's zero, N·m.
    pub spindle_zero_u_nm: f32,
    /// Whether the spindle's angle counts up the way it drives, done up and undone alike. If not, it
    /// counts clockwise seen from the tool, as its torque always does.
    pub spindle_angle_counts_driving: bool,
    /// Standard uncertainty of a wrist sensor's force, N.
    pub wrist_force_u_n: f32,
    /// Standard uncertainty of a wrist sensor's moment, N·m.
    pub wrist_moment_u_nm: f32,
    /// Prior standard deviation of each force component at the socket, N.
    pub prior_force_n: f32,
    /// Prior standard deviation of each moment component at the socket, N·m
    /// (`None`: three times the target torque, at least 30 N·m).
    pub prior_moment_nm: Option<f32>,
}

/// How the torque bias is found.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Tare {
    /// How much of the start of the run is free of contact, s. 0: no tare, the bias counts as
    /// unknown within the joints' stated zero uncertainty.
    pub duration_s: f32,
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::fastener::{Band, Locking, Thread};

    /// An M10 bolt of an invented scenario, everything stated.
    pub(crate) fn job() -> BoltJob {
        BoltJob {
            name: String::new(),
            fastener: Fastener {
                locking: Some(Locking::Stated(Band::new(0.0, 0.8))),
                ..Fastener::new(Thread::metric(10.0, 1.5))
            },
            goal: Goal::Torque {
                target_nm: 48.0,
                tolerance: 0.1,
            },
            carried_nm: None,
            mode: Mode::PoweredSpindle,
            rundown_rad: Some(Expected {
                value: 31.4,
                tolerance: 3.0,
            }),
            elastic_rad: Some(Expected {
                value: 1.05,
                tolerance: 0.5,
            }),
            tool: Tool {
                axis: [0.0, 0.0, 1.0],
                windup_nm_per_rad: Some(3000.0),
                ratchet_tooth_rad: None,
                socket_play_rad: None,
                seat_rad: core::f32::consts::FRAC_PI_6,
                length_m: 0.2,
                side_moment_limit_nm: None,
            },
            bolt_axis: None,
            sensing: Sensing {
                spindle_noise_nm: Some(0.05),
                spindle_scale_u: 0.01,
                spindle_zero_u_nm: 0.0,
                spindle_angle_counts_driving: false,
                wrist_force_u_n: 1.0,
                wrist_moment_u_nm: 0.05,
                prior_force_n: 200.0,
                prior_moment_nm: None,
            },
            tare: Tare { duration_s: 0.5 },
        }
    }
}
