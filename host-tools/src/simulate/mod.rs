//! Physics of a seven-joint arm turning a bolt, in f64.
//!
//! The test instrument of the project: it shares no kinematics, estimation or detection code with
//! the `bolting-monitor` crate, and knows the truth that the crate has to find. A straight thread
//! runs down, seats in a curved toe and clamps along a line; a socket with play, a ratchet and a
//! torsional spring stand between flange and head; joints have friction that is undetermined at
//! rest, zero drift, ripple, noise and quanta; the arm that moves is not quite the arm that the
//! description states. Faults of thread, socket, hand and sensor, and changes around the bolt, are
//! put in one at a time, for bolts that are done up and that are undone.
//!
//! Torques are what a joint exerts: `tau = M(q) ddq + c + g(q) + friction + J' w + zero + noise`,
//! with `w` the wrench that the tool exerts on the bolt.

mod arm;
mod campaign;
mod circumstances;
pub mod cli;
mod contact;
mod fault;
mod files;
mod free;
mod grain;
mod joint;
mod machine;
mod motion;
mod operator;
mod readings;
mod rows;
mod scenario;
mod sensing;
mod setup;
#[cfg(test)]
mod tests;
mod thread;
mod truth;
mod world;

use bolting_monitor::sample::{Context, JointSample, SpindleReading};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

pub use arm::URDF;
pub use campaign::{Knobs, campaign, campaign_with};
pub(crate) use campaign::{fault_of, log_range, operator, spindle};
pub use fault::{Fault, FaultKind};
pub(crate) use files::truth;
pub use files::{Existing, WriteError, description, write_free, write_run};
pub use free::{FreeTruth, free_motion};
pub use machine::{Machine, MachineError, Mounting, Standing};
pub(crate) use rows::csv;
pub use scenario::{Bolt, Direction, Event, Locking, Mode, Return, Scenario, SpindleStep, Until};
pub use setup::{
    Arm, Each, JOINTS, Operator, POSE_DOWN, POSE_FORWARD, POSE_NEAR_SINGULAR, Payload, Sampling,
    Stated, Tool,
};
pub use truth::Truth;

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
    /// Switches and settings.
    pub context: Context,
}

impl Row {
    /// The reading as the monitor takes it.
    pub fn sample(&self) -> JointSample<JOINTS> {
        self.of_last()
    }

    /// The same of the last `N` joints; with more than there are it does not compile.
    pub fn of_last<const N: usize>(&self) -> JointSample<N> {
        const { assert!(N <= JOINTS) };
        let last = |x: &[f64; JOINTS]| std::array::from_fn(|i| x[JOINTS - N + i] as f32);
        JointSample {
            time_us: (self.time_s * 1e6).round() as u64,
            position_rad: last(&self.q),
            velocity_rad_s: Some(last(&self.dq)),
            torque_nm: last(&self.tau),
            wrist: None,
            spindle: self.spindle.map(|[angle, torque]| SpindleReading {
                angle_rad: angle as f32,
                torque_nm: torque as f32,
            }),
            context: self.context,
        }
    }
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

/// The same with another arm. Rows keep a place for each joint that the simulator knows: an arm of
/// fewer leaves the first ones empty.
pub fn simulate_with(scenario: &Scenario, machine: &Machine) -> SimulatedRun {
    world::World::with(scenario, machine.model().clone()).run()
}

pub(crate) fn stream(seed: u64, number: u64) -> ChaCha8Rng {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    rng.set_stream(number);
    rng
}
