//! The one place that knows the monitor: from a plan to a running monitor, with an arm or with a
//! spindle alone.

use bolting_monitor::detect::Finding;
use bolting_monitor::monitor::{Monitor, Update};
use bolting_monitor::parts::Part;
use bolting_monitor::procedure::{RunSummary, Snug, Turn};
use bolting_monitor::sample::JointSample;
use bolting_monitor::wire::{Plan, Sample};

/// Joints of the arm that this firmware is built for.
pub const JOINTS: usize = if Part::Arm.is_built_in() { 7 } else { 0 };
/// Room for the plan's bytes: some 140 for each joint, 300 for the bolt, 30 for each pass.
pub const PLAN_BYTES: usize = 2048;

/// A run under way, of an arm of [`JOINTS`] joints or of a spindle alone.
///
/// One monitor serves both, as `Monitor<0>` would a spindle: a second one costs as much flash again.
pub struct Session {
    monitor: Monitor<JOINTS>,
    has_arm: bool,
}

impl Session {
    /// Whether a monitor would take the first turn of a plan.
    pub fn takes(plan: &Plan) -> bool {
        plan.procedure
            .job(&plan.job, Turn::default())
            .is_some_and(|job| Monitor::<JOINTS>::check(&job, plan.arm.as_ref()).is_ok())
    }

    /// Begins a run of one bolt in one pass in `slot`; `None`, and no run, if the plan has no such
    /// turn or the monitor refuses it.
    ///
    /// A monitor is large: it is made where it stays, and never on the stack of the loop.
    #[inline(never)]
    pub fn begin(slot: &mut Option<Self>, plan: &Plan, turn: Turn) -> Option<()> {
        *slot = None;
        let job = plan.procedure.job(&plan.job, turn)?;
        *slot = Some(Self {
            monitor: Monitor::try_new(&job, plan.arm.as_ref()).ok()?,
            has_arm: plan.arm.is_some(),
        });
        Some(())
    }

    /// One sample; `None` if it has other joints than the job.
    pub fn update(&mut self, sample: &Sample) -> Option<Update> {
        let sample = if self.has_arm {
            sample.joints()?
        } else {
            let spindle = sample.joints::<0>()?;
            JointSample {
                spindle: spindle.spindle,
                context: spindle.context,
                ..JointSample::new(spindle.time_us, [0.0; JOINTS], [0.0; JOINTS])
            }
        };
        Some(self.monitor.update(&sample))
    }

    /// The snug point as far as it is known.
    pub fn snug_point(&self) -> Option<Snug> {
        self.monitor.snug_point()
    }

    /// What only the end of the run tells.
    pub fn finish(&self) -> Option<Finding> {
        self.monitor.finish()
    }

    /// The answer for the run.
    pub fn summary(&self) -> RunSummary {
        self.monitor.summary()
    }
}
