//! Random profiles over angle.

use rand::Rng;
use rand_distr::StandardNormal;

/// Spacing of the tables, rad.
const GRID: f64 = 0.5 * std::f64::consts::PI / 180.0;

/// A random profile over angle, of unit standard deviation, that stays alike over a given angle.
pub(super) struct Grain(Vec<f64>);

impl Grain {
    pub fn new(span_rad: f64, correlation_rad: f64, rng: &mut impl Rng) -> Self {
        let keep = (-GRID / correlation_rad).exp();
        let kick = (1.0 - keep * keep).sqrt();
        let mut x: f64 = rng.sample(StandardNormal);
        let points = (span_rad / GRID) as usize + 2;
        Self(
            std::iter::repeat_with(|| {
                x = keep * x + kick * rng.sample::<f64, _>(StandardNormal);
                x
            })
            .take(points)
            .collect(),
        )
    }

    pub fn at(&self, angle: f64) -> f64 {
        let u = (angle / GRID).clamp(0.0, (self.0.len() - 2) as f64);
        let i = u as usize;
        self.0[i] + (self.0[i + 1] - self.0[i]) * (u - i as f64)
    }
}

/// Rises from 0 to 1 with zero slope at both ends.
pub(super) fn smoothstep(x: f64) -> f64 {
    let x = x.clamp(0.0, 1.0);
    x * x * (3.0 - 2.0 * x)
}
