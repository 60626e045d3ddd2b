//! What a run was in truth, and how it is noted while it goes on.

use nalgebra::{Matrix6, SMatrix, Vector6};
use serde::{Deserialize, Serialize};

use super::arm::Joints;
use super::fault::Fault;
use super::scenario::Direction;
use super::setup::JOINTS;
use super::world::World;

/// What a run was in truth. Angles and torques count from the start of the run, tightening positive:
/// those of a bolt that is undone are negative.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Truth {
    /// Name of the finding that is due; `"none"` if nothing went wrong.
    pub fault: String,
    /// What caused it: the kind of fault as scenario files name it.
    pub cause: String,
    /// Whether the bolt is as sound at the end as without fault, so that a stop is a false one.
    pub sound: bool,
    /// Whether turning on does harm, so that the finding should stop the run.
    pub needs_stop: bool,
    /// Whether the bolt was undone.
    pub undone: bool,
    /// Torque with which the bolt last turned on, N·m.
    pub final_torque_nm: f64,
    /// Bolt angle at the end, rad.
    pub final_angle_rad: f64,
    /// Where the elastic line meets the prevailing-torque line, rad; none for a crossed thread or
    /// a bolt that never came so far.
    pub snug_angle_rad: Option<f64>,
    /// Time at which the bolt first came there, s.
    pub snug_time_s: Option<f64>,
    /// Slope of the elastic line at the bolt, N·m/rad.
    pub elastic_rate_nm_per_rad: f64,
    /// Where the fault began, rad, if it did: the curve leaves the sound one there.
    pub onset_angle_rad: Option<f64>,
    /// When it did, s.
    pub onset_time_s: Option<f64>,
    /// Torque at which a bolt that is undone broke loose, as a part of its tightening torque, ...
    pub breakaway_ratio: Option<f64>,
    /// ... and when, s.
    pub breakaway_time_s: Option<f64>,
    /// Where its last thread left, rad, if it did, ...
    pub free_angle_rad: Option<f64>,
    /// ... and when, s.
    pub free_time_s: Option<f64>,
    /// Largest torque while the bolt turned on, N·m.
    pub peak_torque_nm: f64,
    /// Bolt angle of the peak, rad.
    pub peak_angle_rad: f64,
    /// Time of the peak, s.
    pub peak_time_s: f64,
    /// Preload that the final torque stands for at the true friction, N; zero with a fault or undone.
    pub preload_n: f64,
    /// When the socket first touched the head, s.
    pub contact_time_s: f64,
    /// When the operator had stopped turning for good, s.
    pub stop_time_s: f64,
    /// Sensor floor, N·m, 1 sigma, of the minimum-variance axial moment with the other five
    /// components of the wrench unknown: white noise of one sample, a minute's drift of the zero,
    /// ripple, and friction anywhere within the Coulomb band of every joint (all at rest).
    pub torque_floor_nm: f64,
    /// The same with the last joint sliding, its friction known up to its deviation and warming up.
    pub torque_floor_turning_nm: f64,
    /// White noise and scale error at the final torque of a powered spindle, N·m, 1 sigma.
    pub spindle_floor_nm: Option<f64>,
    /// A point on the bolt axis, m, base frame.
    pub axis_point_m: [f64; 3],
    /// Direction of the bolt axis from head to thread end, base frame.
    pub axis_direction: [f64; 3],
    /// Stiffness from the measured angle to the bolt head, N·m/rad.
    pub windup_nm_per_rad: f64,
    /// Torque on the bolt, N·m, of every row.
    pub bolt_torque_nm: Vec<f64>,
    /// Bolt angle, rad, of every row.
    pub bolt_angle_rad: Vec<f64>,
    /// Advance of the head, m, of every row.
    pub advance_m: Vec<f64>,
    /// Angle of the socket drive about the bolt axis (flange, plus spindle if there is one), rad,
    /// of every row; from the middle of the stroke range.
    pub tool_angle_rad: Vec<f64>,
}

impl Truth {
    /// Turns what was noted in the direction of the run into tightening positive.
    fn turn_round(&mut self) {
        let columns = [
            &mut self.bolt_torque_nm,
            &mut self.bolt_angle_rad,
            &mut self.tool_angle_rad,
        ];
        columns.into_iter().flatten().for_each(|x| *x = 0.0 - *x);
        for x in [
            &mut self.final_torque_nm,
            &mut self.final_angle_rad,
            &mut self.peak_torque_nm,
            &mut self.peak_angle_rad,
        ] {
            *x = 0.0 - *x;
        }
        for x in [&mut self.onset_angle_rad, &mut self.free_angle_rad] {
            *x = x.map(|x| 0.0 - x);
        }
    }
}

impl World<'_> {
    pub(super) fn note(&self, truth: &mut Truth, time: f64) {
        let c = &self.contact;
        if c.turned && c.torque > truth.peak_torque_nm {
            truth.peak_torque_nm = c.torque;
            truth.peak_angle_rad = c.bolt;
            truth.peak_time_s = time;
        }
        if truth.onset_time_s.is_none() && self.has_begun() {
            truth.onset_time_s = Some(time);
            truth.onset_angle_rad = Some(self.thread.onset.unwrap_or(c.bolt));
        }
        if truth.snug_time_s.is_none() && self.thread.seats() && c.bolt >= self.thread.snug {
            truth.snug_time_s = Some(time);
            truth.snug_angle_rad = Some(self.thread.snug);
        }
        let Some(free_at) = self.thread.free_at() else {
            return;
        };
        if truth.breakaway_time_s.is_none() && c.turned && c.bolt > 0.0 && !self.never_loose() {
            truth.breakaway_time_s = Some(time);
            truth.breakaway_ratio = Some(c.torque / self.scenario.bolt.target_nm);
        }
        if truth.free_time_s.is_none() && !self.never_loose() && c.bolt >= free_at {
            truth.free_time_s = Some(time);
            truth.free_angle_rad = Some(free_at);
        }
    }

    /// Whether the fault has begun, for those that show before the end.
    pub(super) fn has_begun(&self) -> bool {
        match self.scenario.fault {
            Fault::SocketSlip { .. } | Fault::DriveStripped { .. } => self.contact.slips > 0,
            Fault::SensorSaturated { .. } => self.sensing.saturated,
            Fault::Relaxation { .. } => self.thread.settles(),
            // A hand that gives up before has not shown that it is seized.
            Fault::Seized { .. } => self.contact.torque >= self.scenario.bolt.target_nm,
            _ => {
                let touched = self.operator.touched_s > 0.0;
                touched && self.thread.onset.is_some_and(|o| self.contact.bolt >= o)
            }
        }
    }

    fn never_loose(&self) -> bool {
        matches!(
            self.scenario.fault,
            Fault::TurningTogether { .. } | Fault::Fracture { .. } | Fault::Seized { .. }
        )
    }

    pub(super) fn close(&self, truth: &mut Truth) {
        truth.final_torque_nm = self.contact.last_turning;
        truth.final_angle_rad = self.contact.bolt;
        truth.contact_time_s = self.operator.touched_s;
        truth.stop_time_s = self.operator.stopped_s;
        if matches!(self.scenario.fault, Fault::UnderTorque { .. }) {
            truth.onset_angle_rad = Some(truth.final_angle_rad);
            truth.onset_time_s = Some(truth.stop_time_s);
        }
        if self.scenario.fault == Fault::None && !truth.undone {
            truth.preload_n = self
                .thread
                .preload(truth.final_torque_nm, truth.final_angle_rad);
        }
        truth.spindle_floor_nm = self
            .spindle
            .map(|[n, s, _]| n.hypot(s * truth.final_torque_nm));
        if truth.undone {
            truth.turn_round();
        }
    }

    pub(super) fn blank_truth(&self) -> Truth {
        let fault = &self.scenario.fault;
        Truth {
            fault: fault.finding().into(),
            cause: fault.kind().name(),
            sound: fault.is_harmless(),
            needs_stop: fault.needs_stop(),
            undone: self.scenario.direction == Direction::Undo,
            final_torque_nm: 0.0,
            final_angle_rad: 0.0,
            snug_angle_rad: None,
            snug_time_s: None,
            elastic_rate_nm_per_rad: self.thread.rate,
            onset_angle_rad: None,
            onset_time_s: None,
            breakaway_ratio: None,
            breakaway_time_s: None,
            free_angle_rad: None,
            free_time_s: None,
            peak_torque_nm: 0.0,
            peak_angle_rad: 0.0,
            peak_time_s: 0.0,
            preload_n: 0.0,
            contact_time_s: 0.0,
            stop_time_s: 0.0,
            torque_floor_nm: self.floor(false),
            torque_floor_turning_nm: self.floor(true),
            spindle_floor_nm: None,
            axis_point_m: self.seat.translation.vector.into(),
            axis_direction: self.axis.into(),
            windup_nm_per_rad: self.scenario.tool.windup_nm_per_rad,
            bolt_torque_nm: vec![],
            bolt_angle_rad: vec![],
            advance_m: vec![],
            tool_angle_rad: vec![],
        }
    }

    /// Standard deviation of the axial moment by weighted least squares over the whole wrench:
    /// `a' (J R^-1 J')^-1 a`.
    fn floor(&self, turning: bool) -> f64 {
        let arm = &self.scenario.arm;
        let frames = self.nominal.frames(&Joints::from(arm.pose_rad));
        let jacobian = self.nominal.jacobian(&frames);
        let precision = Joints::from_fn(|i, _| {
            let friction = if turning && i == JOINTS - 1 {
                arm.friction_u() * arm.coulomb_nm[i]
            } else {
                // Anywhere within the band with equal right.
                arm.coulomb_nm[i] / 3f64.sqrt()
            };
            let ripple = arm.ripple_nm[i] / 2f64.sqrt();
            let parts = [
                arm.torque_noise_nm[i],
                arm.drift_nm_per_min,
                ripple,
                friction,
            ];
            1.0 / parts.iter().map(|x| x * x).sum::<f64>().max(1e-12)
        });
        let gram: Matrix6<f64> = jacobian
            * SMatrix::<f64, JOINTS, JOINTS>::from_diagonal(&precision)
            * jacobian.transpose();
        let axis = Vector6::new(0.0, 0.0, 0.0, self.axis.x, self.axis.y, self.axis.z);
        let solved = gram.lu().solve(&axis);
        solved
            .map_or(f64::INFINITY, |x| axis.dot(&x).max(0.0).sqrt())
            .min(1e6)
    }
}
