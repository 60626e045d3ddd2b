//! The arm as the source, in two stages: what it explains of a block, then what is left as the bolt's.

use crate::arm::{ArmModel, ArmPose};
use crate::gather::Block;
use crate::math::{Vec3, add, rotate, scale};
use crate::procedure::BoltJob;
use crate::sample::{JointSample, WristReading};
use crate::wrench::{
    ArmLoad, ArmReading, InertiaTracker, JointSight, JointWrench, MomentAxis, SensorHealth,
    SideMoment,
};

use super::place::{Place, place};
use super::{Lines, Reading};
use crate::monitor::turns::{INERTIA_ROWS, Load, Turn, Turns};

/// Time constant of velocities taken from positions, s.
const VELOCITY_S: f32 = 0.008;

/// An arm with all that is known of it.
#[derive(Clone, Debug)]
pub(super) struct Arm<const N: usize> {
    pub model: ArmModel<N>,
    pub wrench: JointWrench<N>,
    place: Place,
    last_position_rad: [f32; N],
    velocity_rad_s: [f32; N],
    inertia: InertiaTracker<N>,
    health: SensorHealth<N>,
    turns: Turns,
    side: Option<SideMoment>,
    /// What each joint says.
    pub sights: [JointSight; N],
    // With the sights, what is handed from the first stage to the second: all of one block.
    pose: ArmPose<N>,
    wrist: Option<WristReading>,
    held: bool,
    samples: u8,
    turn: Option<Turn>,
}

impl<const N: usize> Arm<N> {
    pub fn new(
        model: ArmModel<N>,
        job: &BoltJob,
        prior_moment_nm: f32,
        observable_u_nm: f32,
    ) -> Self {
        Self {
            health: SensorHealth::new(*model.torque_range_nm()),
            wrench: JointWrench::new(&model, &job.sensing, prior_moment_nm, observable_u_nm),
            model,
            place: Place::UNKNOWN,
            last_position_rad: [0.0; N],
            velocity_rad_s: [0.0; N],
            inertia: InertiaTracker::default(),
            turns: Turns::default(),
            side: None,
            sights: [JointSight::default(); N],
            pose: ArmPose::NONE,
            wrist: None,
            held: false,
            samples: 1,
            turn: None,
        }
    }

    /// Takes note of what is lost in a mean.
    pub fn note(&mut self, sample: &JointSample<N>) {
        self.health.note(&sample.torque_nm);
    }

    /// The first stage: pose, gravity, friction, inertia, and what they leave of the torques.
    pub fn explain(&mut self, block: &Block<'_, N>, in_tare: bool, dt_s: f32, load: Load) {
        let sample = block.mean;
        let held = (sample.context.tool_held, sample.context.payload_held);
        self.turn = self.turns.next(dt_s, load);
        let rows = if self.turn == Some(Turn::Inertia) {
            INERTIA_ROWS
        } else {
            0
        };
        let centres = self.inertia.inertia_mut().next(rows);
        (self.model).pose_into(&mut self.pose, &sample.position_rad, held, &centres);
        self.track_velocity(sample, dt_s);
        self.health
            .update(block.newest_nm, &self.velocity_rad_s, dt_s);
        let friction = self.model.friction(&self.velocity_rad_s);
        if rows > 0 {
            let inertia = self.inertia.inertia_mut();
            (self.model).renew_inertia(inertia, &self.pose, held, rows);
        }
        let inertia = self.inertia.update(&self.velocity_rad_s, dt_s);
        let reading = ArmReading {
            pose: &self.pose,
            torque_nm: &sample.torque_nm,
            friction: &friction,
            inertia: &inertia,
            health: &self.health,
            wrist: sample.wrist.as_ref(),
            samples: block.samples,
        };
        if in_tare {
            self.wrench.tare(&self.model, &reading);
        }
        self.wrench.look(&reading, &mut self.sights);
        (self.wrist, self.held, self.samples) = (sample.wrist, held.0, block.samples);
    }

    /// The second stage: the moment about the bolt and across it, and where the tool stands.
    pub fn weigh(&mut self, reading: &mut Reading, lines: &Lines, dt_s: f32) {
        let tip = &self.pose.tip;
        let along = rotate(&tip.rotation, &lines.tool_axis);
        let axis = lines.bolt.unwrap_or(MomentAxis {
            point_m: tip.translation_m,
            direction: along,
        });
        let asked = match self.turn {
            Some(Turn::Side) => self.held,
            // Weights and the moment across are too much for one sample.
            Some(Turn::Weights) => false,
            _ => self.held && self.side.is_none(),
        };
        let socket_m = asked.then(|| lines.socket_m(&tip.translation_m, &along));
        let load = ArmLoad {
            pose: &self.pose,
            sights: &self.sights,
            wrist: self.wrist.as_ref(),
            samples: self.samples,
        };
        let estimate = self.wrench.estimate(
            &self.model,
            &load,
            &axis,
            socket_m.as_ref(),
            self.turn == Some(Turn::Weights),
        );
        reading.torque = estimate.axial;
        self.side = estimate.side.or(self.side.filter(|_| self.held));
        reading.side = self.side;
        let (twist_rad, advance_m) = self.place.twist_and_advance(tip, lines);
        reading.tool_rad = twist_rad;
        reading.advance_m = Some(advance_m);
        reading.free_motion = self.place.is_free(tip, lines, dt_s);
    }

    fn track_velocity(&mut self, sample: &JointSample<N>, dt_s: f32) {
        match sample.velocity_rad_s {
            Some(v) => self.velocity_rad_s = v,
            None if dt_s > 0.0 => {
                let share = dt_s / (dt_s + VELOCITY_S);
                for i in 0..N {
                    let v = (sample.position_rad[i] - self.last_position_rad[i]) / dt_s;
                    self.velocity_rad_s[i] += (v - self.velocity_rad_s[i]) * share;
                }
            }
            None => {}
        }
        self.last_position_rad = sample.position_rad;
    }
}

impl Lines {
    /// Where the socket is. On a stated axis it sits on it, also that of an angle head or a crank.
    fn socket_m(&self, tip_m: &Vec3, along: &Vec3) -> Vec3 {
        let tool_end_m = add(tip_m, &scale(along, self.tool_length_m));
        self.bolt.map_or(tool_end_m, |line| {
            let (along_m, _) = place(&line, &tool_end_m);
            add(&line.point_m, &scale(&line.direction, along_m))
        })
    }
}
