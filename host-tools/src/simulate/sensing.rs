//! Faulty readings, and loads on the arm that are none of the bolt's.

use nalgebra::{Isometry3, Vector3, Vector6};

use super::arm::{Frames, Joints, Model};
use super::fault::Fault;
use super::setup::JOINTS;

/// Time over which a load comes on, s.
const LOADING_S: f64 = 0.3;

/// Readings of one run that may be wrong.
pub(super) struct Sensing {
    fault: Fault,
    /// Time since the fault began, s; none: not yet.
    since_s: Option<f64>,
    frozen: Option<f64>,
    /// Whether a reading has been cut off at the end of its range.
    pub saturated: bool,
    burst_over: bool,
}

impl Sensing {
    pub fn new(fault: &Fault) -> Self {
        Self {
            fault: fault.clone(),
            since_s: None,
            frozen: None,
            saturated: false,
            burst_over: false,
        }
    }

    /// Moves on by `dt`, with the fault on or not yet.
    pub fn step(&mut self, on: bool, dt: f64) {
        if on || self.since_s.is_some() {
            self.since_s = Some(self.since_s.unwrap_or(0.0) + dt);
        }
    }

    fn rise(&self) -> f64 {
        self.since_s.map_or(0.0, |t| (t / LOADING_S).min(1.0))
    }

    /// Length of a burst of missing samples that begins now, s.
    pub fn burst(&mut self) -> Option<f64> {
        match self.fault {
            Fault::SamplesStale { gap_s, .. } if self.since_s.is_some() && !self.burst_over => {
                self.burst_over = true;
                Some(gap_s)
            }
            _ => None,
        }
    }

    /// Force and moment across the bolt axis by a tool that levers.
    pub fn lever(&self, seat: &Isometry3<f64>) -> Vector6<f64> {
        let Fault::SideLoad {
            moment_nm,
            direction_deg,
            ..
        } = self.fault
        else {
            return Vector6::zeros();
        };
        let (sin, cos) = direction_deg.to_radians().sin_cos();
        let moment = seat.rotation * Vector3::new(cos, sin, 0.0) * moment_nm * self.rise();
        Vector6::new(0.0, 0.0, 0.0, moment.x, moment.y, moment.z)
    }

    /// Joint torques that hold against what leans on a link.
    pub fn leaning(&self, model: &Model, frames: &Frames) -> Joints {
        match self.fault {
            Fault::ContactElsewhere { link, force_n, .. } => {
                model.holding(frames, link, &(Vector3::from(force_n) * self.rise()))
            }
            _ => Joints::zeros(),
        }
    }

    /// What the controller logs instead of these torques.
    pub fn read(&mut self, mut tau: [f64; JOINTS]) -> [f64; JOINTS] {
        let (joint, since) = match (&self.fault, self.since_s) {
            (Fault::SensorSaturated { joint, .. }, _) => (*joint, 0.0),
            (Fault::SensorFrozen { joint, .. } | Fault::SensorDrift { joint, .. }, Some(t)) => {
                (*joint, t)
            }
            _ => return tau,
        };
        let Some(reading) = tau.get_mut(joint.saturating_sub(1)) else {
            return tau;
        };
        match self.fault {
            Fault::SensorSaturated { limit_nm, .. } => {
                self.saturated |= reading.abs() > limit_nm;
                *reading = reading.clamp(-limit_nm, limit_nm);
            }
            Fault::SensorFrozen { .. } => *reading = *self.frozen.get_or_insert(*reading),
            Fault::SensorDrift { rate_nm_per_s, .. } => *reading += rate_nm_per_s * since,
            _ => {}
        }
        tau
    }
}
