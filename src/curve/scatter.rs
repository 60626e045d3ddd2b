//! Scatter of a curve around a line, and over what angle it is alike.
//!
//! Friction that varies along the thread makes neighbouring bins err alike, so that many of them tell
//! no more than a few. With correlation `r` from one to the next, `n` of them are worth
//! `n (1 − r) / (1 + r)` independent ones (first-order autoregression; Bayley and Hammersley,
//! *J. R. Stat. Soc. Suppl.* 8 (1946) 184; from memory).

use super::line::{Line, Point};
use crate::math::sqrt;

/// Correlation above which a stretch is taken for one with so much.
const MOST_ALIKE: f32 = 0.9;
/// A line through `n` points leaves neighbouring residuals correlated by about −2/n (by expectation of
/// the lag-one product of residuals of a straight line).
const LINE_BIAS: f32 = 2.0;

/// Scatter around a line.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Scatter {
    /// Root mean square of the residuals.
    residual: f32,
    /// Abscissa over which residuals count as one.
    alike: f32,
}

impl Scatter {
    /// Root mean square of the residuals.
    pub const fn residual(&self) -> f32 {
        self.residual
    }

    /// Of points in order of their abscissa around the line fitted to them.
    pub fn of(points: impl Iterator<Item = Point>, line: &Line) -> Self {
        let (mut square, mut product) = (0.0_f32, 0.0_f32);
        let mut last: Option<f32> = None;
        for p in points.filter(|p| p.weight > 0.0) {
            let error = sqrt(p.weight) * (p.y - line.at(p.x));
            square += error * error;
            product += last.map_or(0.0, |before| before * error);
            last = Some(error);
        }
        let correlation = if square > 0.0 {
            (product / square + LINE_BIAS / line.count as f32).clamp(0.0, MOST_ALIKE)
        } else {
            0.0
        };
        Self {
            residual: line.residual,
            alike: line.spacing() * (1.0 + correlation) / (1.0 - correlation),
        }
    }

    /// Standard error at `x` of a line whose points scatter like this.
    pub fn at_u(&self, line: &Line, x: f32) -> f32 {
        if !(line.residual > 0.0 && line.spacing() > 0.0) {
            return line.at_u(x);
        }
        let more = self.residual / line.residual;
        more * sqrt((self.alike / line.spacing()).max(1.0)) * line.at_u(x)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const POINTS: usize = 40;
    const TRIALS: u32 = 400;

    /// Lines through points whose errors have this correlation from one to the next: stated standard
    /// error at the far end over the scatter of the ordinates there.
    fn stated_over_true(correlation: f32) -> f32 {
        let mut state = 1_u32;
        let mut white = || {
            // Sum of four uniform numbers, of unit variance.
            (0..4).fold(-2.0_f32, |sum, _| {
                state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                sum + (state >> 8) as f32 / (1 << 24) as f32
            }) * sqrt(3.0)
        };
        let (mut stated, mut square) = (0.0, 0.0);
        for _ in 0..TRIALS {
            let mut error = white();
            let mut points = [Point {
                x: 0.0,
                y: 0.0,
                weight: 1.0,
            }; POINTS];
            for (i, p) in points.iter_mut().enumerate() {
                (p.x, p.y) = (i as f32, 2.0 * i as f32 + error);
                error = correlation * error + sqrt(1.0 - correlation * correlation) * white();
            }
            let line = Line::fit(points.iter().copied()).unwrap();
            assert!((line.spacing() - 1.0).abs() < 0.01);
            let u = Scatter::of(points.iter().copied(), &line).at_u(&line, 0.0);
            stated += u * u;
            square += line.at(0.0) * line.at(0.0);
        }
        sqrt(stated / square)
    }

    /// Monte Carlo (JCGM 101, clause 7).
    #[test]
    fn the_stated_error_of_a_line_is_its_scatter_alike_or_not() {
        for correlation in [0.0, 0.4, 0.7] {
            let ratio = stated_over_true(correlation);
            assert!((0.75..1.5).contains(&ratio), "{correlation}: {ratio}");
        }
    }
}
