//! The last thread has left: the bolt is loose in the socket and may drop.

use super::super::{Detection, FindingKind, Quantity};
use super::grips::GONE_PART;
use super::{Advance, Undone};

/// Detector of the end of the thread. A statement, no alarm.
#[derive(Clone, Copy, Debug, Default)]
pub struct ThreadFree {
    found: bool,
}

impl ThreadFree {
    /// Looks at the run so far.
    pub fn look(&mut self, run: &Undone<'_>) -> Option<Detection> {
        let grips = run.grips;
        let idle_nm = (GONE_PART * grips.highest_nm).max(2.0 * grips.torque_u_nm);
        if self.found || !run.loose || grips.torque_nm > idle_nm {
            return None;
        }
        // An arm sees the bolt stop coming out; a spindle alone has to be told the turns.
        let (quantity, value, limit) = match (run.advance, run.known.run_out_rad) {
            (Advance::Stands, _) if run.came_out => {
                let (ratio, _) = run.advance_ratio?;
                (Quantity::AdvanceRatio, ratio, super::COMES_OUT_RATIO)
            }
            (Advance::Unknown, Some(limit)) if grips.angle_rad >= limit => {
                (Quantity::AngleRad, grips.angle_rad, limit)
            }
            _ => return None,
        };
        self.found = true;
        Some(Detection {
            kind: FindingKind::ThreadFree,
            quantity,
            value,
            limit,
            likely: None,
            runner_up: None,
        })
    }
}
