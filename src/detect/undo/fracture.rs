//! A bolt that has broken: the torque has gone within a few degrees, and nothing of a thread is left.
//!
//! A hard joint breaks loose as suddenly. What tells them apart is what remains: a bolt that was
//! broken loose comes out turn by turn and keeps the drag of its thread. Without either witness (an
//! arm that tells the advance, or a stated least prevailing torque) nothing is said.

use super::super::{Cause, Detection, FindingKind, Quantity};
use super::grips::{GONE_PART, Grips};
use super::{Advance, QUARTER_RAD, Undone};

/// Angle within which the torque of a breaking bolt goes, rad (20°; starting figure of the signature
/// table, from memory: 5° to 20°).
const SUDDEN_RAD: f32 = 0.35;

/// Detector of bolts that break while they are undone.
#[derive(Clone, Copy, Debug, Default)]
pub struct UndoFracture {
    found: bool,
}

impl UndoFracture {
    /// Looks at the run so far.
    pub fn look(&mut self, run: &Undone<'_>) -> Option<Detection> {
        let grips = run.grips;
        let least_drag_nm = run.known.least_drag_nm;
        let missing = grips.torque_nm + 2.0 * grips.torque_u_nm < least_drag_nm;
        let unthreaded = match run.advance {
            // A thread that was seen to come out and then stands has come to its end.
            Advance::Stands => !run.came_out,
            Advance::BacksOut => false,
            Advance::Unknown => missing,
        };
        if self.found || !unthreaded || !broke_off(grips) || grips.quiet_rad() < QUARTER_RAD {
            return None;
        }
        self.found = true;
        Some(Detection {
            kind: FindingKind::Fracture,
            quantity: Quantity::DropNm,
            value: grips.highest_nm - grips.torque_nm,
            limit: (1.0 - GONE_PART) * grips.highest_nm,
            likely: Some(Cause::BrokenBolt),
            runner_up: Some(Cause::WornDrive),
        })
    }
}

/// Whether the torque has gone suddenly and stayed away.
pub(super) fn broke_off(grips: &Grips) -> bool {
    grips
        .gone_rad
        .is_some_and(|gone| gone - grips.last_held_rad <= SUDDEN_RAD)
        && grips.torque_nm <= (GONE_PART * grips.highest_nm).max(2.0 * grips.torque_u_nm)
}
