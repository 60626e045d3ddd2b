//! Drives the street, one sample at a time.

use crate::detect::Finding;

/// What one sample changed.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Update {
    /// Time of the sample, µs.
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
    /// Whether the bolt was turning at this sample.
    pub turning: bool,
    /// Set once: the sample at which the snug event was seen.
    pub snug_seen: bool,
    /// A finding made at this sample.
    pub finding: Option<Finding>,
    /// Whether turning is permitted: `false` from the first stopping finding on.
    pub permitted: bool,
    /// Set when an angle step of the curve was closed at this sample: a point worth sending.
    pub curve_point: bool,
}
