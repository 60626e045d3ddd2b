//! Galling on run-out: a loose thread takes more and more torque, where it should take less.

use super::super::{Cause, Detection, FindingKind, Quantity};
use super::Undone;
use super::grips::LOOSE_PART;

/// Bolt angle over which the torque must stay up, rad (30°): a burr passes.
const LASTING_RAD: f32 = core::f32::consts::FRAC_PI_6;
/// Growth from the lowest torque of the loose thread that is none of its grain.
const GROWTH: f32 = 1.5;
/// Least torque that does harm, as a part of what broke the bolt loose: friction drifts by less (common
/// practice, no source).
const HARMS_PART: f32 = 0.03;
/// Margin above a stated band, in standard uncertainties.
const MARGIN_SIGMA: f32 = 3.0;

/// Detector of threads that gall while they run out.
#[derive(Clone, Copy, Debug, Default)]
pub struct RunOutGalling {
    lowest_nm: Option<f32>,
    above_from_rad: Option<f32>,
    found: bool,
}

impl RunOutGalling {
    /// Looks at the run so far.
    pub fn look(&mut self, run: &Undone<'_>) -> Option<Detection> {
        let grips = run.grips;
        let ceiling_nm = run.expected.ceiling_nm + MARGIN_SIGMA * grips.torque_u_nm;
        if self.found || !run.loose {
            return None;
        }
        let lowest_nm = self
            .lowest_nm
            .map_or(grips.torque_nm, |l| l.min(grips.torque_nm));
        self.lowest_nm = Some(lowest_nm);
        let band_nm = if run.expected.ceiling_stated {
            ceiling_nm
        } else {
            // Neither the loose thread nor any locking feature of the size takes as much.
            ceiling_nm.max(LOOSE_PART * grips.peak.nm)
        };
        let limit = (band_nm.max(GROWTH * lowest_nm)).max(HARMS_PART * grips.peak.nm);
        if !(grips.torque_nm > limit) {
            self.above_from_rad = None;
            return None;
        }
        let from_rad = *self.above_from_rad.get_or_insert(grips.angle_rad);
        if grips.angle_rad - from_rad < LASTING_RAD {
            return None;
        }
        self.found = true;
        Some(Detection {
            kind: FindingKind::Galling,
            quantity: Quantity::TorqueNm,
            value: grips.torque_nm,
            limit,
            place: None,
            likely: Some(Cause::GallingThread),
            runner_up: Some(Cause::Debris),
        })
    }
}
