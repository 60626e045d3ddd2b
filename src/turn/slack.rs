//! Finds in one forward stroke where the slack ended and the bolt began to resist.
//!
//! Torque over forward travel is first that of a free tool, then that of the bolt. Where the two
//! levels are too close to be told sample by sample, the stretch is kept in bins and split at the
//! point that explains it best by two levels (least squares).

use crate::math::{Limited, sqrt};

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
    /// Sums of both.
    all: (f32, f32),
    /// Bins up to the last that was ever filled since the start.
    reached: usize,
}

/// Where the bolt began to resist.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
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
            bin_rad: (window_rad / BINS as f32).at_least(1e-5),
            width_rad: [0.0; BINS],
            torque: [0.0; BINS],
            all: (0.0, 0.0),
            reached: 0,
        }
    }

    /// Begins anew at `from_rad`, with the same window.
    pub fn restart(&mut self, from_rad: f32) {
        self.from_rad = from_rad;
        // A tool on its way back begins anew with every sample.
        if self.reached > 0 {
            self.width_rad = [0.0; BINS];
            self.torque = [0.0; BINS];
            self.all = (0.0, 0.0);
            self.reached = 0;
        }
    }

    /// Tool angle from which the search counts, rad.
    pub fn from_rad(&self) -> f32 {
        self.from_rad
    }

    /// Adds `step_rad` of forward travel that ends at `at_rad`; `sureness` (0 to 1) is the weight
    /// of its torque.
    pub fn add(&mut self, at_rad: f32, step_rad: f32, torque_nm: f32, sureness: f32) {
        let middle = at_rad - 0.5 * step_rad - self.from_rad;
        let index = (middle / self.bin_rad).at_least(0.0) as usize;
        let index = index.min(BINS - 1);
        if let (Some(w), Some(t)) = (self.width_rad.get_mut(index), self.torque.get_mut(index)) {
            let weight = step_rad * sureness;
            *w += weight;
            *t += weight * torque_nm;
            self.all.0 += weight;
            self.all.1 += weight * torque_nm;
            self.reached = self.reached.max(index + 1);
        }
    }

    /// Mean torque from `at_rad` on, N·m.
    pub fn mean_after_nm(&self, at_rad: f32) -> f32 {
        let first = ((at_rad - self.from_rad) / self.bin_rad).at_least(0.0) as usize;
        let (mut w, mut t) = (0.0, 0.0);
        for (width, torque) in self.bins(first.min(BINS - 1)) {
            w += width;
            t += torque;
        }
        if w > 0.0 { t / w } else { 0.0 }
    }

    /// The best split whose distance from the start lies in the range, rad.
    pub fn split(&self, (least_rad, most_rad): (f32, f32)) -> Split {
        let (all_w, all_t) = self.all;
        let mut before = Side::default();
        let mut best = before;
        let mut most = 0.0;
        for (width, torque) in self.bins(0) {
            before.add(width, torque);
            let slack_rad = before.bins as f32 * self.bin_rad;
            if slack_rad < least_rad || slack_rad > most_rad {
                continue;
            }
            let rest_w = all_w - before.weight;
            if !(before.weight > 0.0 && rest_w > 0.0) {
                continue;
            }
            // The rise times both weights; its square over them is the sum of squares explained.
            let across = before.weight * all_t - all_w * before.torque;
            let explained = across * across / (before.weight * rest_w);
            if across > 0.0 && explained > most && before.bins < BINS {
                most = explained;
                best = before;
            }
        }
        let at_rad = self.from_rad + best.bins as f32 * self.bin_rad;
        if best.bins == 0 {
            return Split {
                at_rad,
                after_nm: 0.0,
                rise_nm: 0.0,
                sigma: 0.0,
            };
        }
        let after = before.less(&best);
        let rise_nm = after.level_nm() - best.level_nm();
        Split {
            at_rad,
            after_nm: after.level_nm(),
            rise_nm,
            sigma: rise_nm / best.rise_u(&after).at_least(1e-9),
        }
    }

    /// Weight and weighted torque of each bin from one on that may hold something.
    fn bins(&self, first: usize) -> impl Iterator<Item = (f32, f32)> + '_ {
        let filled = first..self.reached;
        let width_rad = self.width_rad.get(filled.clone()).unwrap_or_default();
        let torque = self.torque.get(filled).unwrap_or_default();
        width_rad.iter().zip(torque).map(|(w, t)| (*w, *t))
    }
}

/// Sums over the bins on one side of a split.
#[derive(Clone, Copy, Default)]
struct Side {
    bins: usize,
    weight: f32,
    torque: f32,
    /// Bins that hold something, the sum of their levels and of the squares of those.
    filled: f32,
    level: f32,
    square: f32,
}

impl Side {
    fn add(&mut self, weight: f32, torque: f32) {
        self.bins += 1;
        if weight > 0.0 {
            let level = torque / weight;
            self.weight += weight;
            self.torque += torque;
            self.filled += 1.0;
            self.level += level;
            self.square += level * level;
        }
    }

    fn less(&self, other: &Self) -> Self {
        Self {
            bins: self.bins - other.bins,
            weight: self.weight - other.weight,
            torque: self.torque - other.torque,
            filled: self.filled - other.filled,
            level: self.level - other.level,
            square: self.square - other.square,
        }
    }

    fn level_nm(&self) -> f32 {
        self.torque / self.weight
    }

    /// Sum of squares of the bins around the level of the side.
    fn scatter(&self) -> f32 {
        let level = self.level_nm();
        self.square - level * (2.0 * self.level - self.filled * level)
    }

    /// Standard error of the rise from this side to another.
    fn rise_u(&self, after: &Self) -> f32 {
        let square = self.scatter() + after.scatter();
        let free = (self.filled + after.filled - 2.0).at_least(1.0);
        sqrt(square / free * (1.0 / self.filled.at_least(1.0) + 1.0 / after.filled.at_least(1.0)))
    }
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
