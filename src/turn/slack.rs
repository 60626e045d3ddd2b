//! Finds in one forward stroke where the slack ended and the bolt began to resist.
//!
//! Torque over forward travel is first that of a free tool, then that of the bolt. Where the two
//! levels are too close to be told sample by sample, the stretch is kept in bins and split at the
//! point that explains it best by two levels (least squares).

use crate::math::sqrt;

/// Bins of one search.
pub const BINS: usize = 48;
/// Difference of the levels in standard errors below which there is no split.
const LEAST_SIGMA: f32 = 4.0;

/// Torque over the forward travel of one stroke.
#[derive(Clone, Copy, Debug)]
pub struct SlackSearch {
    from_rad: f32,
    bin_rad: f32,
    width_rad: [f32; BINS],
    torque: [f32; BINS],
    empty: bool,
}

/// Where the bolt began to resist.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Split {
    /// Tool angle of the split, rad.
    pub at_rad: f32,
    /// Mean torque after it, N·m.
    pub after_nm: f32,
    /// Difference of the two levels, N·m.
    pub rise_nm: f32,
    /// Difference of the two levels in standard errors; 0 where there is none.
    pub sigma: f32,
}

impl Split {
    /// Whether the two levels stand apart; if not, the split means nothing.
    pub fn clear(&self) -> bool {
        self.sigma > LEAST_SIGMA
    }
}

impl SlackSearch {
    /// A search over `window_rad` of travel from `from_rad` on.
    pub fn new(from_rad: f32, window_rad: f32) -> Self {
        Self {
            from_rad,
            bin_rad: (window_rad / BINS as f32).max(1e-5),
            width_rad: [0.0; BINS],
            torque: [0.0; BINS],
            empty: true,
        }
    }

    /// Begins anew at `from_rad`, with the same window.
    pub fn restart(&mut self, from_rad: f32) {
        self.from_rad = from_rad;
        // A tool on its way back begins anew with every sample.
        if !self.empty {
            self.width_rad = [0.0; BINS];
            self.torque = [0.0; BINS];
            self.empty = true;
        }
    }

    /// Tool angle from which the search counts, rad.
    pub fn from_rad(&self) -> f32 {
        self.from_rad
    }

    /// Adds `step_rad` of forward travel that ends at `at_rad`; `sureness` (0 to 1) is the weight
    /// of its torque.
    pub fn add(&mut self, at_rad: f32, step_rad: f32, torque_nm: f32, sureness: f32) {
        self.empty = false;
        let middle = at_rad - 0.5 * step_rad - self.from_rad;
        let index = (middle / self.bin_rad).max(0.0) as usize;
        let index = index.min(BINS - 1);
        if let (Some(w), Some(t)) = (self.width_rad.get_mut(index), self.torque.get_mut(index)) {
            *w += step_rad * sureness;
            *t += step_rad * sureness * torque_nm;
        }
    }

    /// Mean torque from `at_rad` on, N·m.
    pub fn mean_after_nm(&self, at_rad: f32) -> f32 {
        let first = ((at_rad - self.from_rad) / self.bin_rad).max(0.0) as usize;
        let (w, t) = self.sums(first.min(BINS - 1)..BINS);
        if w > 0.0 { t / w } else { 0.0 }
    }

    /// The best split whose distance from the start lies in the range, rad.
    pub fn split(&self, (least_rad, most_rad): (f32, f32)) -> Split {
        let (all_w, all_t) = self.sums(0..BINS);
        let mut best = Levels::default();
        let (mut w, mut t) = (0.0_f32, 0.0_f32);
        let mut most = 0.0;
        for (k, (width, torque)) in (1..BINS).zip(self.width_rad.iter().zip(&self.torque)) {
            w += width;
            t += torque;
            let slack_rad = k as f32 * self.bin_rad;
            let rest_w = all_w - w;
            if !(slack_rad >= least_rad && slack_rad <= most_rad && w > 0.0 && rest_w > 0.0) {
                continue;
            }
            // The rise times both weights; its square over them is the sum of squares explained.
            let across = w * all_t - all_w * t;
            let explained = across * across / (w * rest_w);
            if across > 0.0 && explained > most {
                most = explained;
                best = Levels {
                    bin: k,
                    before_nm: t / w,
                    after_nm: (all_t - t) / rest_w,
                };
            }
        }
        let rise_nm = best.after_nm - best.before_nm;
        Split {
            at_rad: self.from_rad + best.bin as f32 * self.bin_rad,
            after_nm: best.after_nm,
            rise_nm,
            sigma: if best.bin > 0 {
                rise_nm / self.rise_u(&best).max(1e-9)
            } else {
                0.0
            },
        }
    }

    /// Weight and weighted torque of the bins in the range that hold something.
    fn filled(&self, range: core::ops::Range<usize>) -> impl Iterator<Item = (f32, f32)> + '_ {
        self.width_rad
            .iter()
            .zip(&self.torque)
            .take(range.end)
            .skip(range.start)
            .map(|(w, t)| (*w, *t))
            .filter(|(w, _)| *w > 0.0)
    }

    fn sums(&self, range: core::ops::Range<usize>) -> (f32, f32) {
        self.filled(range)
            .fold((0.0, 0.0), |(w, t), (a, b)| (w + a, t + b))
    }

    /// Standard error of the rise at a split, from the scatter of the bins around their levels.
    fn rise_u(&self, levels: &Levels) -> f32 {
        let side = |range: core::ops::Range<usize>, mean_nm: f32| {
            self.filled(range)
                .fold((0.0_f32, 0.0_f32), |(n, square), (w, t)| {
                    let d = t / w - mean_nm;
                    (n + 1.0, square + d * d)
                })
        };
        let (before, square_before) = side(0..levels.bin, levels.before_nm);
        let (after, square_after) = side(levels.bin..BINS, levels.after_nm);
        let square = square_before + square_after;
        let free = (before + after - 2.0).max(1.0);
        sqrt(square / free * (1.0 / before.max(1.0) + 1.0 / after.max(1.0)))
    }
}

/// Two levels, before and from a bin on.
#[derive(Clone, Copy, Default)]
struct Levels {
    bin: usize,
    before_nm: f32,
    after_nm: f32,
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stroke(slack: f32, noise: f32, rise: f32) -> Split {
        let mut s = SlackSearch::new(1.0, 0.5);
        for i in 0..500 {
            let x = i as f32 * 0.001;
            let jitter = noise * [1.0, -1.0, 0.5, -0.5][i % 4];
            let torque = 0.15 + if x > slack { rise } else { 0.0 } + jitter;
            s.add(1.0 + x, 0.001, torque, 1.0);
        }
        s.split((0.0, 0.3))
    }

    #[test]
    fn a_small_rise_in_noise_is_found_to_a_bin() {
        let split = stroke(0.12, 0.2, 0.15);
        assert!(split.clear());
        assert!((split.at_rad - 1.12).abs() <= 0.0105, "{split:?}");
        assert!((split.after_nm - 0.3).abs() < 0.02);
    }

    #[test]
    fn no_rise_is_no_split() {
        assert!(!stroke(0.12, 0.2, 0.0).clear());
        assert!(!stroke(0.12, 0.2, -0.3).clear());
    }
}
