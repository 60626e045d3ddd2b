//! The one place that knows the monitor: from a plan to a running monitor, with an arm or with a
//! spindle alone.

use bolting_monitor::arm::ArmDescription;
use bolting_monitor::detect::Finding;
use bolting_monitor::monitor::{Monitor, Update};
use bolting_monitor::procedure::{BoltJob, RunSummary, Snug, Turn};
use bolting_monitor::wire::{Plan, Sample};

/// Joints of the arm that this firmware is built for.
pub const JOINTS: usize = 7;
/// Room for the plan's bytes: some 140 for each joint, 300 for the bolt, 30 for each pass.
pub const PLAN_BYTES: usize = 2048;

/// A run under way.
#[allow(clippy::large_enum_variant, reason = "no heap to box on")]
pub enum Session {
    /// An arm of [`JOINTS`] joints.
    Arm(Monitor<JOINTS>),
    /// A powered spindle alone.
    Spindle(Monitor<0>),
}

impl Session {
    /// Whether a monitor would take the first turn of a plan.
    pub fn takes(plan: &Plan) -> bool {
        plan.procedure
            .job(&plan.job, Turn::default())
            .is_some_and(|job| match &plan.arm {
                Some(arm) => Monitor::<JOINTS>::check(&job, Some(arm)).is_ok(),
                None => Monitor::<0>::check(&job, None).is_ok(),
            })
    }

    /// Begins a run of one bolt in one pass in `slot`; `None`, and no run, if the plan has no such
    /// turn or the monitor refuses it.
    ///
    /// A monitor is large: it is made where it stays, with one copy on the way, and never on the
    /// stack of the loop.
    pub fn begin(slot: &mut Option<Self>, plan: &Plan, turn: Turn) -> Option<()> {
        *slot = None;
        let job = plan.procedure.job(&plan.job, turn)?;
        match &plan.arm {
            Some(arm) => Self::begin_arm(slot, &job, arm),
            None => Self::begin_spindle(slot, &job),
        }
    }

    #[inline(never)]
    fn begin_arm(slot: &mut Option<Self>, job: &BoltJob, arm: &ArmDescription) -> Option<()> {
        *slot = Some(Self::Arm(Monitor::try_new(job, Some(arm)).ok()?));
        Some(())
    }

    #[inline(never)]
    fn begin_spindle(slot: &mut Option<Self>, job: &BoltJob) -> Option<()> {
        *slot = Some(Self::Spindle(Monitor::try_new(job, None).ok()?));
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

    /// What only the end of the run tells.
    pub fn finish(&self) -> Option<Finding> {
        match self {
            Self::Arm(monitor) => monitor.finish(),
            Self::Spindle(monitor) => monitor.finish(),
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
