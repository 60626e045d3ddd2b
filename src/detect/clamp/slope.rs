//! Slopes over several stretches that all end at the newest point of a curve, in one pass.

use crate::curve::{Point, Sums};
use crate::math::{Limited, sqrt};

use super::rise::CAUTION;

/// Angle over which torque wanders with the surface, rad (4°): points that are closer together are
/// not independent.
const WANDER_RAD: f32 = 0.07;
/// Points below which a stretch has no slope.
const LEAST_POINTS: u32 = 4;

/// A slope with a standard error that reckons with wandering torque, N·m/rad.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Slope {
    pub value: f32,
    pub u: f32,
    /// Stretch that it was taken over, rad.
    pub over_rad: f32,
    /// Its middle, rad and N·m.
    pub at_rad: f32,
    pub at_nm: f32,
    /// Scatter of its points, N·m.
    pub scatter_nm: f32,
}

impl Slope {
    /// What the same surface, which scatters as about this line, leaves open of a slope over a stretch at
    /// a torque in N·m: friction wanders in proportion, and a short line hides some of it.
    pub fn wander_u(&self, over_rad: f32, at_nm: f32) -> f32 {
        let part = self.scatter_nm / self.at_nm;
        // σ √(12/n) / L, n = L / wander.
        part * at_nm * sqrt(12.0 * WANDER_RAD / over_rad) / over_rad
    }

    /// A cautious line with the slope that is most likely.
    pub fn likely(&self) -> Self {
        Self {
            value: self.value + CAUTION * self.u,
            ..*self
        }
    }

    /// Angle by which a point stays behind this line, rad.
    pub fn behind_rad(&self, p: &Point) -> f32 {
        p.x - self.at_rad - (p.y - self.at_nm) / self.value
    }
}

/// The newest point and older ones, added one by one.
#[derive(Clone, Copy, Debug)]
pub(super) struct Stretch(Sums);

impl Stretch {
    pub fn from(newest: Point) -> Self {
        Self(Sums::about(newest.x, newest.y))
    }

    #[inline(always)]
    pub fn add(&mut self, p: &Point) {
        self.0.add_point(p);
    }

    /// The slope over `over_rad`; `other_square` gives, for the mean torque in N·m, the square of what
    /// else makes it unsure.
    pub fn slope(&self, over_rad: f32, other_square: impl Fn(f32) -> f32) -> Option<Slope> {
        let line = self.0.centred().slope()?;
        if line.count < LEAST_POINTS {
            return None;
        }
        // Points that are closer together than the wander count as fewer.
        let alike = (WANDER_RAD * line.count as f32 / over_rad).at_least(1.0);
        Some(Slope {
            value: line.slope,
            u: sqrt(alike * line.slope_variance + other_square(line.y_mean)),
            over_rad,
            at_rad: line.x_mean,
            at_nm: line.y_mean,
            scatter_nm: line.residual,
        })
    }
}

#[cfg(test)]
mod tests {
    extern crate std;
    use super::*;
    use crate::curve::Line;
    use std::vec::Vec;

    #[test]
    fn sums_from_the_newest_point_give_the_line_of_the_plain_fit() {
        let points: Vec<Point> = (0..40_u32)
            .map(|i| Point {
                x: 40.0 + 0.03 * i as f32,
                y: 5.0 + 0.9 * i as f32 + 0.2 * (i * i % 7) as f32,
                weight: 0.02 + 0.01 * (i % 3) as f32,
            })
            .collect();
        let mut stretch = Stretch::from(points[39]);
        points.iter().rev().for_each(|p| stretch.add(p));
        let (kept, plain) = (
            stretch.0.centred().slope().expect("a line"),
            Line::fit(points.iter().copied()).expect("a line"),
        );
        assert_eq!(kept.count, plain.count);
        for (kept, plain) in [
            (kept.x_mean, plain.x_mean),
            (kept.y_mean, plain.y_mean),
            (kept.slope, plain.slope),
            (kept.slope_variance, plain.slope_u * plain.slope_u),
        ] {
            assert!((kept / plain - 1.0).abs() < 1e-3, "{kept} for {plain}");
        }
    }
}
