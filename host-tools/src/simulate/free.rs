//! The arm in free air, every joint to and fro: what friction and masses are learnt from.

use nalgebra::Vector3;
use rand::Rng;
use rand_chacha::ChaCha8Rng;
use serde::{Deserialize, Serialize};

use super::arm::{Joints, Model};
use super::readings::{Readings, normal};
use super::scenario::Scenario;
use super::setup::{Arm, JOINTS};
use super::{Row, stream};

/// Standstill before the motion, s.
const STILL_S: f64 = 1.0;
/// Half the travel of a joint, rad (20 degrees).
const TRAVEL_RAD: f64 = 0.35;
/// Shortest and longest period of a joint's motion, s: no two joints move alike.
const PERIOD_S: [f64; 2] = [7.0, 12.0];

/// What the joints' friction really was.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FreeTruth {
    /// Coulomb friction of the run-in arm, N·m, base first.
    pub coulomb_nm: [f64; JOINTS],
    /// Viscous friction, N·m·s/rad.
    pub viscous_nm_s_per_rad: [f64; JOINTS],
}

/// The arm that is built, which is not quite the one that is drawn.
pub(super) fn as_built(nominal: &Model, arm: &Arm, rng: &mut ChaCha8Rng) -> Model {
    let mut built = nominal.clone();
    built.perturb(|body| {
        body.mass *= 1.0 + arm.mass_error * normal(rng);
        body.centre += Vector3::from_fn(|_, _| arm.centre_error_m * normal(rng));
    });
    built
}

/// Moves the arm of a scenario in free air for a while. The same scenario has the same arm as where it
/// turns a bolt.
pub fn free_motion(scenario: &Scenario, seconds: f64) -> (Vec<Row>, FreeTruth) {
    let s = scenario;
    let model = as_built(&Model::nominal(&s.tool), &s.arm, &mut stream(s.seed, 0));
    let mut readings = Readings::new(&s.arm, stream(s.seed, 3));
    let mut rng = stream(s.seed, 5);
    let truth = FreeTruth {
        coulomb_nm: readings.coulomb_nm().into(),
        viscous_nm_s_per_rad: readings.viscous_nm_s_per_rad().into(),
    };
    let rest = Joints::from(s.arm.pose_rad);
    let [short, long] = PERIOD_S;
    let pace = Joints::from_fn(|_, _| std::f64::consts::TAU / rng.random_range(short..long));
    // Position, velocity and acceleration.
    let path = |time: f64| {
        let t = (time - STILL_S).max(0.0);
        let wave =
            |of: fn(f64) -> f64, order: i32| pace.map(|w| TRAVEL_RAD * w.powi(order) * of(w * t));
        if t > 0.0 {
            // From standstill at one end: the cosine's velocity begins at zero.
            [
                rest + (wave(f64::cos, 0) - Joints::repeat(TRAVEL_RAD)),
                -wave(f64::sin, 1),
                -wave(f64::cos, 2),
            ]
        } else {
            [rest, Joints::zeros(), Joints::zeros()]
        }
    };
    let dt = 1.0 / s.sampling.rate_hz.max(50.0);
    let mut last = rest;
    let mut rows = Vec::new();
    for step in 0..(seconds.max(0.0) / dt) as u64 {
        let time = step as f64 * dt;
        let [q, dq, ddq] = path(time);
        readings.advance(&(q - last), dt);
        last = q;
        let frames = model.frames(&q);
        let rigid = model.inverse_dynamics(&frames, &dq, &ddq);
        let jitter = (s.sampling.jitter_s * normal(&mut rng)).clamp(-0.4 * dt, 0.4 * dt);
        rows.push(Row {
            time_s: (time + jitter).max(0.0),
            q: readings.positions(&q),
            dq: readings.velocities(&dq),
            tau: readings.torques(&rigid, &q, &dq),
            spindle: None,
            context: bolting_monitor::sample::Context::new(),
        });
    }
    (rows, truth)
}
