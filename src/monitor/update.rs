//! What one block of samples changed: up to 1.5 kHz, one sample.

use crate::detect::Finding;
use crate::phase::Phase;
use crate::wrench::SideMoment;

/// What the newest block of samples changed that has come to its end: up to 1.5 kHz the sample that the
/// update was asked with, else one that is up to 2 ms back. Events are told once.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Update {
    /// Mean time of the block, µs.
    pub time_us: u64,
    /// Bolt torque, N·m, tightening positive.
    pub torque_nm: f32,
    /// Standard uncertainty of that torque, N·m.
    pub torque_u_nm: f32,
    /// Whether the torque can be told in this pose; where `false`, it must not be shown as a value.
    pub torque_observable: bool,
    /// Bolt angle since the start of the run, rad, tightening positive.
    pub angle_rad: f32,
    /// Standard uncertainty of that angle, rad.
    pub angle_u_rad: f32,
    /// Whether the bolt was turning.
    pub turning: bool,
    /// Where the work stands.
    pub phase: Phase,
    /// Moment across the bolt axis at the socket, taken anew with every sixth block, or later where samples
    /// bear other things; `None` without an arm or a tool in its gripper, and before it was taken.
    pub side_moment: Option<SideMoment>,
    /// Set at the sample at which the snug event was seen. Seen anew after it was withdrawn.
    pub snug_seen: bool,
    /// A finding made at this sample.
    pub finding: Option<Finding>,
    /// Whether turning is permitted: from the first usable sample to the first stopping finding, save while
    /// unusable samples are all that comes.
    pub permitted: bool,
    /// Whether a finding that stops was made in this run.
    pub stopped: bool,
    /// Set when an angle step of the curve was closed at this sample: a point worth sending.
    pub curve_point: bool,
}

impl Update {
    /// Before the first sample.
    pub(super) const NOTHING: Self = Self {
        time_us: 0,
        torque_nm: 0.0,
        torque_u_nm: 0.0,
        torque_observable: false,
        angle_rad: 0.0,
        angle_u_rad: 0.0,
        turning: false,
        phase: Phase::Approach,
        side_moment: None,
        snug_seen: false,
        finding: None,
        permitted: false,
        stopped: false,
        curve_point: false,
    };
}
