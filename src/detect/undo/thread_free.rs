//! The last thread has left: the bolt is loose in the socket and may drop.
//!
//! One that is seen to turn without coming out has left no thread, whatever turns were stated. Where that
//! is not seen, the stated turns stand alone, and the finding says that the bolt may also be broken.

use super::super::{Detection, FindingKind, Quantity};
use super::Undone;
use super::breakaway::in_doubt;
use super::outward::{Advance, COMES_OUT_RATIO};

/// Detector of the end of the thread. A statement, no alarm.
#[derive(Clone, Copy, Debug, Default)]
pub struct ThreadFree {
    found: bool,
}

impl ThreadFree {
    /// Looks at the run so far.
    pub fn look(&mut self, run: &Undone<'_>) -> Option<Detection> {
        let grips = run.grips;
        let stays = run.advance == Advance::Stands && !run.came_out;
        if self.found || stays || !run.loose || !grips.is_idle() {
            return None;
        }
        // An arm that sees the bolt stop coming out goes before the turns that were stated.
        let (quantity, value, limit) = match (run.known.free_rad, run.stood_for_a_turn) {
            (_, Some(ratio)) if run.came_out => (Quantity::AdvanceRatio, ratio, COMES_OUT_RATIO),
            (Some(limit), _) if grips.angle_rad >= limit => {
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
            place: None,
            likely: None,
            runner_up: in_doubt(run),
        })
    }
}
