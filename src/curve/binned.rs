//! The torque–angle curve of a run in fixed memory.

use super::line::Point;
use super::step::{AngleStep, STEP_RAD};

/// One bin of the curve: angle-weighted means.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Bin {
    /// Bolt angle covered, rad; 0 for an empty bin.
    pub width_rad: f32,
    /// Mean bolt angle, rad.
    pub angle_rad: f32,
    /// Mean torque, N·m.
    pub torque_nm: f32,
    /// Variance of the step torques around that mean, N²·m².
    pub variance_nm2: f32,
}

impl Bin {
    const EMPTY: Self = Self {
        width_rad: 0.0,
        angle_rad: 0.0,
        torque_nm: 0.0,
        variance_nm2: 0.0,
    };

    fn merged(self, other: Self) -> Self {
        if self.width_rad == 0.0 {
            return other;
        }
        let width_rad = self.width_rad + other.width_rad;
        if !(width_rad > 0.0) {
            return Self::default();
        }
        let share = other.width_rad / width_rad;
        let dt = other.torque_nm - self.torque_nm;
        Self {
            width_rad,
            angle_rad: self.angle_rad + (other.angle_rad - self.angle_rad) * share,
            torque_nm: self.torque_nm + dt * share,
            variance_nm2: self.variance_nm2 * (1.0 - share)
                + other.variance_nm2 * share
                + dt * dt * share * (1.0 - share),
        }
    }
}

/// The curve from a starting angle on, in `B` bins of equal step (`B` a power of two, at least 2).
/// When a step lies beyond the last bin, neighbours merge and the bin step doubles: any run fits, and
/// its start stays.
///
/// Bounded: the merging is spread over the steps that follow. A merged pair stays where its first half
/// was, and the place of the second half is given to a bin of the new half of the curve; so a pair
/// need not be merged before that bin is wanted. Two pairs are merged with every step, which is ahead
/// of steady turning; only a bolt angle that jumps by `n` bins at once costs up to `n` merges, and no
/// more than `B/2` for each doubling.
#[derive(Clone, Debug)]
pub struct BinnedCurve<const B: usize> {
    bins: [Bin; B],
    start_rad: f32,
    step_rad: f32,
    /// How often the step has doubled, as far as it tells where a bin lies: modulo the bits of `B`.
    turns: u32,
    /// Pairs that are merged since it last doubled.
    merged: usize,
    empty: bool,
}

impl<const B: usize> BinnedCurve<B> {
    const HALF: usize = B / 2;
    const BITS: u32 = B.trailing_zeros();
    /// Pairs that are merged with every step.
    const PAIRS_A_STEP: usize = 2;

    /// An empty curve from `start_rad` on, in bins of the usual angle step.
    pub const fn new(start_rad: f32) -> Self {
        const { assert!(B.is_power_of_two() && B >= 2, "B is a power of two") };
        Self {
            bins: [Bin::EMPTY; B],
            start_rad,
            step_rad: STEP_RAD,
            turns: 0,
            merged: Self::HALF,
            empty: true,
        }
    }

    /// Begins anew at another angle; costs nothing where nothing was added.
    pub fn restart(&mut self, start_rad: f32) {
        if !self.empty {
            *self = Self::new(start_rad);
        }
        self.start_rad = start_rad;
    }

    /// Adds an angle step. Steps before the start count to the first bin.
    pub fn add(&mut self, step: &AngleStep) {
        let offset = (step.angle_rad - self.start_rad).max(0.0);
        if !step.angle_rad.is_finite() || !offset.is_finite() {
            return;
        }
        self.empty = false;
        // Bounded: the step can double no more often than f32 has binary exponents.
        let mut doublings = 0;
        while offset >= self.step_rad * B as f32 && doublings < 256 {
            self.merge_up_to(Self::HALF);
            self.turns = (self.turns + 1) % Self::BITS;
            self.merged = 0;
            self.step_rad *= 2.0;
            doublings += 1;
        }
        let index = ((offset / self.step_rad) as usize).min(B - 1);
        let wanted = index % Self::HALF + 1;
        self.merge_up_to(wanted.max(self.merged + Self::PAIRS_A_STEP));
        let place = self.place(index);
        if let Some(bin) = self.bins.get_mut(place) {
            *bin = bin.merged(Bin {
                width_rad: step.width_rad,
                angle_rad: step.angle_rad,
                torque_nm: step.torque_nm,
                variance_nm2: 0.0,
            });
        }
    }

    /// Bins that hold something, by rising angle.
    pub fn iter(&self) -> impl DoubleEndedIterator<Item = Bin> + Clone + '_ {
        (0..B)
            .map(|index| self.bin(index))
            .filter(|b| b.width_rad > 0.0)
    }

    /// The bins as points for a fit, weighted by the angle they cover.
    pub fn points(&self) -> impl DoubleEndedIterator<Item = Point> + Clone + '_ {
        self.iter().map(|b| Point {
            x: b.angle_rad,
            y: b.torque_nm,
            weight: b.width_rad,
        })
    }

    /// Width of a bin, rad.
    pub fn step_rad(&self) -> f32 {
        self.step_rad
    }

    /// Angle from which the curve runs, rad.
    pub fn start_rad(&self) -> f32 {
        self.start_rad
    }

    /// Where a bin lies. Doubling sends bin `c` of the lower half to where `2c` was and the bins of
    /// the upper half in between: each time, the bits of the index turn by one more.
    fn place(&self, index: usize) -> usize {
        ((index << self.turns) | (index >> (Self::BITS - self.turns))) & (B - 1)
    }

    fn at(&self, index: usize) -> Bin {
        let place = self.place(index);
        self.bins.get(place).copied().unwrap_or(Bin::EMPTY)
    }

    /// A bin as it will be once its pair is merged.
    fn bin(&self, index: usize) -> Bin {
        if index % Self::HALF < self.merged {
            self.at(index)
        } else if index < Self::HALF {
            self.at(index).merged(self.at(index + Self::HALF))
        } else {
            Bin::EMPTY
        }
    }

    fn merge_up_to(&mut self, pairs: usize) {
        while self.merged < pairs.min(Self::HALF) {
            let (first, second) = (self.merged, self.merged + Self::HALF);
            let whole = self.bin(first);
            for (index, bin) in [(first, whole), (second, Bin::EMPTY)] {
                let place = self.place(index);
                if let Some(slot) = self.bins.get_mut(place) {
                    *slot = bin;
                }
            }
            self.merged += 1;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn step(angle_rad: f32, torque_nm: f32) -> AngleStep {
        AngleStep {
            angle_rad,
            width_rad: STEP_RAD,
            torque_nm,
            ..AngleStep::default()
        }
    }

    #[test]
    fn a_run_of_any_length_fits_and_keeps_its_start_and_its_area() {
        let mut c = BinnedCurve::<32>::new(0.0);
        let mut area = 0.0_f64;
        for i in 0..20_000 {
            let angle = (i as f32 + 0.5) * STEP_RAD;
            let torque = 0.3 + 1e-3 * i as f32;
            area += f64::from(torque * STEP_RAD);
            c.add(&step(angle, torque));
        }
        let kept: f64 = c.iter().map(|b| f64::from(b.width_rad * b.torque_nm)).sum();
        assert!((kept - area).abs() < 1e-3 * area);
        let first = c.iter().next().unwrap_or_default();
        assert!(first.angle_rad < c.step_rad());
        assert!(c.iter().count() > 16);
    }

    #[test]
    fn a_bin_keeps_the_scatter_of_what_was_merged_into_it() {
        let mut c = BinnedCurve::<4>::new(0.0);
        for i in 0..16 {
            c.add(&step(
                (i as f32 + 0.5) * STEP_RAD,
                if i % 2 == 0 { 1.0 } else { 3.0 },
            ));
        }
        for b in c.iter() {
            assert!((b.torque_nm - 2.0).abs() < 1e-5 && (b.variance_nm2 - 1.0).abs() < 1e-4);
        }
    }

    /// Merging a few pairs with every step comes to what merging all at once comes to.
    #[test]
    fn spreading_the_merging_changes_no_bit() {
        let mut c = BinnedCurve::<16>::new(0.0);
        let mut plain = [Bin::EMPTY; 16];
        let mut step_rad = STEP_RAD;
        let mut angle = 0.0_f32;
        for i in 0..400_u32 {
            // Steady turning with a jump now and then.
            angle += STEP_RAD * if i % 37 == 0 { 9.0 } else { 0.9 };
            let s = step(angle, (i * i % 17) as f32);
            c.add(&s);
            while angle >= step_rad * 16.0 {
                for k in 0..16 {
                    plain[k] = match (plain.get(2 * k), plain.get(2 * k + 1)) {
                        (Some(a), Some(b)) => a.merged(*b),
                        _ => Bin::EMPTY,
                    };
                }
                step_rad *= 2.0;
            }
            let index = (angle / step_rad) as usize;
            plain[index] = plain[index].merged(Bin {
                width_rad: s.width_rad,
                angle_rad: s.angle_rad,
                torque_nm: s.torque_nm,
                variance_nm2: 0.0,
            });
            assert!(
                c.iter()
                    .eq(plain.iter().copied().filter(|b| b.width_rad > 0.0)),
                "after step {i}"
            );
        }
    }

    #[test]
    fn an_angle_that_is_no_number_or_beyond_reason_does_no_harm() {
        let mut c = BinnedCurve::<8>::new(0.0);
        c.add(&step(f32::NAN, 1.0));
        c.add(&step(f32::INFINITY, 1.0));
        c.add(&step(3e38, 1.0));
        assert!(c.iter().count() <= 1);
    }
}
