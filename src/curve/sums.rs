//! Sums for a line of torque over angle, in one pass.

use super::line::{Line, Point};
use crate::math::{Limited, sqrt};

/// Sums of torque over angle about a point, weighted by the angle covered.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Sums {
    count: u32,
    pub weight: f32,
    x: f32,
    pub y: f32,
    sx: f32,
    sy: f32,
    xx: f32,
    xy: f32,
    yy: f32,
    /// Variance of the weighted sum of torques from their known noise, and its first and second
    /// moment over angle.
    noise: [f32; 3],
}

/// What [`Sums::slope`] gives.
#[derive(Clone, Copy, Debug)]
pub(crate) struct SumSlope {
    pub x_mean: f32,
    pub y_mean: f32,
    pub slope: f32,
    /// Square of its standard error from the residuals (n − 2 degrees of freedom).
    pub slope_variance: f32,
    /// Root mean square of the residuals (n − 2 degrees of freedom).
    pub residual: f32,
    pub count: u32,
}

impl Sums {
    pub const EMPTY: Self = Self {
        count: 0,
        weight: 0.0,
        x: 0.0,
        y: 0.0,
        sx: 0.0,
        sy: 0.0,
        xx: 0.0,
        xy: 0.0,
        yy: 0.0,
        noise: [0.0; 3],
    };

    /// None yet, about a point near those to come.
    pub fn about(x: f32, y: f32) -> Self {
        Self {
            x,
            y,
            ..Self::EMPTY
        }
    }

    /// Adds a point with the standard uncertainty of its ordinate from noise.
    #[inline(always)]
    pub fn add(&mut self, point: &Point, noise: f32) {
        if !(point.weight > 0.0) {
            return;
        }
        let dx = self.add_point(point);
        let n = point.weight * noise;
        let (variance, first) = (n * n, n * n * dx);
        self.noise[0] += variance;
        self.noise[1] += first;
        self.noise[2] += first * dx;
    }

    /// Adds a point of some weight whose noise is not known; gives its distance.
    #[inline(always)]
    pub fn add_point(&mut self, point: &Point) -> f32 {
        let w = point.weight;
        let (dx, dy) = (point.x - self.x, point.y - self.y);
        let (wx, wy) = (w * dx, w * dy);
        self.count += 1;
        self.weight += w;
        self.sx += wx;
        self.sy += wy;
        self.xx += wx * dx;
        self.xy += wx * dy;
        self.yy += wy * dy;
        dx
    }

    /// Adds sums about their own mean.
    #[inline(always)]
    pub fn join(&mut self, other: &Self) {
        let (dx, dy) = (other.x - self.x, other.y - self.y);
        let (wx, wy) = (other.weight * dx, other.weight * dy);
        self.count += other.count;
        self.weight += other.weight;
        self.sx += wx;
        self.sy += wy;
        self.xx += other.xx + wx * dx;
        self.xy += other.xy + wx * dy;
        self.yy += other.yy + wy * dy;
        let [zeroth, first, second] = other.noise;
        let shifted = zeroth * dx;
        self.noise[0] += zeroth;
        self.noise[1] += first + shifted;
        self.noise[2] += second + (first + first + shifted) * dx;
    }

    /// The same about their own mean; empty if they have no weight.
    pub fn centred(&self) -> Self {
        if !(self.weight > 0.0) {
            return Self::EMPTY;
        }
        let per_weight = 1.0 / self.weight;
        let (mx, my) = (self.sx * per_weight, self.sy * per_weight);
        let [zeroth, first, second] = self.noise;
        let shifted = first - zeroth * mx;
        Self {
            x: self.x + mx,
            y: self.y + my,
            sx: 0.0,
            sy: 0.0,
            xx: self.xx - mx * self.sx,
            xy: self.xy - mx * self.sy,
            yy: self.yy - my * self.sy,
            noise: [zeroth, shifted, second - (first + shifted) * mx],
            ..*self
        }
    }

    /// The slope of sums about their own mean, without what only a line has: points alone tell its
    /// variance.
    #[inline(always)]
    pub fn slope(&self) -> Option<SumSlope> {
        if self.count < 3 || !(self.xx > 0.0 && self.xx < f32::MAX) {
            return None;
        }
        let per_xx = 1.0 / self.xx;
        let slope = self.xy * per_xx;
        let square = (self.yy - slope * self.xy).at_least(0.0) / (self.count - 2) as f32;
        Some(SumSlope {
            x_mean: self.x,
            y_mean: self.y,
            slope,
            slope_variance: square * per_xx,
            residual: sqrt(square * self.count as f32 / self.weight),
            count: self.count,
        })
    }

    /// The line of sums about their own mean, as [`Line::fit`] gives it.
    pub fn line(&self) -> Option<Line> {
        if self.count < 3 || !(self.xx > 0.0 && self.xx < f32::MAX) {
            return None;
        }
        let (per_xx, per_weight) = (1.0 / self.xx, 1.0 / self.weight);
        let slope = self.xy * per_xx;
        let square = (self.yy - slope * self.xy).at_least(0.0) / (self.count - 2) as f32;
        let [mean_noise, _, slope_noise] = self.noise;
        Some(Line {
            x_mean: self.x,
            y_mean: self.y,
            slope,
            slope_u: sqrt((square * per_xx).at_least(slope_noise * per_xx * per_xx)),
            mean_u: sqrt((square * per_weight).at_least(mean_noise * per_weight * per_weight)),
            residual: sqrt(square * self.count as f32 * per_weight),
            count: self.count,
        })
    }
}
