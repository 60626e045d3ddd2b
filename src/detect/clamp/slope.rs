//! Slopes over several stretches that all end at the newest point of a curve, in one pass.

use crate::curve::{Line, Point};
use crate::math::sqrt;

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
}

impl Slope {
    /// Angle by which a point stays behind this line, rad.
    pub fn behind_rad(&self, p: &Point) -> f32 {
        p.x - self.at_rad - (p.y - self.at_nm) / self.value
    }
}

/// Weighted sums of torque over angle about the newest point, older points added one by one.
#[derive(Clone, Copy, Debug)]
pub(super) struct Stretch {
    newest: Point,
    count: u32,
    weight: f32,
    x: f32,
    y: f32,
    xx: f32,
    xy: f32,
    yy: f32,
}

impl Stretch {
    pub fn from(newest: Point) -> Self {
        Self {
            newest,
            count: 0,
            weight: 0.0,
            x: 0.0,
            y: 0.0,
            xx: 0.0,
            xy: 0.0,
            yy: 0.0,
        }
    }

    pub fn add(&mut self, p: &Point) {
        let (x, y) = (p.x - self.newest.x, p.y - self.newest.y);
        let (wx, wy) = (p.weight * x, p.weight * y);
        self.count += 1;
        self.weight += p.weight;
        self.x += wx;
        self.y += wy;
        self.xx += wx * x;
        self.xy += wx * y;
        self.yy += wy * y;
    }

    /// The line through what was added, as [`Line::fit`] gives it.
    fn line(&self) -> Option<Line> {
        if self.count < LEAST_POINTS {
            return None;
        }
        let per_weight = 1.0 / self.weight;
        let (x_mean, y_mean) = (self.x * per_weight, self.y * per_weight);
        let xx = self.xx - x_mean * self.x;
        if !(xx > 0.0 && xx < f32::MAX) {
            return None;
        }
        let xy = self.xy - x_mean * self.y;
        let slope = xy / xx;
        let residues = self.yy - y_mean * self.y - slope * xy;
        let square = residues.max(0.0) / (self.count - 2) as f32;
        Some(Line {
            x_mean: self.newest.x + x_mean,
            y_mean: self.newest.y + y_mean,
            slope,
            slope_u: sqrt(square / xx),
            mean_u: sqrt(square * per_weight),
            residual: sqrt(square * self.count as f32 * per_weight),
            count: self.count,
        })
    }

    /// The slope over `over_rad`; `other_u` gives, for the mean torque in N·m, what else makes it
    /// unsure.
    pub fn slope(&self, over_rad: f32, other_u: impl Fn(f32) -> f32) -> Option<Slope> {
        let line = self.line()?;
        let apart_rad = over_rad / line.count as f32;
        let scatter = sqrt((WANDER_RAD / apart_rad).max(1.0)) * line.slope_u;
        let other = other_u(line.y_mean);
        Some(Slope {
            value: line.slope,
            u: sqrt(scatter * scatter + other * other),
            over_rad,
            at_rad: line.x_mean,
            at_nm: line.y_mean,
        })
    }
}

#[cfg(test)]
mod tests {
    extern crate std;
    use super::*;
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
            stretch.line().expect("a line"),
            Line::fit(points.iter().copied()).expect("a line"),
        );
        assert_eq!(kept.count, plain.count);
        for (kept, plain) in [
            (kept.x_mean, plain.x_mean),
            (kept.y_mean, plain.y_mean),
            (kept.slope, plain.slope),
            (kept.slope_u, plain.slope_u),
            (kept.residual, plain.residual),
        ] {
            assert!((kept / plain - 1.0).abs() < 1e-3, "{kept} for {plain}");
        }
    }
}
