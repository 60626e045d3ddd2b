//! Axial advance per turn: the witness that does not depend on torque.
//!
//! A straight thread advances by its pitch each turn, a crossed one does not, a stripped one turns
//! without advancing.

use crate::math::{Limited, TAU, sqrt};

/// Angle over which the past is forgotten (half a turn).
const MEMORY_RAD: f32 = core::f32::consts::PI;
/// Weighted spread of angle below which no ratio is told, rad (a stretch of half a turn has 0.91): over
/// less, a hand may wander one way all along.
const LEAST_SPREAD_RAD: f32 = 0.9;
/// A ratio with a larger standard error tells nothing.
const LARGEST_U: f32 = 0.25;
/// Part of the scatter that the way must be off its line by before it counts as on that side of it.
const OFF_PART: f32 = 0.5;

/// Regression of the tool's position along the bolt on the bolt angle, forgetting over
/// half a turn of bolt.
///
/// A hand that presses the tool wanders to and fro along the bolt, over some ten degrees to a quarter
/// turn: the steps are far from independent. So they count as many as there are ways from one side of
/// the line to the other, and the standard error follows the wander that the run itself shows.
#[derive(Clone, Copy, Debug, Default)]
pub struct AdvanceTracker {
    weight: f32,
    angle_mean: f32,
    advance_mean: f32,
    angle_square: f32,
    product: f32,
    advance_square: f32,
    /// Changes of side, and whether the last step that was clearly off the line was above it.
    changes: f32,
    above: Option<bool>,
}

impl AdvanceTracker {
    /// Adds one angle step: mean bolt angle (rad), mean position along the axis (m), width (rad).
    pub fn add(&mut self, angle_rad: f32, advance_m: f32, width_rad: f32) {
        self.forget(width_rad);
        self.add_for_good(angle_rad, advance_m, width_rad);
    }

    fn forget(&mut self, width_rad: f32) {
        let keep = MEMORY_RAD / (MEMORY_RAD + width_rad.at_least(0.0));
        self.weight *= keep;
        self.angle_square *= keep;
        self.product *= keep;
        self.advance_square *= keep;
        self.changes *= keep;
    }

    /// Likewise, and forgets nothing: the advance of the run as a whole.
    pub fn add_for_good(&mut self, angle_rad: f32, advance_m: f32, width_rad: f32) {
        let w = width_rad;
        self.weight += w;
        if self.weight <= 0.0 {
            return;
        }
        let share = w / self.weight;
        let da = angle_rad - self.angle_mean;
        let dz = advance_m - self.advance_mean;
        if let Some((slope, residual)) = self.line() {
            let off = dz - slope * da;
            if off * off > OFF_PART * OFF_PART * residual {
                let turned = self
                    .above
                    .replace(off > 0.0)
                    .is_some_and(|a| a != (off > 0.0));
                self.changes += if turned { 1.0 } else { 0.0 };
            }
        }
        self.angle_mean += da * share;
        self.advance_mean += dz * share;
        let rest = w * (1.0 - share);
        self.angle_square += rest * da * da;
        self.product += rest * da * dz;
        self.advance_square += rest * dz * dz;
    }

    /// Slope, m/rad, and mean square of what it leaves over, m².
    fn line(&self) -> Option<(f32, f32)> {
        (self.weight > 0.0 && self.angle_square > 0.0).then(|| {
            let slope = self.product / self.angle_square;
            let left = self.advance_square - slope * self.product;
            (slope, left.at_least(0.0) / self.weight)
        })
    }

    /// Advance per turn as a part of `pitch_m`, with its standard error; `None` while the run is
    /// too short or the position too uncertain to tell.
    pub fn ratio(&self, pitch_m: f32) -> Option<(f32, f32)> {
        let (slope, residual) = self.line().filter(|_| pitch_m > 0.0)?;
        let spread = sqrt(self.angle_square / self.weight);
        if !(spread > LEAST_SPREAD_RAD) {
            return None;
        }
        // There is one stretch more than changes, and the slope takes up one.
        let slope_u = sqrt(residual / self.changes.at_least(1.0)) / spread;
        let to_ratio = TAU / pitch_m;
        let (ratio, u) = (slope * to_ratio, slope_u * to_ratio);
        (u < LARGEST_U && ratio.is_finite()).then_some((ratio, u))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_straight_thread_advances_by_its_pitch_and_a_stripped_one_stops() {
        let pitch = 1.5e-3;
        let mut t = AdvanceTracker::default();
        let mut z = 0.0;
        let mut a = 0.0;
        for i in 0..1000 {
            a += 0.0087;
            z += pitch * 0.0087 / TAU;
            let jitter = if i % 2 == 0 { 2e-5 } else { -2e-5 };
            t.add(a, z + jitter, 0.0087);
        }
        let (r, u) = t.ratio(pitch).unwrap_or((0.0, 9.0));
        assert!((r - 1.0).abs() < 3.0 * u && u < 0.02, "{r} {u}");
        for _ in 0..2000 {
            a += 0.0087;
            t.add(a, z, 0.0087);
        }
        let (r, _) = t.ratio(pitch).unwrap_or((9.0, 9.0));
        assert!(r.abs() < 0.1, "{r}");
    }

    /// The error is that of the wander: over many runs the ratio is off by what it says.
    #[test]
    fn the_stated_error_is_that_of_a_hand_that_wanders() {
        let pitch = 1.5e-3;
        // A repeatable draw: a linear congruential generator, sum of twelve as a normal variable.
        let mut seed = 1_u32;
        let mut normal = || {
            let sum: f32 = (0..12)
                .map(|_| {
                    seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                    (seed >> 8) as f32 / 16_777_216.0
                })
                .sum();
            sum - 6.0
        };
        let (mut square, mut count) = (0.0, 0.0);
        for run in 0..200 {
            // Alike over ten to sixty degrees, 0.1 mm.
            let keep = 1.0 - 0.5 / (10.0 + 50.0 * (run as f32 / 200.0));
            let kick = 1e-4 * sqrt(1.0 - keep * keep);
            let mut t = AdvanceTracker::default();
            let mut wander = 1e-4 * normal();
            for i in 0..1440 {
                wander = keep * wander + kick * normal();
                let a = i as f32 * 0.0087;
                t.add(a, pitch * a / TAU + wander, 0.0087);
            }
            if let Some((r, u)) = t.ratio(pitch) {
                square += (r - 1.0) * (r - 1.0) / (u * u);
                count += 1.0;
            }
        }
        let off = sqrt(square / count);
        assert!(
            count > 150.0 && (0.5..1.5).contains(&off),
            "{off} of {count}"
        );
    }

    #[test]
    fn a_short_stretch_tells_nothing() {
        let mut t = AdvanceTracker::default();
        for i in 0..40 {
            t.add(i as f32 * 0.0087, i as f32 * 2e-6, 0.0087);
        }
        assert_eq!(t.ratio(1.5e-3), None);
    }
}
