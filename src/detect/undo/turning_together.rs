//! The bolt turns with its nut or insert: it drags on, never comes loose and does not come out.

use crate::math::TAU;

use super::super::{Cause, Detection, FindingKind, Quantity};
use super::Undone;
use super::outward::Advance;

/// Detector of bolts that turn together with their nut or insert.
#[derive(Clone, Copy, Debug, Default)]
pub struct TurningTogether {
    found: bool,
}

impl TurningTogether {
    /// Looks at the run so far.
    pub fn look(&mut self, run: &Undone<'_>) -> Option<Detection> {
        let grips = run.grips;
        let ceiling_nm = run.expected.ceiling_nm;
        let drags = grips.torque_nm > 4.0 * grips.torque_u_nm;
        if self.found || !drags || run.came_out {
            return None;
        }
        let (value, limit) = match run.advance {
            // Seen not to come out: level drag over half a turn is enough.
            Advance::Stands => (grips.held_rad(), 0.5 * TAU),
            // Not told: a full turn that takes more than any locking feature may, and all the time more
            // than a thread that has come loose. The softest joint gives half its torque back in less.
            Advance::Unknown if grips.torque_nm > ceiling_nm => (grips.dragged_rad(), TAU),
            Advance::Unknown | Advance::BacksOut => return None,
        };
        if !(value >= limit) {
            return None;
        }
        self.found = true;
        Some(Detection {
            kind: FindingKind::TurningTogether,
            quantity: Quantity::AngleRad,
            value,
            limit,
            place: None,
            likely: Some(Cause::TurningTogether),
            runner_up: Some(Cause::WornDrive),
        })
    }
}
