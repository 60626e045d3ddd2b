//! From a sample to tool torque, tool angle and tool position, whatever they are read from.

use crate::arm::{ArmModel, ArmPose};
use crate::math::{
    IDENTITY, Limited, Mat3, Vec3, add, dot, mat_mul, norm, rotate, scale, sub, transposed, unit,
};
use crate::parts::IfArm;
use crate::procedure::{BoltJob, Direction, Mode};
use crate::sample::{Context, JointSample};
use crate::turn::{Pause, Twist};
use crate::wrench::{
    ArmReading, AxialTorque, InertiaTracker, JointSight, JointWrench, MomentAxis, SensorHealth,
    SideMoment, SpindleTorque,
};

use super::turns::{INERTIA_ROWS, Load, Turn, Turns};

/// Time constant of velocities taken from positions, s.
const VELOCITY_S: f32 = 0.008;
/// Time constant of the tip's velocity, s: the quanta of the encoders pass.
const TIP_VELOCITY_S: f32 = 0.1;
/// Speed of the tip away from or along the bolt axis above which its tool is on no bolt, m/s: a
/// coarse thread turned once a second advances by a tenth of it, a hand that turns wanders by less.
const FREE_MOTION_M_S: f32 = 0.03;
/// Time after tool or payload were taken or let go that is not judged, s: switch and load do not
/// come in the same sample.
const SETTLING_S: f32 = 0.05;
/// Spindle noise, as a part of the target, where it is neither stated nor seen.
const SPINDLE_NOISE_PART: f32 = 0.005;
/// Likewise where no target is known, N·m.
const SPINDLE_NOISE_NM: f32 = 0.02;

/// What a sample says in the driving direction.
#[derive(Clone, Copy, Debug)]
pub(super) struct Reading {
    pub torque: AxialTorque,
    pub tool_rad: f32,
    pub advance_m: Option<f32>,
    /// Whether the sample was used for the tare, so that nothing was turned yet.
    pub taring: bool,
    /// Set where nothing can turn the bolt.
    pub pause: Option<Pause>,
    /// Whether the load on the gripper has just changed, so that nothing is to be judged.
    pub settling: bool,
    /// Moment across the bolt axis at the socket, where arm and tool are there; taken anew where it is
    /// its [turn](Turn).
    pub side: Option<SideMoment>,
    /// Whether the tip travels as only a tool does that is off the bolt.
    pub free_motion: bool,
}

/// The arm side of the source.
#[derive(Clone, Debug)]
struct Arm<const N: usize> {
    model: ArmModel<N>,
    wrench: JointWrench<N>,
    twist: Option<Twist>,
    /// Pose at the start, against which twist and advance count.
    reference: (Mat3, Vec3),
    last_position_rad: [f32; N],
    velocity_rad_s: [f32; N],
    inertia: InertiaTracker<N>,
    health: SensorHealth<N>,
    /// What each joint says at this sample.
    sights: [JointSight; N],
    side: Option<SideMoment>,
    turns: Turns,
    /// Position of the tip along the bolt axis and distance from it, m, and their rates, m/s.
    last_place_m: Option<[f32; 2]>,
    place_m_s: [f32; 2],
}

/// Reads samples.
#[derive(Clone, Debug)]
pub(super) struct Source<const N: usize> {
    arm: IfArm<Arm<N>>,
    spindle: SpindleTorque,
    use_spindle: bool,
    bolt_axis: Option<MomentAxis>,
    tool_axis: Vec3,
    tool_length_m: f32,
    /// +1 or −1: from rotation about the axis to the driving direction.
    drive: f32,
    /// +1 or −1: from advance along the axis to the driving direction.
    feed: f32,
    /// +1 or −1: from the spindle's angle to the driving direction.
    spindle_count: f32,
    tare_s: f32,
    /// Whether tool and payload were held at the sample before, and how long the last change is to
    /// be waited for, s.
    held: Option<(bool, bool)>,
    settling_s: f32,
}

impl<const N: usize> Source<N> {
    // With all parts built in there is nothing to convert.
    #[allow(clippy::useless_conversion)]
    pub fn new(
        job: &BoltJob,
        arm: Option<ArmModel<N>>,
        prior_moment_nm: f32,
        observable_u_nm: f32,
    ) -> Self {
        let hand = if job.fastener.left_hand { -1.0 } else { 1.0 };
        let feed = match job.goal.direction() {
            Direction::Tighten => 1.0,
            Direction::Undo => -1.0,
        };
        let unknown_noise = job
            .goal
            .scale_nm()
            .map_or(SPINDLE_NOISE_NM, |t| t * SPINDLE_NOISE_PART);
        Self {
            use_spindle: job.mode == Mode::PoweredSpindle || arm.is_none(),
            arm: arm
                .map(|model| Arm {
                    health: SensorHealth::new(*model.torque_range_nm()),
                    sights: [JointSight::default(); N],
                    side: None,
                    turns: Turns::default(),
                    last_place_m: None,
                    place_m_s: [0.0; 2],
                    wrench: JointWrench::new(
                        &model,
                        &job.sensing,
                        prior_moment_nm,
                        observable_u_nm,
                    ),
                    model,
                    twist: None,
                    reference: (IDENTITY, [0.0; 3]),
                    last_position_rad: [0.0; N],
                    velocity_rad_s: [0.0; N],
                    inertia: InertiaTracker::default(),
                })
                .into(),
            spindle: SpindleTorque::new(&job.sensing, unknown_noise),
            bolt_axis: job.bolt_axis.and_then(|line| {
                unit(&line.direction).map(|direction| MomentAxis {
                    point_m: line.point_m,
                    direction,
                })
            }),
            tool_axis: unit(&job.tool.axis).unwrap_or([0.0, 0.0, 1.0]),
            tool_length_m: job.tool.length_m,
            drive: hand * feed,
            spindle_count: if job.sensing.spindle_angle_counts_driving {
                1.0
            } else {
                hand * feed
            },
            feed,
            tare_s: job.tare.duration_s,
            held: None,
            settling_s: 0.0,
        }
    }

    /// Takes over the tare of another recording and makes none of its own.
    pub fn adopt_tare(&mut self, other: &Self) {
        if let (Some(arm), Some(from)) = (self.arm.as_mut(), other.arm.as_ref()) {
            arm.wrench.adopt_tare(&from.wrench);
        }
        self.tare_s = 0.0;
    }

    /// Reads one sample, `since_start_s` after the first and `dt_s` after the one before; what can wait
    /// does for up to `put_off` samples.
    pub fn read(
        &mut self,
        sample: &JointSample<N>,
        since_start_s: f32,
        dt_s: f32,
        load: Load,
    ) -> Reading {
        let in_tare = since_start_s < self.tare_s;
        let mut reading = Reading {
            torque: NOTHING_READ,
            tool_rad: 0.0,
            advance_m: None,
            taring: in_tare,
            pause: self.pause(&sample.context),
            settling: self.settle(&sample.context, dt_s),
            side: None,
            free_motion: false,
        };
        if let Some(arm) = self.arm.as_mut() {
            let held = (sample.context.tool_held, sample.context.payload_held);
            let turn = arm.turns.next(dt_s, load);
            let rows = if turn == Some(Turn::Inertia) {
                INERTIA_ROWS
            } else {
                0
            };
            let centres = arm.inertia.inertia_mut().next(rows);
            let mut pose = ArmPose::NONE;
            (arm.model).pose_into(&mut pose, &sample.position_rad, held, &centres);
            arm.track_velocity(sample, dt_s);
            arm.health
                .update(&sample.torque_nm, &arm.velocity_rad_s, dt_s);
            let friction = arm.model.friction(&arm.velocity_rad_s);
            if rows > 0 {
                let inertia = arm.inertia.inertia_mut();
                arm.model.renew_inertia(inertia, &pose, held, rows);
            }
            let inertia = arm.inertia.update(&arm.velocity_rad_s, dt_s);
            let inputs = ArmReading {
                pose: &pose,
                torque_nm: &sample.torque_nm,
                friction: &friction,
                inertia: &inertia,
                health: &arm.health,
                wrist: sample.wrist.as_ref(),
            };
            if in_tare {
                arm.wrench.tare(&arm.model, &inputs);
            }
            let along = rotate(&pose.tip.rotation, &self.tool_axis);
            let axis = self.bolt_axis.unwrap_or(MomentAxis {
                point_m: pose.tip.translation_m,
                direction: along,
            });
            arm.wrench.look(&inputs, &mut arm.sights);
            let held = held.0;
            let socket_m = (held && (turn == Some(Turn::Side) || arm.side.is_none())).then(|| {
                let tool_end_m = add(&pose.tip.translation_m, &scale(&along, self.tool_length_m));
                // On a stated axis the socket sits on it, also that of an angle head or a crank.
                self.bolt_axis.map_or(tool_end_m, |line| {
                    let (along_m, _) = place(&line, &tool_end_m);
                    add(&line.point_m, &scale(&line.direction, along_m))
                })
            });
            let estimate = arm.wrench.estimate(
                &arm.model,
                &inputs,
                &arm.sights,
                &axis,
                socket_m.as_ref(),
                turn == Some(Turn::Weights),
            );
            reading.torque = estimate.axial;
            reading.torque.value_nm *= self.drive;
            arm.side = estimate.side.or(arm.side.filter(|_| held));
            reading.side = arm.side;
            let (twist_rad, advance_m) =
                arm.twist_and_advance(&pose, self.bolt_axis.as_ref(), &self.tool_axis);
            reading.tool_rad = twist_rad * self.drive;
            reading.advance_m = Some(advance_m * self.feed);
            arm.track_place(&pose, self.bolt_axis.as_ref(), &self.tool_axis, dt_s);
            let [along_m_s, away_m_s] = arm.place_m_s;
            let square = along_m_s * along_m_s + away_m_s * away_m_s;
            reading.free_motion = square > FREE_MOTION_M_S * FREE_MOTION_M_S;
        }
        if let (true, Some(spindle)) = (self.use_spindle, &sample.spindle) {
            reading.taring = in_tare && self.spindle.tare(spindle.angle_rad, spindle.torque_nm);
            if !reading.taring {
                // Once it has turned, what follows is no tare, whatever the clock says.
                self.tare_s = 0.0;
            }
            reading.torque = AxialTorque {
                residual_ratio: reading.torque.residual_ratio,
                ..self.spindle.axial_torque(spindle.torque_nm)
            };
            reading.torque.value_nm *= self.drive;
            reading.tool_rad += spindle.angle_rad * self.spindle_count;
        }
        reading
    }

    /// What each joint said at the last sample, base first; empty without an arm.
    pub fn joints(&self) -> &[JointSight] {
        self.arm.as_ref().map_or(&[], |arm| &arm.sights)
    }

    /// What keeps the bolt from being turned. The arm must be enabled or, where a spindle turns it,
    /// the tool powered; either may turn the bolt while the other rests. The force ratio is not
    /// asked: it scales what the operator feels.
    fn pause(&self, context: &Context) -> Option<Pause> {
        if !context.tool_held {
            return Some(Pause::Released);
        }
        let driven = context.arm_enabled || (self.use_spindle && context.tool_powered);
        (!driven).then_some(Pause::Locked)
    }

    /// Whether tool or payload were taken or let go within the last [`SETTLING_S`].
    fn settle(&mut self, context: &Context, dt_s: f32) -> bool {
        let now = (context.tool_held, context.payload_held);
        let changed = self.held.replace(now).is_some_and(|before| before != now);
        self.settling_s = if changed {
            SETTLING_S
        } else {
            (self.settling_s - dt_s).at_least(0.0)
        };
        self.settling_s > 0.0
    }
}

/// Stands where a sample carries neither arm nor spindle.
const NOTHING_READ: AxialTorque = AxialTorque {
    value_nm: 0.0,
    noise_nm: 0.0,
    systematic_u_nm: f32::MAX,
    observable: false,
    residual_ratio: 0.0,
};

impl<const N: usize> Arm<N> {
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

    /// Follows the tip along and away from the bolt axis. A tool on its bolt does neither, whatever
    /// its shape; going round the axis tells nothing.
    fn track_place(
        &mut self,
        pose: &ArmPose<N>,
        bolt_axis: Option<&MomentAxis>,
        tool_axis: &Vec3,
        dt_s: f32,
    ) {
        let (reference, origin_m) = &self.reference;
        let line = bolt_axis.copied().unwrap_or(MomentAxis {
            point_m: *origin_m,
            direction: rotate(reference, tool_axis),
        });
        let (along_m, away_m) = place(&line, &pose.tip.translation_m);
        let now_m = [along_m, away_m];
        if let (Some(last_m), true) = (self.last_place_m, dt_s > 0.0) {
            let share = dt_s / (dt_s + TIP_VELOCITY_S);
            for ((rate, now), last) in self.place_m_s.iter_mut().zip(&now_m).zip(&last_m) {
                *rate += ((now - last) / dt_s - *rate) * share;
            }
        }
        self.last_place_m = Some(now_m);
    }

    /// Rotation of the tool about the bolt and position along it, since the first sample.
    fn twist_and_advance(
        &mut self,
        pose: &ArmPose<N>,
        bolt_axis: Option<&MomentAxis>,
        tool_axis: &Vec3,
    ) -> (f32, f32) {
        let rotation = &pose.tip.rotation;
        let tip_m = &pose.tip.translation_m;
        if self.twist.is_none() {
            self.reference = (*rotation, *tip_m);
        }
        let (reference, origin_m) = &self.reference;
        // About a line in space the twist comes last, about the tool's own axis it comes first;
        // so the first is taken in the base frame, the second in the tool's.
        let (since, axis, along) = match bolt_axis {
            Some(line) => (
                mat_mul(rotation, &transposed(reference)),
                line.direction,
                line.direction,
            ),
            None => (
                mat_mul(&transposed(reference), rotation),
                *tool_axis,
                rotate(reference, tool_axis),
            ),
        };
        let twist = self.twist.get_or_insert(Twist::new(axis));
        (twist.angle_rad(&since), dot(&sub(tip_m, origin_m), &along))
    }
}

/// Position of a point along a line and its distance from it, m.
fn place(line: &MomentAxis, point_m: &Vec3) -> (f32, f32) {
    let from_m = sub(point_m, &line.point_m);
    let along_m = dot(&from_m, &line.direction);
    let away_m = norm(&sub(&from_m, &scale(&line.direction, along_m)));
    (along_m, away_m)
}
