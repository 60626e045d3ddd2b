//! The one place that knows the monitor: from job bytes to a running monitor, with an arm or with a
//! spindle alone.

use bolting_monitor::arm::ArmDescription;
use bolting_monitor::monitor::{Monitor, Update};
use bolting_monitor::procedure::{BoltJob, RunSummary, Snug};
use bolting_monitor::wire::Sample;
use heapless::String;
use serde::Deserialize;

/// Joints of the arm that this firmware is built for.
pub const JOINTS: usize = 7;
/// Room for the job's bytes: some 140 for each joint and 300 for the bolt.
pub const JOB_BYTES: usize = 2048;
/// A job that was read: what the host made in postcard's format.
#[derive(Deserialize)]
pub struct Job {
    job: BoltJob,
    arm: Option<ArmDescription>,
}

impl Job {
    /// Reads the bytes that the host made.
    pub fn read(bytes: &[u8]) -> Option<Self> {
        postcard::from_bytes(bytes).ok()
    }

    /// Whether a monitor would take it.
    pub fn is_sound(&self) -> bool {
        match &self.arm {
            Some(arm) => Monitor::<JOINTS>::check(&self.job, Some(arm)).is_ok(),
            None => Monitor::<0>::check(&self.job, None).is_ok(),
        }
    }

    /// Name of the bolt.
    pub fn name(&self) -> &String<32> {
        &self.job.name
    }

    /// Whether joints are read; else a powered spindle alone.
    pub fn has_arm(&self) -> bool {
        self.arm.is_some()
    }

    /// Torque that is asked for, N·m; out of reach where none is.
    pub fn target_nm(&self) -> f32 {
        self.job.target_torque_nm.unwrap_or(f32::INFINITY)
    }
}

/// A run under way.
#[allow(clippy::large_enum_variant, reason = "no heap to box on")]
pub enum Session {
    /// An arm of [`JOINTS`] joints.
    Arm(Monitor<JOINTS>),
    /// A powered spindle alone.
    Spindle(Monitor<0>),
}

impl Session {
    /// Begins a run of `job` in `slot`; `None`, and no run, if the monitor refuses it.
    ///
    /// A monitor is large: it is made where it stays, with one copy on the way, and never on the
    /// stack of the loop.
    pub fn begin(slot: &mut Option<Self>, job: &Job) -> Option<()> {
        *slot = None;
        match &job.arm {
            Some(arm) => Self::begin_arm(slot, job, arm),
            None => Self::begin_spindle(slot, job),
        }
    }

    #[inline(never)]
    fn begin_arm(slot: &mut Option<Self>, job: &Job, arm: &ArmDescription) -> Option<()> {
        *slot = Some(Self::Arm(Monitor::try_new(&job.job, Some(arm)).ok()?));
        Some(())
    }

    #[inline(never)]
    fn begin_spindle(slot: &mut Option<Self>, job: &Job) -> Option<()> {
        *slot = Some(Self::Spindle(Monitor::try_new(&job.job, None).ok()?));
        Some(())
    }

    /// One sample; `None` if it has other joints than the job.
    pub fn update(&mut self, sample: &Sample) -> Option<Update> {
        match self {
            Self::Arm(monitor) => Some(monitor.update(&sample.joints()?)),
            Self::Spindle(monitor) => Some(monitor.update(&sample.joints()?)),
        }
    }

    /// The snug point as far as it is known.
    pub fn snug_point(&self) -> Option<Snug> {
        match self {
            Self::Arm(monitor) => monitor.snug_point(),
            Self::Spindle(monitor) => monitor.snug_point(),
        }
    }

    /// The answer for the run.
    pub fn summary(&self) -> RunSummary {
        match self {
            Self::Arm(monitor) => monitor.summary(),
            Self::Spindle(monitor) => monitor.summary(),
        }
    }
}
