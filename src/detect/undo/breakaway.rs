//! The bolt has broken loose: the torque has gone through its peak and lies low and level since.

use super::super::{Detection, FindingKind, Quantity};
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
            runner_up: None,
        })
    }
}
