//! Physics of a seven-joint arm turning a bolt, in f64.
//!
//! The test instrument of the project: it shares no kinematics, estimation or detection code with
//! the `bolting-monitor` crate, and knows the truth that the crate has to find. A straight thread
//! runs down, seats in a curved toe and clamps along a line; a socket with play, a ratchet and a
//! torsional spring stand between flange and head; joints have friction that is undetermined at
//! rest, zero drift, ripple, noise and quanta; the arm that moves is not quite the arm that the
//! description states.
//!
//! Torques are what a joint exerts: `tau = M(q) ddq + c + g(q) + friction + J' w + zero + noise`,
//! with `w` the wrench that the tool exerts on the bolt.

mod arm;
mod campaign;
pub mod cli;
mod contact;
mod files;
mod motion;
mod operator;
mod readings;
mod scenario;
mod setup;
#[cfg(test)]
mod tests;
mod thread;
mod world;

use bolting_monitor::sample::{Context, JointSample, SpindleReading};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use serde::{Deserialize, Serialize};

pub use arm::URDF;
pub use campaign::campaign;
pub use files::{WriteError, description, write_run};
pub use scenario::{Bolt, Fault, Locking, Mode, Return, Scenario, SpindleStep};
pub use setup::{
    Arm, JOINTS, Operator, POSE_DOWN, POSE_FORWARD, POSE_NEAR_SINGULAR, Sampling, Stated, Tool,
};

/// One sample as a controller would log it.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// Time stamp, s.
    pub time_s: f64,
    /// Joint positions, rad.
    pub q: [f64; JOINTS],
    /// Joint velocities, rad/s.
    pub dq: [f64; JOINTS],
    /// Joint torques, N·m.
    pub tau: [f64; JOINTS],
    /// Angle (rad) and torque (N·m) of a powered spindle.
    pub spindle: Option<[f64; 2]>,
}

impl Row {
    /// The reading as the monitor takes it.
    pub fn sample(&self) -> JointSample<JOINTS> {
        JointSample {
            time_us: (self.time_s * 1e6).round() as u64,
            position_rad: self.q.map(|x| x as f32),
            velocity_rad_s: Some(self.dq.map(|x| x as f32)),
            torque_nm: self.tau.map(|x| x as f32),
            wrist: None,
            spindle: self.spindle.map(|[angle, torque]| SpindleReading {
                angle_rad: angle as f32,
                torque_nm: torque as f32,
            }),
            context: Context::new(),
        }
    }
}

/// What a run was in truth. Angles count from the start of the run, tightening positive.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Truth {
    /// `"none"`, `"strip"` or `"cross_thread"`.
    pub fault: String,
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
    /// Where the thread began to fail, rad, if it did: the torque leaves the sound curve there.
    pub onset_angle_rad: Option<f64>,
    /// When it did, s.
    pub onset_time_s: Option<f64>,
    /// Largest torque while the bolt turned on, N·m.
    pub peak_torque_nm: f64,
    /// Bolt angle of the peak, rad.
    pub peak_angle_rad: f64,
    /// Time of the peak, s.
    pub peak_time_s: f64,
    /// Preload that the final torque stands for at the true friction, N; zero with a fault.
    pub preload_n: f64,
    /// When the socket first touched the head, s.
    pub contact_time_s: f64,
    /// When the operator had stopped turning for good, s.
    pub stop_time_s: f64,
    /// Sensor floor, N·m, 1 sigma, of the minimum-variance axial moment with the other five
    /// components of the wrench unknown: white noise of one sample, a minute's drift of the zero,
    /// ripple, and friction anywhere within the Coulomb band of every joint (all at rest).
    pub torque_floor_nm: f64,
    /// The same with the last joint sliding, its friction known up to `friction_error`.
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

/// Rows as logged, and the truth behind them.
#[derive(Clone, Debug, PartialEq)]
pub struct SimulatedRun {
    /// Samples, oldest first.
    pub rows: Vec<Row>,
    /// What really happened.
    pub truth: Truth,
}

/// Runs a scenario. The same scenario gives the same run.
pub fn simulate(scenario: &Scenario) -> SimulatedRun {
    world::World::new(scenario).run()
}

fn stream(seed: u64, number: u64) -> ChaCha8Rng {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    rng.set_stream(number);
    rng
}
