//! What holds of a monitor whatever is read.

use bolting_monitor::monitor::{Monitor, Update};
use bolting_monitor::procedure::Verdict;

/// Looks at every update of a run.
#[derive(Default)]
pub struct Watch {
    stopped: bool,
}

impl Watch {
    pub fn new() -> Self {
        Self::default()
    }

    /// Panics where an update breaks a promise.
    pub fn look(&mut self, update: &Update) {
        assert!(
            update.torque_nm.is_finite() && update.angle_rad.is_finite(),
            "{update:?}"
        );
        assert!(
            update.torque_u_nm >= 0.0 && update.angle_u_rad >= 0.0,
            "{update:?}"
        );
        self.stopped |= update.finding.is_some_and(|finding| finding.stops());
        assert!(
            !(self.stopped && update.permitted),
            "permitted after a stop: {update:?}"
        );
        if let Some(finding) = &update.finding {
            // An uncertainty may be without bound.
            assert!(
                !finding.value.is_nan() && finding.limit.is_finite(),
                "{finding:?}"
            );
        }
    }

    /// Panics where the verdict does.
    pub fn finish<const N: usize, const B: usize>(&self, monitor: &Monitor<N, B>) {
        let summary = monitor.summary();
        assert!(
            !(self.stopped && summary.verdict == Verdict::Accepted),
            "a stopped run was accepted: {summary:?}"
        );
        let _ = (monitor.finish(), monitor.snug_point());
    }
}
