//! From a sample to tool torque, tool angle and tool position, whatever they are read from.

use crate::arm::{ArmModel, ArmPose};
use crate::math::{IDENTITY, Mat3, Vec3, dot, mat_mul, rotate, sub, transposed, unit};
use crate::procedure::{BoltJob, Direction, Mode};
use crate::sample::JointSample;
use crate::turn::Twist;
use crate::wrench::{ArmReading, AxialTorque, JointWrench, MomentAxis, SpindleTorque};

/// Time constant of velocities taken from positions, s.
const VELOCITY_S: f32 = 0.008;
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
}

/// Reads samples.
#[derive(Clone, Debug)]
pub(super) struct Source<const N: usize> {
    arm: Option<Arm<N>>,
    spindle: SpindleTorque,
    use_spindle: bool,
    bolt_axis: Option<MomentAxis>,
    tool_axis: Vec3,
    /// +1 or −1: from rotation about the axis to the driving direction.
    drive: f32,
    /// +1 or −1: from advance along the axis to the driving direction.
    feed: f32,
    /// +1 or −1: from the spindle's angle to the driving direction.
    spindle_count: f32,
    tare_s: f32,
}

impl<const N: usize> Source<N> {
    pub fn new(
        job: &BoltJob,
        arm: Option<ArmModel<N>>,
        prior_moment_nm: f32,
        observable_u_nm: f32,
    ) -> Self {
        let hand = if job.left_hand { -1.0 } else { 1.0 };
        let feed = match job.direction {
            Direction::Tighten => 1.0,
            Direction::Undo => -1.0,
        };
        let unknown_noise = job
            .target_torque_nm
            .map_or(SPINDLE_NOISE_NM, |t| t * SPINDLE_NOISE_PART);
        Self {
            use_spindle: job.mode == Mode::PoweredSpindle || arm.is_none(),
            arm: arm.map(|model| Arm {
                wrench: JointWrench::new(&model, &job.sensing, prior_moment_nm, observable_u_nm),
                model,
                twist: None,
                reference: (IDENTITY, [0.0; 3]),
                last_position_rad: [0.0; N],
                velocity_rad_s: [0.0; N],
            }),
            spindle: SpindleTorque::new(&job.sensing, unknown_noise),
            bolt_axis: job.bolt_axis.and_then(|line| {
                unit(&line.direction).map(|direction| MomentAxis {
                    point_m: line.point_m,
                    direction,
                })
            }),
            tool_axis: unit(&job.tool.axis).unwrap_or([0.0, 0.0, 1.0]),
            drive: hand * feed,
            spindle_count: if job.sensing.spindle_angle_counts_driving {
                1.0
            } else {
                hand * feed
            },
            feed,
            tare_s: job.tare.duration_s,
        }
    }

    /// Takes over the tare of another recording and makes none of its own.
    pub fn adopt_tare(&mut self, other: &Self) {
        if let (Some(arm), Some(from)) = (&mut self.arm, &other.arm) {
            arm.wrench.adopt_tare(&from.wrench);
        }
        self.tare_s = 0.0;
    }

    /// Reads one sample, `since_start_s` after the first and `dt_s` after the one before.
    pub fn read(&mut self, sample: &JointSample<N>, since_start_s: f32, dt_s: f32) -> Reading {
        let in_tare = since_start_s < self.tare_s;
        let mut reading = Reading {
            torque: NOTHING_READ,
            tool_rad: 0.0,
            advance_m: None,
            taring: in_tare,
        };
        if let Some(arm) = &mut self.arm {
            let pose = arm.model.pose(
                &sample.position_rad,
                sample.context.tool_held,
                sample.context.payload_held,
            );
            arm.track_velocity(sample, dt_s);
            let friction = arm.model.friction(&arm.velocity_rad_s);
            let inputs = ArmReading {
                pose: &pose,
                torque_nm: &sample.torque_nm,
                friction: &friction,
                wrist: sample.wrist.as_ref(),
            };
            if in_tare {
                arm.wrench.tare(&arm.model, &inputs);
            }
            let axis = self.bolt_axis.unwrap_or(MomentAxis {
                point_m: pose.tip.translation_m,
                direction: rotate(&pose.tip.rotation, &self.tool_axis),
            });
            reading.torque = arm.wrench.axial_torque(&arm.model, &inputs, &axis);
            reading.torque.value_nm *= self.drive;
            let (twist_rad, advance_m) =
                arm.twist_and_advance(&pose, self.bolt_axis.as_ref(), &self.tool_axis);
            reading.tool_rad = twist_rad * self.drive;
            reading.advance_m = Some(advance_m * self.feed);
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
