//! One run, sample by sample: hand, bolt, arm and readings put together.

use nalgebra::{Isometry3, Translation3, UnitQuaternion, Vector3, Vector6};
use rand::Rng;
use rand_chacha::ChaCha8Rng;

use super::arm::{Joints, Model};
use super::circumstances::Circumstances;
use super::contact::{Contact, Grip, Ratchet};
use super::fault::Fault;
use super::free::as_built;
use super::operator::Operator;
use super::readings::{Readings, Wander, normal, quantise};
use super::scenario::{Direction, Mode, Return, Scenario};
use super::sensing::Sensing;
use super::setup::JOINTS;
use super::thread::Thread;
use super::{Row, SimulatedRun, stream};

/// Time constants with which a load reaches the joints, s: the square root of the inertia that swings
/// on each servo (1.5 kg·m² at the shoulder to 0.01 at the wrist) over its stiffness.
const STRUCTURE_S: [f64; JOINTS] = [0.009, 0.009, 0.005, 0.005, 0.003, 0.003, 0.0015];

/// Time constant with which the arm follows the head along its axis, s.
const FOLLOW_S: f64 = 0.015;

/// Everything that moves in one run.
pub(super) struct World<'a> {
    pub scenario: &'a Scenario,
    pub thread: Thread,
    pub contact: Contact,
    pub operator: Operator,
    pub sensing: Sensing,
    circumstances: Circumstances,
    /// 1 if the tool turns clockwise, as a right-hand thread is done up, else -1: hand and bolt count in
    /// the direction of the run.
    sense: f64,
    /// 1 if the last joint turns the way the tool does, -1 if against it.
    last: f64,
    pub nominal: Model,
    moving: Model,
    laden: Model,
    readings: Readings,
    pub seat: Isometry3<f64>,
    pub axis: Vector3<f64>,
    servo: Joints,
    axial_servo_compliance: f64,
    hand: [Wander; 6],
    rng: ChaCha8Rng,
    /// Noise, scale error and quantum of angle of a powered spindle.
    pub spindle: Option<[f64; 3]>,
    spindle_zero: f64,
}

impl<'a> World<'a> {
    /// The world of a scenario with the arm that is built in.
    pub fn new(scenario: &'a Scenario) -> Self {
        Self::with(scenario, Model::nominal(&scenario.tool))
    }

    /// The world of a scenario with another arm, whose tool is on it.
    pub fn with(scenario: &'a Scenario, nominal: Model) -> Self {
        let mut rng = stream(scenario.seed, 0);
        let thread = Thread::new(scenario, &mut stream(scenario.seed, 1));
        let moving = as_built(&nominal, &scenario.arm, &mut rng);
        let mut held = scenario.payload.clone();
        held.mass_kg *= 1.0 + scenario.arm.mass_error * normal(&mut stream(scenario.seed, 4));
        let frames = nominal.frames(&Joints::from(scenario.arm.pose_rad));
        let axis = frames.socket.rotation * Vector3::z();
        // The tool stands a little askew on the bolt.
        let askew = Vector3::new(normal(&mut rng), normal(&mut rng), 0.0);
        let askew = askew.try_normalize(1e-9).unwrap_or_else(Vector3::x)
            * scenario.tool.misalignment_deg.to_radians();
        let seat = frames.socket * UnitQuaternion::from_scaled_axis(askew);
        let servo = Joints::from(scenario.arm.servo_nm_per_rad);
        let turning = nominal.jacobian(&frames).fixed_rows::<3>(3).transpose() * axis;
        let axial_servo_compliance = turning.zip_map(&servo, |h, k| h * h / k).sum();
        let stiffness = 1.0 / (1.0 / scenario.tool.windup_nm_per_rad + axial_servo_compliance);
        let play = scenario.tool.play_deg.to_radians();
        let operator = Operator::new(scenario, &thread, stream(scenario.seed, 2));
        let ratchet = match &scenario.mode {
            Mode::WristStrokes {
                back: Return::Ratchet { tooth_deg, drag_nm },
                ..
            } => Some(Ratchet {
                tooth: tooth_deg.to_radians(),
                drag: *drag_nm,
            }),
            _ => None,
        };
        let relative = play * rng.random_range(-0.45..0.45);
        let mut contact = Contact::new(
            stiffness,
            play,
            scenario.bolt.breakaway,
            ratchet,
            operator.command(),
            relative,
        );
        contact.grip = grip(scenario);
        if let Fault::StickSlip { amplitude } = scenario.fault {
            contact.stick = amplitude;
        }
        let spindle = match &scenario.mode {
            Mode::PoweredSpindle {
                torque_noise_nm,
                torque_scale_error,
                angle_quantum_deg,
                ..
            } => Some([
                *torque_noise_nm,
                *torque_scale_error,
                angle_quantum_deg.to_radians(),
            ]),
            Mode::WristStrokes { .. } => None,
        };
        Self {
            scenario,
            thread,
            contact,
            operator,
            sensing: Sensing::new(&scenario.fault),
            circumstances: Circumstances::new(scenario),
            sense: match (scenario.direction, scenario.bolt.left_hand) {
                (Direction::Tighten, false) | (Direction::Undo, true) => 1.0,
                (Direction::Undo, false) | (Direction::Tighten, true) => -1.0,
            },
            last: turning[JOINTS - 1].signum(),
            laden: moving.with_payload(&held),
            nominal,
            moving,
            readings: Readings::new(&scenario.arm, stream(scenario.seed, 3)),
            seat,
            axis,
            servo,
            axial_servo_compliance,
            hand: std::array::from_fn(|_| Wander::new(&mut rng)),
            spindle_zero: spindle.map_or(0.0, |s| 0.3 * s[0] * normal(&mut rng)),
            rng,
            spindle,
        }
    }

    pub fn run(mut self) -> SimulatedRun {
        let s = self.scenario;
        let dt = 1.0 / s.sampling.rate_hz.max(50.0);
        let rest = Joints::from(s.arm.pose_rad);
        let mut truth = self.blank_truth();
        let mut q = rest;
        if self.spindle.is_none() && !s.tool.angle_head {
            q[JOINTS - 1] += self.last * self.sense * self.operator.command();
        }
        let start = self.goal(0.0, 0.0);
        for _ in 0..60 {
            q = self.nominal.follow(&q, &start, &rest, !s.tool.angle_head);
        }
        let lag = Joints::from(STRUCTURE_S).map(|time| 1.0 - (-dt / time).exp());
        let mut loads = [Joints::zeros(); 2];
        // Position and velocity of the path, and the position that the loaded arm is bent to.
        let (mut last_q, mut last_dq, mut last_bent) = (q, Joints::zeros(), q);
        let mut travel = [0.0; 2];
        let mut rows = Vec::new();
        let mut skip = 0usize;
        let mut step = 0u64;
        while !self.operator.done() {
            let time = step as f64 * dt;
            step += 1;
            self.operator.step(dt, &self.contact, &self.thread);
            self.circumstances
                .step(time, self.contact.bolt, &mut self.operator);
            self.touch(dt);
            let stands = !self.operator.is_moving();
            self.thread.settle(self.contact.bolt, stands, dt);
            self.sensing.step(self.has_begun(), dt);
            let rng = &mut self.rng;
            let hand = self.hand.each_mut().map(|w| w.step(dt, 0.6, rng));
            let head = self.thread.advance(self.contact.bolt);
            let pass = 1.0 - (-dt / FOLLOW_S).exp();
            travel[0] += (head - travel[0]) * pass;
            travel[1] += (travel[0] - travel[1]) * pass;
            let goal = self.goal(travel[1], hand[5]);
            q = self.nominal.follow(&q, &goal, &rest, !s.tool.angle_head);

            // Each joint feels the load as late as what hangs on its servo swings; the lag is that
            // inertia, so the path alone enters the rigid-body torques. The load acts on the arm as it
            // is bent.
            let frames = self.nominal.frames(&last_bent);
            let wanted = self.nominal.jacobian(&frames).transpose() * self.wrench(&hand)
                + self.sensing.leaning(&self.nominal, &frames);
            loads[0] += (wanted - loads[0]).component_mul(&lag);
            loads[1] += (loads[0] - loads[1]).component_mul(&lag);
            let bent = q - loads[1].component_div(&self.servo);
            let path_dq = (q - last_q) / dt;
            let ddq = (path_dq - last_dq) / dt;
            let moved = bent - last_bent;
            let dq = moved / dt;
            self.readings.advance(&moved, dt);
            (last_q, last_dq, last_bent) = (q, path_dq, bent);

            self.note(&mut truth, time);
            if skip > 0 {
                skip -= 1;
                continue;
            }
            if self.rng.random::<f64>() < s.sampling.gaps_per_s * dt && s.sampling.gap_max_s > 0.002
            {
                // The time from this row to the next one is the gap.
                let gap = self.rng.random_range(0.002..s.sampling.gap_max_s);
                skip = ((gap / dt) as usize).saturating_sub(1);
            }
            if let Some(burst) = self.sensing.burst() {
                skip = (burst / dt) as usize;
                continue;
            }
            if self.rng.random::<f64>() < s.sampling.dropped_part {
                continue;
            }
            let context = self.circumstances.context;
            let moving = if context.payload_held {
                &self.laden
            } else {
                &self.moving
            };
            let frames = moving.frames(&bent);
            let rigid = loads[1] + moving.inverse_dynamics(&frames, &path_dq, &ddq);
            let jitter = (s.sampling.jitter_s * normal(&mut self.rng)).clamp(-0.4 * dt, 0.4 * dt);
            rows.push(Row {
                time_s: (time + jitter).max(0.0),
                q: self.readings.positions(&bent),
                dq: self.readings.velocities(&dq),
                tau: self.sensing.read(self.readings.torques(&rigid, &bent, &dq)),
                spindle: self.spindle_reading(),
                context,
            });
            truth.bolt_torque_nm.push(self.contact.torque);
            truth.bolt_angle_rad.push(self.contact.bolt);
            truth.advance_m.push(self.thread.advance(self.contact.bolt));
            let given = self.axial_servo_compliance * self.contact.torque;
            truth.tool_angle_rad.push(self.operator.command() - given);
        }
        self.close(&mut truth);
        SimulatedRun { rows, truth }
    }

    fn touch(&mut self, dt: f64) {
        if !self.operator.engaged {
            self.contact.lifted();
            return;
        }
        let command = self.operator.command();
        if self.contact.is_lifted() {
            self.contact.reseat(command, self.scenario.mode.seat_rad());
        }
        self.contact.turn(command, &self.thread, dt);
    }

    /// Frame of the socket that the arm goes to, following the head's travel (m).
    fn goal(&self, travel: f64, wander: f64) -> Isometry3<f64> {
        let turn = if self.spindle.is_some() {
            0.0
        } else {
            self.sense * self.operator.command()
        };
        let wander = wander * self.scenario.operator.axial_wander_mm * 1e-3 * self.operator.grip;
        let along = travel - self.operator.height + wander;
        Isometry3::from_parts(
            Translation3::from(self.seat.translation.vector + self.axis * along),
            self.seat.rotation * UnitQuaternion::from_axis_angle(&Vector3::z_axis(), turn),
        )
    }

    /// Force (above) and moment (below) of the tool on the bolt, at the socket.
    fn wrench(&self, hand: &[f64; 6]) -> Vector6<f64> {
        let o = &self.scenario.operator;
        let grip = self.operator.grip;
        let across = |x: f64, y: f64| self.seat.rotation * Vector3::new(x, y, 0.0) * grip;
        let push = grip * o.push_n * (1.0 + 0.15 * hand[4]);
        let force = self.axis * push + across(hand[0], hand[1]) * o.lateral_n;
        let turning = self.axis * self.sense * self.contact.torque;
        let moment = turning + across(hand[2], hand[3]) * o.tilt_nm;
        Vector6::new(force.x, force.y, force.z, moment.x, moment.y, moment.z)
            + self.sensing.lever(&self.seat) * grip
    }

    fn spindle_reading(&mut self) -> Option<[f64; 2]> {
        let [noise, scale, quantum] = self.spindle?;
        let torque = self.sense * self.contact.torque * (1.0 + scale)
            + self.spindle_zero
            + noise * normal(&mut self.rng);
        let angle = self.sense * self.operator.command();
        Some([quantise(angle, quantum), torque])
    }
}

fn grip(scenario: &Scenario) -> Option<Grip> {
    let (fraction, wear, seat_deg) = match scenario.fault {
        Fault::SocketSlip {
            grip_fraction,
            wear,
            seat_deg,
            ..
        } => (grip_fraction, wear, seat_deg),
        Fault::DriveStripped {
            grip_fraction,
            seat_deg,
            ..
        } => (grip_fraction, 1.0, seat_deg),
        _ => return None,
    };
    Some(Grip {
        torque: fraction * scenario.bolt.target_nm,
        wear,
        seat: f64::to_radians(seat_deg),
    })
}
