//! The one place that knows the monitor: from job bytes to a running monitor, with an arm or with a
//! spindle alone.

use bolting_monitor::monitor::Update;
use bolting_monitor::procedure::RunSummary;
use bolting_monitor::wire::Sample;
use heapless::String;

use crate::stand_in::{Monitor, MonitorDescription};

/// Joints of the arm that this firmware is built for.
pub const JOINTS: usize = 7;
/// Room for the job's bytes: some 140 for each joint and 300 for the bolt.
pub const JOB_BYTES: usize = 2048;
/// Angle steps that the curve is kept in.
const BINS: usize = 256;

/// A job that was read.
pub struct Job(MonitorDescription);

impl Job {
    /// Reads the bytes that the host made: a `MonitorDescription` in postcard's format.
    pub fn read(bytes: &[u8]) -> Option<Self> {
        postcard::from_bytes(bytes).ok().map(Self)
    }

    /// Name of the bolt.
    pub fn name(&self) -> &String<32> {
        &self.0.job.name
    }

    /// Whether joints are read; else a powered spindle alone.
    pub fn has_arm(&self) -> bool {
        self.0.arm.is_some()
    }
}

/// A run under way.
#[allow(clippy::large_enum_variant, reason = "no heap to box on")]
pub enum Session {
    /// An arm of [`JOINTS`] joints.
    Arm(Monitor<JOINTS, BINS>),
    /// A powered spindle alone.
    Spindle(Monitor<0, BINS>),
}

impl Session {
    /// A run of `job`; `None` if the monitor refuses it.
    pub fn new(job: &Job) -> Option<Self> {
        if job.has_arm() {
            Monitor::try_new(&job.0).ok().map(Self::Arm)
        } else {
            Monitor::try_new(&job.0).ok().map(Self::Spindle)
        }
    }

    /// One sample; `None` if it has other joints than the job.
    pub fn update(&mut self, sample: &Sample) -> Option<Update> {
        match self {
            Self::Arm(monitor) => Some(monitor.update(&sample.joints()?)),
            Self::Spindle(monitor) => Some(monitor.update(&sample.joints()?)),
        }
    }

    /// The answer for the run.
    pub fn finish(mut self) -> RunSummary {
        match &mut self {
            Self::Arm(monitor) => monitor.finish(),
            Self::Spindle(monitor) => monitor.finish(),
        }
    }
}
