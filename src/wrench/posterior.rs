//! Bayesian weighted least squares for the wrench, one scalar reading at a time.
//!
//! For `τ = H w + e` with `cov(e) = R` (diagonal) and a prior `w ~ N(0, P₀)`, the posterior is
//! `P = (Hᵀ R⁻¹ H + P₀⁻¹)⁻¹`, `w = P Hᵀ R⁻¹ τ`. The normal matrix is never formed: each reading is
//! folded into the factors `P = U D Uᵀ` (Bierman, *Factorization Methods for Discrete Sequential
//! Estimation*, 1977, ch. V; from memory), which keeps `P` positive in f32 at singular poses where the normal matrix
//! would lose all its digits. States are scaled by the prior, so the prior is the unit matrix.
//!
//! Bounded: a fold takes the same 36 products and as many sums for any reading, about 190
//! instructions; no loop depends on the data.

use crate::math::Vec3;

/// Number of wrench components: force x y z, then moment x y z.
const STATES: usize = 6;

/// Force in N, then moment in N·m, base frame, moment about the tip origin.
pub type Row = [f32; STATES];

/// Posterior of the wrench that the tool exerts at the tip origin, base frame.
#[derive(Clone, Copy, Debug)]
pub struct Posterior {
    prior: Row,
    mean: Row,
    diagonal: Row,
    /// Columns of the unit upper triangular factor; only the part above the diagonal is used.
    upper: [Row; STATES],
    /// Sum of squared innovations, each in units of its own variance.
    innovation_square: f32,
}

impl Posterior {
    /// The prior: zero mean, standard deviation `prior_force_n` and `prior_moment_nm` for each
    /// component.
    pub fn prior(prior_force_n: f32, prior_moment_nm: f32) -> Self {
        let (f, m) = (prior_force_n, prior_moment_nm);
        Self {
            prior: [f, f, f, m, m, m],
            mean: [0.0; STATES],
            diagonal: [1.0; STATES],
            upper: [[0.0; STATES]; STATES],
            innovation_square: 0.0,
        }
    }

    /// Folds in one reading `value = row · w + e`, `var(e) = variance` (same unit squared, > 0).
    /// A reading without a usable variance is left out.
    pub fn fold(&mut self, row: &Row, value: f32, variance: f32) {
        if !(variance > 0.0 && variance.is_finite() && value.is_finite()) {
            return;
        }
        let mut h = *row;
        for (x, s) in h.iter_mut().zip(&self.prior) {
            *x *= s;
        }
        let innovation = value - product(&h, &self.mean);
        let f = self.upper_transposed(&h);
        let mut front = Front {
            gain: [0.0; STATES],
            alpha: variance,
            per_alpha: 1.0 / variance,
        };
        // One by one, so that each column's length is known to the compiler.
        self.fold_column::<0>(&f, &mut front);
        self.fold_column::<1>(&f, &mut front);
        self.fold_column::<2>(&f, &mut front);
        self.fold_column::<3>(&f, &mut front);
        self.fold_column::<4>(&f, &mut front);
        self.fold_column::<5>(&f, &mut front);
        let Front {
            gain, per_alpha, ..
        } = front;
        let step = innovation * per_alpha;
        for (x, g) in self.mean.iter_mut().zip(&gain) {
            *x += g * step;
        }
        self.innovation_square += innovation * step;
    }

    #[inline(always)]
    fn fold_column<const J: usize>(&mut self, f: &Row, front: &mut Front) {
        let v = self.diagonal[J] * f[J];
        let alpha = front.alpha + f[J] * v;
        let per_alpha = 1.0 / alpha;
        let lambda = -f[J] * front.per_alpha;
        self.diagonal[J] *= front.alpha * per_alpha;
        for i in 0..J {
            let u = self.upper[J][i];
            self.upper[J][i] = u + lambda * front.gain[i];
            front.gain[i] += v * u;
        }
        front.gain[J] = v;
        (front.alpha, front.per_alpha) = (alpha, per_alpha);
    }

    /// The functional `c · w`, for as many questions as there are readings.
    ///
    /// Taken between the factors: where `c` is observable both sides are small and no digits cancel.
    pub fn functional(&self, c: &Row) -> Functional {
        let scaled = self.scaled(c);
        let mut weighted = self.upper_transposed(&scaled);
        let mut variance = 0.0;
        for (x, d) in weighted.iter_mut().zip(&self.diagonal) {
            let plain = *x;
            *x *= d;
            variance += plain * *x;
        }
        Functional {
            mean: product(&scaled, &self.mean),
            variance,
            weighted,
        }
    }

    /// Covariance of a reading's row with a functional. Over the reading's variance, it is the
    /// weight of that reading in the functional's mean.
    pub fn covariance_with(&self, row: &Row, of: &Functional) -> f32 {
        product(&self.upper_transposed(&self.scaled(row)), &of.weighted)
    }

    /// Mean of the functional `c · w`.
    pub fn mean_of(&self, c: &Row) -> f32 {
        product(&self.scaled(c), &self.mean)
    }

    /// Variance of the functional `c · w`.
    pub fn variance_of(&self, c: &Row) -> f32 {
        self.functional(c).variance
    }

    /// Prior variance of the functional `c · w`.
    pub fn prior_variance_of(&self, c: &Row) -> f32 {
        let s = self.scaled(c);
        product(&s, &s)
    }

    /// Sum of squared innovations in units of their variances: what the readings contradict each
    /// other and the prior by. Expectation: the number of readings folded in.
    pub fn innovation_square(&self) -> f32 {
        self.innovation_square
    }

    /// Mean force in N, base frame.
    pub fn force_n(&self) -> Vec3 {
        let m = &self.mean;
        let p = &self.prior;
        [m[0] * p[0], m[1] * p[1], m[2] * p[2]]
    }

    fn scaled(&self, c: &Row) -> Row {
        let mut out = *c;
        for (x, s) in out.iter_mut().zip(&self.prior) {
            *x *= s;
        }
        out
    }

    /// `Uᵀ x`.
    #[inline(always)]
    fn upper_transposed(&self, x: &Row) -> Row {
        let u = &self.upper;
        [
            x[0],
            x[1] + head::<1>(&u[1], x),
            x[2] + head::<2>(&u[2], x),
            x[3] + head::<3>(&u[3], x),
            x[4] + head::<4>(&u[4], x),
            x[5] + head::<5>(&u[5], x),
        ]
    }
}

/// What a fold carries from column to column.
struct Front {
    gain: Row,
    alpha: f32,
    per_alpha: f32,
}

/// A functional `c · w` of a posterior.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Functional {
    /// Its mean.
    pub mean: f32,
    /// Its variance.
    pub variance: f32,
    /// `D Uᵀ c` of the scaled states.
    weighted: Row,
}

#[inline(always)]
fn head<const J: usize>(a: &Row, b: &Row) -> f32 {
    let mut sum = a[0] * b[0];
    for i in 1..J {
        sum += a[i] * b[i];
    }
    sum
}

#[inline(always)]
fn product(a: &Row, b: &Row) -> f32 {
    head::<STATES>(a, b)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The textbook case of two readings of one quantity: the mean weighted by inverse variances.
    #[test]
    fn two_readings_of_one_moment_average_by_their_variances() {
        let mut p = Posterior::prior(1e3, 1e4);
        let axis = [0.0, 0.0, 0.0, 0.0, 0.0, 1.0];
        p.fold(&axis, 10.0, 1.0);
        p.fold(&axis, 16.0, 2.0);
        assert!((p.mean_of(&axis) - 12.0).abs() < 1e-3);
        assert!((p.variance_of(&axis) - 2.0 / 3.0).abs() < 1e-4);
        assert!((p.innovation_square() - 36.0 / 3.0).abs() < 1e-3);
    }

    #[test]
    fn what_is_never_read_keeps_its_prior() {
        let mut p = Posterior::prior(200.0, 50.0);
        p.fold(&[0.0, 0.0, 0.0, 0.0, 0.0, 1.0], 10.0, 0.01);
        let other = [0.0, 0.0, 0.0, 1.0, 0.0, 0.0];
        assert_eq!(p.variance_of(&other), p.prior_variance_of(&other));
        assert_eq!(p.mean_of(&other), 0.0);
    }

    #[test]
    fn the_weights_reproduce_the_mean() {
        let rows: [Row; 3] = [
            [0.3, 0.0, 0.1, 0.0, 0.2, 1.0],
            [0.0, 0.5, 0.0, 1.0, 0.0, 0.1],
            [0.2, 0.1, 0.4, 0.0, 1.0, 0.3],
        ];
        let (values, variances) = ([3.0, -1.0, 7.0], [0.01, 0.04, 0.02]);
        let mut p = Posterior::prior(200.0, 50.0);
        for i in 0..3 {
            p.fold(&rows[i], values[i], variances[i]);
        }
        // An observable functional: a combination of what is read.
        let mut c = [0.0; STATES];
        for (k, cell) in c.iter_mut().enumerate() {
            *cell = rows[0][k] + 0.5 * rows[1][k] - 0.3 * rows[2][k];
        }
        let of = p.functional(&c);
        let direct: f32 = (0..3)
            .map(|i| p.covariance_with(&rows[i], &of) / variances[i] * values[i])
            .sum();
        assert!((p.mean_of(&c) - 0.4).abs() < 1e-3);
        assert!((direct - p.mean_of(&c)).abs() < 1e-2, "{direct}");
    }
}
