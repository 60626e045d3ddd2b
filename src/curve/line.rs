//! Weighted straight line with its standard error.

use crate::math::sqrt;

/// One point of a fit.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Point {
    /// Abscissa.
    pub x: f32,
    /// Ordinate.
    pub y: f32,
    /// Weight, relative.
    pub weight: f32,
}

/// A straight line `y = y_mean + slope (x − x_mean)` by weighted least squares.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Line {
    /// Weighted mean of x.
    pub x_mean: f32,
    /// Weighted mean of y.
    pub y_mean: f32,
    /// Slope.
    pub slope: f32,
    /// Standard error of the slope from the residuals (n − 2 degrees of freedom).
    pub slope_u: f32,
    /// Standard error of `y_mean` from the residuals.
    pub mean_u: f32,
    /// Root mean square of the residuals (n − 2 degrees of freedom).
    pub residual: f32,
    /// Number of points.
    pub count: u32,
}

impl Line {
    /// Ordinate at `x`.
    pub fn at(&self, x: f32) -> f32 {
        self.y_mean + self.slope * (x - self.x_mean)
    }

    /// Standard error of the ordinate at `x`.
    pub fn at_u(&self, x: f32) -> f32 {
        let d = self.slope_u * (x - self.x_mean);
        sqrt(self.mean_u * self.mean_u + d * d)
    }

    /// Distance from point to point, if they lie evenly: `n` such points scatter about their mean by
    /// `n / √12` distances. 0 where all lie on the line.
    pub(super) fn spacing(&self) -> f32 {
        // Mean square distance from the mean of x, from the two standard errors.
        let spread = self.mean_u / self.slope_u;
        if spread.is_finite() {
            spread * sqrt(12.0) / self.count as f32
        } else {
            0.0
        }
    }

    /// Fits the points; `None` below three points of weight or without spread in x.
    ///
    /// Weights count as relative precisions: the standard errors come from the residuals, as a
    /// general statistics library gives them for weighted least squares.
    pub fn fit<I>(points: I) -> Option<Self>
    where
        I: Iterator<Item = Point> + Clone,
    {
        let mut count = 0_u32;
        let (mut w, mut x_mean, mut y_mean) = (0.0_f32, 0.0_f32, 0.0_f32);
        for p in points.clone().filter(|p| p.weight > 0.0) {
            count += 1;
            w += p.weight;
            let share = p.weight / w;
            x_mean += (p.x - x_mean) * share;
            y_mean += (p.y - y_mean) * share;
        }
        if count < 3 {
            return None;
        }
        let (mut xx, mut xy, mut yy) = (0.0_f32, 0.0_f32, 0.0_f32);
        for p in points.filter(|p| p.weight > 0.0) {
            let (dx, dy) = (p.x - x_mean, p.y - y_mean);
            xx += p.weight * dx * dx;
            xy += p.weight * dx * dy;
            yy += p.weight * dy * dy;
        }
        if !(xx > 0.0 && xx.is_finite()) {
            return None;
        }
        let slope = xy / xx;
        let square = (yy - slope * xy).max(0.0) / (count - 2) as f32;
        Some(Self {
            x_mean,
            y_mean,
            slope,
            slope_u: sqrt(square / xx),
            mean_u: sqrt(square / w),
            residual: sqrt(square * count as f32 / w),
            count,
        })
    }
}
