//! The bolt turns with its nut or insert: it drags on, never comes loose and does not come out.

use crate::fastener::ExpectedRun;
use crate::math::TAU;

use super::super::{Cause, Detection, FindingKind, Quantity, WRONG_FEATURE};
use super::grips::Grips;
use super::outward::Advance;
use super::{FELT_SIGMA, Undone};

/// Bolt angle after which an arm tells whether a bolt comes out, if it ever does, rad.
const ARM_TELLS_RAD: f32 = 1.5 * TAU;

/// So much of what broke the bolt loose is no thread that runs freely (common practice, no source).
const DRAG_PART: f32 = 0.1;
/// Margin above what a wrong locking feature takes, in standard uncertainties.
const SIGMA: f32 = 3.0;

/// Detector of bolts that turn together with their nut or insert.
#[derive(Clone, Copy, Debug, Default)]
pub struct TurningTogether {
    above_from_rad: Option<f32>,
    found: bool,
}

impl TurningTogether {
    /// Looks at the run so far.
    pub fn look(&mut self, run: &Undone<'_>) -> Option<Detection> {
        let grips = run.grips;
        let above_rad = self.above_rad(run);
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
            // An arm would tell a little later.
            // Or, however much broke it loose: a turn beyond all that the joint may give back, at more than
            // a wrong locking feature takes.
            Advance::Unknown if above_rad >= TAU + softest_rad(run) => {
                (above_rad, TAU + softest_rad(run))
            }
            Advance::Unknown if grips.torque_nm > ceiling_nm => {
                let least_rad = if run.seen_by_arm { ARM_TELLS_RAD } else { TAU };
                (grips.dragged_rad(), least_rad)
            }
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

    /// Bolt angle since the torque has stayed above what a wrong locking feature takes, where a band is
    /// stated.
    fn above_rad(&mut self, run: &Undone<'_>) -> f32 {
        let (grips, expected) = (run.grips, run.expected);
        let most_nm = (WRONG_FEATURE * expected.ceiling_nm + SIGMA * grips.torque_u_nm)
            .max(DRAG_PART * grips.peak.nm);
        if !expected.ceiling_stated || !(grips.torque_nm > most_nm) {
            self.above_from_rad = None;
            return 0.0;
        }
        grips.angle_rad - *self.above_from_rad.get_or_insert(grips.angle_rad)
    }
}

/// Whether it takes more, by best estimate, than a thread on its way out: than its locking feature may, and
/// than one without does.
pub fn may_turn(grips: &Grips, expected: &ExpectedRun) -> bool {
    let most_nm = if expected.ceiling_stated {
        expected.ceiling_nm
    } else {
        expected.ceiling_nm.max(DRAG_PART * grips.peak.nm)
    };
    grips.torque_nm > most_nm.max(FELT_SIGMA * grips.torque_u_nm)
}

/// Largest angle over which the joint gives its torque back, rad.
fn softest_rad(run: &Undone<'_>) -> f32 {
    (run.expected.elastic_rad).map_or(TAU, |band| band.max.min(TAU))
}
