//! Bayesian weighted least squares for the wrench.
//!
//! For `τ = H w + e` with `cov(e) = R` (diagonal) and a prior `w ~ N(0, P₀)`, the posterior is
//! `P = (Hᵀ R⁻¹ H + P₀⁻¹)⁻¹`, `w = P Hᵀ R⁻¹ τ`. The normal matrix, which would lose all its digits in
//! f32 at a singular pose, is never formed: readings are turned into the triangular root of the
//! information by Householder reflections (Golub, Van Loan, *Matrix Computations*, ch. 5; Bierman,
//! *Factorization Methods for Discrete Sequential Estimation*, 1977, ch. V; both from memory). They
//! stay in their own units; the products of the reflections weigh each by its precision instead.
//!
//! Bounded: `M` readings take 6 reflections of up to 7 columns of `M + 1` figures, whatever they read.

use core::array::from_fn;
use core::ops::Range;

use crate::math::{Limited, Vec3, per_sqrt};

/// Number of wrench components: force x y z, then moment x y z.
const STATES: usize = 6;

/// Force in N, then moment in N·m, base frame, moment about the tip origin.
pub type Row = [f32; STATES];

/// `M` readings `value = row · w + e`; once folded in, how they went into the posterior.
#[derive(Clone, Copy, Debug)]
pub struct Readings<const M: usize> {
    /// Once folded: the tail of each reflection.
    columns: [[f32; M]; STATES],
    values: [f32; M],
    /// One over the variance of each; 0 for a reading that is left out.
    precisions: [f32; M],
    /// Head and scale of each reflection; none (zero) before.
    heads: [(f32, f32); STATES],
}

impl<const M: usize> Readings<M> {
    /// None.
    pub(super) const NONE: Self = Self {
        columns: [[0.0; M]; STATES],
        values: [0.0; M],
        precisions: [0.0; M],
        heads: [(0.0, 0.0); STATES],
    };

    /// How many are not left out.
    pub(super) fn used(&self) -> usize {
        self.precisions.iter().filter(|p| **p > 0.0).count()
    }

    /// From rows, values and `var(e)` (unit of the value squared, > 0). A reading without a usable
    /// variance is left out.
    #[inline(always)]
    pub fn new(rows: &[Row; M], values: &[f32; M], variances: &[f32; M]) -> Self {
        let mut readings = Self::NONE;
        for i in 0..M {
            for (column, cell) in readings.columns.iter_mut().zip(&rows[i]) {
                column[i] = *cell;
            }
            // Comparisons, not classes of numbers: those take some targets a dozen instructions each.
            let (value, variance) = (values[i], variances[i]);
            if variance > 0.0 && variance < f32::MAX && value.abs() < f32::MAX {
                readings.values[i] = value;
                readings.precisions[i] = 1.0 / variance;
            }
        }
        readings
    }

    /// Weight of each reading in the mean of a functional, once folded in; of readings in several
    /// parts the last comes first: it leaves to `of` what belongs to those before it. Zero before.
    pub fn weights(&self, of: &mut Functional) -> [f32; M] {
        let mut weights = [0.0; M];
        for ((along, (head, scale)), top) in self
            .columns
            .iter()
            .zip(&self.heads)
            .zip(&mut of.share)
            .rev()
        {
            let s = scale * (head * *top + dot(along, &weights));
            *top -= s * head;
            for i in 0..M {
                weights[i] -= s * (along[i] * self.precisions[i]);
            }
        }
        weights
    }
}

/// Posterior of the wrench that the tool exerts at the tip origin, base frame.
#[derive(Clone, Copy, Debug)]
pub struct Posterior {
    /// The triangular root of the information above its diagonal, row by row.
    root: [f32; STATES * (STATES - 1) / 2],
    diagonal: Row,
    per_diagonal: Row,
    values: Row,
    /// Sum of squares that no wrench explains.
    unexplained: f32,
}

/// A functional `c · w` of a posterior.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Functional {
    /// Its mean.
    pub mean: f32,
    /// Its variance.
    pub variance: f32,
    /// The functional in the coordinates of the root.
    share: Row,
}

impl Posterior {
    /// The prior: zero mean, standard deviation `prior_force_n` and `prior_moment_nm` for each
    /// component.
    pub fn prior(prior_force_n: f32, prior_moment_nm: f32) -> Self {
        let (f, m) = (prior_force_n, prior_moment_nm);
        let (per_f, per_m) = (1.0 / f, 1.0 / m);
        Self {
            root: [0.0; STATES * (STATES - 1) / 2],
            diagonal: [per_f, per_f, per_f, per_m, per_m, per_m],
            per_diagonal: [f, f, f, m, m, m],
            values: [0.0; STATES],
            unexplained: 0.0,
        }
    }

    /// Folds readings in.
    #[inline(always)]
    pub fn fold<const M: usize>(&mut self, readings: &mut Readings<M>) {
        for k in 0..STATES {
            self.reflect(readings, k);
        }
        self.close(readings);
    }

    /// The reflection of one component: they are to be taken in order, and then [`Posterior::close`].
    #[inline(always)]
    pub(super) fn reflect<const M: usize>(&mut self, readings: &mut Readings<M>, k: usize) {
        let Readings {
            columns,
            values,
            precisions,
            heads,
        } = readings;
        let Some((done, columns)) = columns.split_at_mut_checked(k + 1) else {
            return;
        };
        let (Some(along), Some(row)) = (done.last(), self.root.get_mut(Self::row(k))) else {
            return;
        };
        let weighted: [f32; M] = from_fn(|i| along[i] * precisions[i]);
        let d = self.diagonal[k];
        let square = d * d + dot(&weighted, along);
        let per_length = per_sqrt(square).copysign(d);
        let length = square * per_length;
        // With the sign of the diagonal, so that no digits cancel.
        let head = d + length;
        let scale = per_length / head;
        let reflect = |top: &mut f32, column: &mut [f32; M]| {
            let s = scale * (head * *top + dot(&weighted, column));
            *top -= s * head;
            for i in 0..M {
                column[i] -= s * along[i];
            }
        };
        for (column, top) in columns.iter_mut().zip(row) {
            reflect(top, column);
        }
        reflect(&mut self.values[k], values);
        (self.diagonal[k], self.per_diagonal[k]) = (-length, -per_length);
        heads[k] = (head, scale);
    }

    /// Where row `k` of the root lies, above its diagonal.
    const fn row(k: usize) -> Range<usize> {
        let from = k * (2 * STATES - 1 - k) / 2;
        from..from + (STATES - 1 - k)
    }

    /// Takes in what all reflections have left over.
    #[inline(always)]
    pub(super) fn close<const M: usize>(&mut self, readings: &Readings<M>) {
        for (value, precision) in readings.values.iter().zip(&readings.precisions) {
            self.unexplained += value * value * precision;
        }
    }

    /// The functional `c · w`.
    pub fn functional(&self, c: &Row) -> Functional {
        let mut share = *c;
        let mut root = self.root.iter();
        for k in 0..STATES {
            share[k] *= self.per_diagonal[k];
            for j in k + 1..STATES {
                if let Some(u) = root.next() {
                    share[j] -= u * share[k];
                }
            }
        }
        Functional {
            mean: dot(&share, &self.values),
            variance: dot(&share, &share),
            share,
        }
    }

    /// Sum of squares that the readings contradict each other and the prior by, each in units of its
    /// variance. Expectation: the number of readings folded in.
    pub fn unexplained(&self) -> f32 {
        self.unexplained
    }

    /// What of that is not the prior's, of the given variances: the sum of squares that the readings are off
    /// the mean by. Expectation: the number of readings less six, as far as the prior is wide.
    pub(super) fn contradiction(&self, prior: &Row) -> f32 {
        let mut sum = self.unexplained;
        for (mean, variance) in self.solved(&self.values).iter().zip(prior) {
            sum -= mean * mean / variance;
        }
        sum.at_least(0.0)
    }

    /// Mean force in N, base frame.
    pub fn force_n(&self) -> Vec3 {
        let [x, y, z, ..] = self.solved(&self.values);
        [x, y, z]
    }

    /// The covariance times a functional, whose weights were not asked for yet.
    pub(super) fn covariance_with(&self, of: &Functional) -> Row {
        self.solved(&of.share)
    }

    /// What the root takes to `right`.
    fn solved(&self, right: &Row) -> Row {
        let mut w = *right;
        let mut root = self.root.iter().rev();
        for k in (0..STATES).rev() {
            for j in (k + 1..STATES).rev() {
                if let Some(u) = root.next() {
                    w[k] -= u * w[j];
                }
            }
            w[k] *= self.per_diagonal[k];
        }
        w
    }
}

#[inline(always)]
fn dot<const M: usize>(a: &[f32; M], b: &[f32; M]) -> f32 {
    let mut sum = 0.0;
    for i in 0..M {
        sum += a[i] * b[i];
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    fn readings<const M: usize>(all: [(Row, f32, f32); M]) -> Readings<M> {
        Readings::new(&all.map(|r| r.0), &all.map(|r| r.1), &all.map(|r| r.2))
    }

    fn folded<const M: usize>(
        prior: (f32, f32),
        all: [(Row, f32, f32); M],
    ) -> (Posterior, Readings<M>) {
        let mut posterior = Posterior::prior(prior.0, prior.1);
        let mut folded = readings(all);
        posterior.fold(&mut folded);
        (posterior, folded)
    }

    /// The textbook case of two readings of one quantity: the mean weighted by inverse variances.
    #[test]
    fn two_readings_of_one_moment_average_by_their_variances() {
        let axis = [0.0, 0.0, 0.0, 0.0, 0.0, 1.0];
        let (p, _) = folded((1e3, 1e4), [(axis, 10.0, 1.0), (axis, 16.0, 2.0)]);
        let moment = p.functional(&axis);
        assert!((moment.mean - 12.0).abs() < 1e-3);
        assert!((moment.variance - 2.0 / 3.0).abs() < 1e-4);
        assert!((p.unexplained() - 36.0 / 3.0).abs() < 1e-3);
    }

    /// A load of many prior standard deviations contradicts the prior, but nothing that was read; two
    /// readings of it that are three apart, of variances one and two, contradict each other by 9 / 3.
    #[test]
    fn a_load_beyond_the_prior_is_no_contradiction_of_readings() {
        let axis = [0.0, 0.0, 0.0, 0.0, 0.0, 1.0];
        let prior = [400.0, 400.0, 400.0, 16.0, 16.0, 16.0];
        let (one, _) = folded((20.0, 4.0), [(axis, 60.0, 0.01)]);
        assert!(one.unexplained() > 200.0);
        assert!(
            one.contradiction(&prior) < 0.2,
            "{}",
            one.contradiction(&prior)
        );
        let (two, _) = folded((20.0, 4.0), [(axis, 10.0, 0.01), (axis, 10.3, 0.02)]);
        assert!(
            (two.contradiction(&prior) - 3.0).abs() < 0.1,
            "{}",
            two.contradiction(&prior)
        );
    }

    #[test]
    fn what_is_never_read_keeps_its_prior() {
        let read = [0.0, 0.0, 0.0, 0.0, 0.0, 1.0];
        let (p, _) = folded((200.0, 50.0), [(read, 10.0, 0.01)]);
        let other = p.functional(&[0.0, 0.0, 0.0, 1.0, 0.0, 0.0]);
        assert!((other.variance - 2500.0).abs() < 1e-2);
        assert_eq!(other.mean, 0.0);
    }

    const ROWS: [Row; 3] = [
        [0.3, 0.0, 0.1, 0.0, 0.2, 1.0],
        [0.0, 0.5, 0.0, 1.0, 0.0, 0.1],
        [0.2, 0.1, 0.4, 0.0, 1.0, 0.3],
    ];
    const VALUES: [f32; 3] = [3.0, -1.0, 7.0];
    const VARIANCES: [f32; 3] = [0.01, 0.04, 0.02];

    /// An observable functional: a combination of what is read, 0.4 by that combination of values.
    fn combined() -> Row {
        from_fn(|k| ROWS[0][k] + 0.5 * ROWS[1][k] - 0.3 * ROWS[2][k])
    }

    #[test]
    fn the_weights_reproduce_the_mean() {
        let readings: [_; 3] = from_fn(|i| (ROWS[i], VALUES[i], VARIANCES[i]));
        let (p, folded) = folded::<3>((200.0, 50.0), readings);
        let mut of = p.functional(&combined());
        let weights = folded.weights(&mut of);
        let direct: f32 = (0..3).map(|i| weights[i] * VALUES[i]).sum();
        assert!((of.mean - 0.4).abs() < 1e-3);
        assert!((direct - of.mean).abs() < 1e-4, "{direct}");
    }

    #[test]
    fn readings_in_two_parts_are_the_same_readings() {
        let readings: [_; 3] = from_fn(|i| (ROWS[i], VALUES[i], VARIANCES[i]));
        let (at_once, whole) = folded::<3>((200.0, 50.0), readings);
        let (mut parts, first) = folded::<2>((200.0, 50.0), [readings[0], readings[1]]);
        let mut last = self::readings([readings[2]]);
        parts.fold(&mut last);
        let (mut a, mut b) = (
            at_once.functional(&combined()),
            parts.functional(&combined()),
        );
        assert!((a.mean - b.mean).abs() < 1e-4);
        assert!((a.variance - b.variance).abs() < 1e-5);
        assert!((at_once.unexplained() - parts.unexplained()).abs() < 1e-3);
        let [c] = last.weights(&mut b);
        let [x, y] = first.weights(&mut b);
        for (one, other) in whole.weights(&mut a).iter().zip([x, y, c]) {
            assert!((one - other).abs() < 1e-4, "{one} {other}");
        }
    }
}
