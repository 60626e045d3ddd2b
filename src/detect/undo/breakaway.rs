//! The bolt has broken loose: the torque has gone through its peak and lies low and level since.
//!
//! A bolt whose head has come off turns as freely: unless it is felt to drag in its thread, or seen to
//! come out, the finding says that it may also be broken.

use super::super::{Cause, Detection, FindingKind, Quantity};
use super::Undone;
use super::outward::Advance;

/// Detector of the breakaway. A statement, no alarm: it gives the torque at which the bolt broke
/// loose, as a part of the recorded tightening torque where that is known.
#[derive(Clone, Copy, Debug, Default)]
pub struct Breakaway {
    found: bool,
}

impl Breakaway {
    /// Looks at the run so far.
    pub fn look(&mut self, run: &Undone<'_>) -> Option<Detection> {
        if self.found || !run.loose || run.advance == Advance::Stands {
            return None;
        }
        self.found = true;
        let grips = run.grips;
        let (quantity, per) = match run.known.recorded_nm {
            Some(recorded) if recorded > 0.0 => (Quantity::TorqueRatio, 1.0 / recorded),
            _ => (Quantity::TorqueNm, 1.0),
        };
        Some(Detection {
            kind: FindingKind::Breakaway,
            quantity,
            value: grips.peak.nm * per,
            limit: super::grips::LOOSE_PART * grips.peak.nm * per,
            place: None,
            likely: None,
            runner_up: in_doubt(run),
        })
    }
}

/// That it may also have broken, where no thread is felt and it is not seen to come out.
pub fn in_doubt(run: &Undone<'_>) -> Option<Cause> {
    (!run.came_out && run.grips.is_idle()).then_some(Cause::BrokenBolt)
}
