//! What a host says. Fields travel in the order of declaration: a type here is never changed, only
//! replaced by a new one under a new number.

use heapless::Vec;
use serde::{Deserialize, Serialize};

use crate::procedure::Turn;
use crate::sample::{Context, JointSample, SpindleReading, WristReading};

/// Most joints a [`Sample`] carries: those of an arm.
pub use crate::arm::MAX_JOINTS;

/// One reading of the arm, any number of joints up to [`MAX_JOINTS`] (kind 64).
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Sample {
    /// Time since any fixed origin, µs.
    pub time_us: u64,
    /// Joint positions, rad.
    pub position_rad: Vec<f32, MAX_JOINTS>,
    /// Joint velocities, rad/s.
    pub velocity_rad_s: Option<Vec<f32, MAX_JOINTS>>,
    /// Joint torques, N·m.
    pub torque_nm: Vec<f32, MAX_JOINTS>,
    /// Reading of a force–torque sensor.
    pub wrist: Option<WristReading>,
    /// Reading of a powered spindle.
    pub spindle: Option<SpindleReading>,
    /// Switches and settings.
    pub context: Context,
}

impl Sample {
    /// The message for a sample; `None` if it has more than [`MAX_JOINTS`] joints.
    pub fn new<const N: usize>(sample: &JointSample<N>) -> Option<Self> {
        let list = |v: &[f32; N]| Vec::from_slice(v).ok();
        Some(Self {
            time_us: sample.time_us,
            position_rad: list(&sample.position_rad)?,
            velocity_rad_s: match &sample.velocity_rad_s {
                Some(v) => Some(list(v)?),
                None => None,
            },
            torque_nm: list(&sample.torque_nm)?,
            wrist: sample.wrist,
            spindle: sample.spindle,
            context: sample.context,
        })
    }

    /// The sample in this message; `None` if it is not of `N` joints.
    pub fn joints<const N: usize>(&self) -> Option<JointSample<N>> {
        let array = |v: &Vec<f32, MAX_JOINTS>| <[f32; N]>::try_from(v.as_slice()).ok();
        Some(JointSample {
            time_us: self.time_us,
            position_rad: array(&self.position_rad)?,
            velocity_rad_s: match &self.velocity_rad_s {
                Some(v) => Some(array(v)?),
                None => None,
            },
            torque_nm: array(&self.torque_nm)?,
            wrist: self.wrist,
            spindle: self.spindle,
            context: self.context,
        })
    }
}

/// A retained message arrived (kind 65). For an alarm: it and its evidence did.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Ack {
    /// The [`Hello::boot_id`](super::Hello::boot_id) under which it was received: ids begin again at every boot.
    pub boot_id: u32,
    /// Id of the message.
    pub id: u8,
}

/// Begin a run of the first bolt in the first pass (kind 67), as [`StartTurn`] of the two.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Start;

/// End the run: the summary follows (kind 68).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Finish;

/// Lift the latch of the permit output after a stop, on someone's explicit word (kind 69). Beginning
/// a run does not lift it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct LiftStop;

/// Begin a run of one bolt in one pass of the loaded plan (kind 70); its first sample is the next
/// one.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct StartTurn {
    /// The bolt and the pass.
    pub turn: Turn,
}
