//! From a block of samples to tool torque, tool angle and tool position, whatever they are read from. In two
//! stages, so that no sample needs to bear both.

mod arm;
mod place;

use crate::arm::ArmModel;
use crate::gather::Block;
use crate::math::{Limited, Vec3, unit};
use crate::parts::IfArm;
use crate::procedure::{BoltJob, Direction, Mode};
use crate::sample::{Context, JointSample, SpindleReading};
use crate::turn::Pause;
use crate::wrench::{AxialTorque, JointSight, MomentAxis, SideMoment, SpindleTorque};

use super::turns::Load;
use arm::Arm;

/// Time after tool or payload were taken or let go that is not judged, s: switch and load do not
/// come in the same sample.
const SETTLING_S: f32 = 0.05;
/// Spindle noise, as a part of the target, where it is neither stated nor seen.
const SPINDLE_NOISE_PART: f32 = 0.005;
/// Likewise where no target is known, N·m.
const SPINDLE_NOISE_NM: f32 = 0.02;

/// What a block says in the driving direction.
#[derive(Clone, Copy, Debug)]
pub(super) struct Reading {
    pub torque: AxialTorque,
    pub tool_rad: f32,
    pub advance_m: Option<f32>,
    /// Whether it was used for the tare, so that nothing was turned yet.
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

/// Lines in space that torque and angle are told about.
#[derive(Clone, Debug)]
struct Lines {
    /// The bolt axis, where it is stated.
    bolt: Option<MomentAxis>,
    /// Axis of the tool, tip frame.
    tool_axis: Vec3,
    tool_length_m: f32,
}

/// What the first stage hands to the second beside the arm's.
#[derive(Clone, Debug)]
struct Handed {
    spindle: Option<SpindleReading>,
    samples: u8,
    dt_s: f32,
}

/// Reads samples.
#[derive(Clone, Debug)]
pub(super) struct Source<const N: usize> {
    arm: IfArm<Arm<N>>,
    spindle: SpindleTorque,
    use_spindle: bool,
    lines: Lines,
    /// +1 or −1: from rotation about the axis to the driving direction.
    drive: f32,
    /// +1 or −1: from advance along the axis to the driving direction.
    feed: f32,
    /// +1 or −1: from the spindle's angle to the driving direction.
    spindle_count: f32,
    /// Its last angle in that direction, rad: where it stays while its reading is missing.
    spindle_rad: Option<f32>,
    tare_s: f32,
    /// Whether tool and payload were held at the block before, and how long the last change is to
    /// be waited for, s.
    held: Option<(bool, bool)>,
    settling_s: f32,
    handed: Handed,
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
                .map(|model| Arm::new(model, job, prior_moment_nm, observable_u_nm))
                .into(),
            spindle: SpindleTorque::new(&job.sensing, unknown_noise),
            lines: Lines {
                bolt: job.bolt_axis.and_then(|line| {
                    unit(&line.direction).map(|direction| MomentAxis {
                        point_m: line.point_m,
                        direction,
                    })
                }),
                tool_axis: unit(&job.tool.axis).unwrap_or([0.0, 0.0, 1.0]),
                tool_length_m: job.tool.length_m,
            },
            drive: hand * feed,
            spindle_count: if job.sensing.spindle_angle_counts_driving {
                1.0
            } else {
                hand * feed
            },
            spindle_rad: None,
            feed,
            tare_s: job.tare.duration_s,
            held: None,
            settling_s: 0.0,
            handed: Handed {
                spindle: None,
                samples: 1,
                dt_s: 0.0,
            },
        }
    }

    /// Takes over the tare of another recording and makes none of its own.
    pub fn adopt_tare(&mut self, other: &Self) {
        if let (Some(arm), Some(from)) = (self.arm.as_mut(), other.arm.as_ref()) {
            arm.wrench.adopt_tare(&from.wrench);
        }
        self.spindle.adopt_tare(&other.spindle);
        self.tare_s = 0.0;
    }

    /// Takes note of a sample that is not read on its own, but in a block with others.
    pub fn note(&mut self, sample: &JointSample<N>) {
        if let Some(arm) = self.arm.as_mut() {
            arm.note(sample);
        }
    }

    /// The first stage of a block, `since_start_s` after the first sample and `dt_s` after the block
    /// before: switches, and what the arm explains of the torques. What can wait does where this sample
    /// bears a `load`.
    pub fn explain(
        &mut self,
        block: &Block<'_, N>,
        since_start_s: f32,
        dt_s: f32,
        load: Load,
    ) -> Reading {
        let in_tare = since_start_s < self.tare_s;
        let context = &block.mean.context;
        let reading = Reading {
            taring: in_tare,
            pause: self.pause(context),
            settling: self.settle(context, dt_s),
            ..Reading::NOTHING
        };
        if let Some(arm) = self.arm.as_mut() {
            arm.explain(block, in_tare, dt_s, load);
        }
        self.handed = Handed {
            spindle: block.mean.spindle,
            samples: block.samples,
            dt_s,
        };
        reading
    }

    /// The second stage of that block: torque, angle and place, in the driving direction.
    pub fn weigh(&mut self, reading: &mut Reading) {
        let Handed {
            spindle,
            samples,
            dt_s,
        } = self.handed;
        if let Some(arm) = self.arm.as_mut() {
            arm.weigh(reading, &self.lines, dt_s);
            reading.torque.value_nm *= self.drive;
            reading.tool_rad *= self.drive;
            reading.advance_m = reading.advance_m.map(|m| m * self.feed);
        }
        if !self.use_spindle {
            return;
        }
        if let Some(SpindleReading {
            angle_rad,
            torque_nm,
        }) = spindle
        {
            reading.taring = reading.taring && self.spindle.tare(angle_rad, torque_nm, samples);
            if !reading.taring {
                // Once it has turned, what follows is no tare, whatever the clock says.
                self.tare_s = 0.0;
            }
            reading.torque = AxialTorque {
                residual_ratio: reading.torque.residual_ratio,
                ..self.spindle.axial_torque(torque_nm, samples)
            };
            reading.torque.value_nm *= self.drive;
            self.spindle_rad = Some(angle_rad * self.spindle_count);
        } else if self.spindle_rad.is_some() {
            // What the arm reads meanwhile is another sensor's.
            reading.torque = AxialTorque {
                residual_ratio: reading.torque.residual_ratio,
                ..Reading::NOTHING.torque
            };
        }
        reading.tool_rad += self.spindle_rad.unwrap_or(0.0);
    }

    /// What each joint said in the last block, base first; empty without an arm.
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

impl Reading {
    /// That of a block which carries neither arm nor spindle.
    pub const NOTHING: Self = Self {
        torque: AxialTorque {
            value_nm: 0.0,
            noise_nm: 0.0,
            systematic_u_nm: f32::MAX,
            observable: false,
            residual_ratio: 0.0,
        },
        tool_rad: 0.0,
        advance_m: None,
        taring: false,
        pause: None,
        settling: false,
        side: None,
        free_motion: false,
    };
}
