//! The torque–angle curve of a run in fixed memory.

use super::line::Point;
use super::step::STEP_RAD;
use crate::math::Limited;

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
}

impl Bin {
    fn merged(self, other: Self) -> Self {
        if self.width_rad == 0.0 {
            return other;
        }
        let width_rad = self.width_rad + other.width_rad;
        if !(width_rad > 0.0) {
            return Self::default();
        }
        let share = other.width_rad / width_rad;
        Self {
            width_rad,
            angle_rad: self.angle_rad + (other.angle_rad - self.angle_rad) * share,
            torque_nm: self.torque_nm + (other.torque_nm - self.torque_nm) * share,
        }
    }
}

/// A bin as it is kept: 8 bytes.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Slot {
    torque_nm: f32,
    /// Angle covered in parts of the bin's step, at least one where anything was covered; 64 steps
    /// and more are all the same.
    width: u16,
    /// Mean angle in parts of the bin's step from where the bin begins.
    offset: u16,
}

/// Parts of a bin's step in which widths are kept: a weight is known to a thousandth ...
const WIDTH_PARTS: f32 = 1024.0;
/// ... and mean angles: finer than f32 tells an angle of one rad.
const OFFSET_PARTS: f32 = 65_536.0;

impl Slot {
    const EMPTY: Self = Self {
        torque_nm: 0.0,
        width: 0,
        offset: 0,
    };

    /// This bin and the one that follows it, as one of twice their step.
    // A call of its own: whoever walks over the bins would hold it several times, 4 kB of flash in all.
    #[inline(never)]
    fn and_next(self, next: Self) -> Self {
        let width = u32::from(self.width) + u32::from(next.width);
        if width == 0 {
            return Self::EMPTY;
        }
        let share = f32::from(next.width) / width as f32;
        let mean = |a: f32, b: f32| a + (b - a) * share;
        let offset = mean(self.offset.into(), OFFSET_PARTS + f32::from(next.offset));
        Self {
            torque_nm: mean(self.torque_nm, next.torque_nm),
            width: width.div_ceil(2) as u16,
            offset: (0.5 * offset) as u16,
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
    bins: [Slot; B],
    start_rad: f32,
    step_rad: f32,
    /// How often the step has doubled, as far as it tells where a bin lies: modulo the bits of `B`.
    turns: u32,
    /// Pairs that are merged since it last doubled.
    merged: usize,
    /// Bins up to the last that holds something.
    used: usize,
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
            bins: [Slot::EMPTY; B],
            start_rad,
            step_rad: STEP_RAD,
            turns: 0,
            merged: Self::HALF,
            used: 0,
        }
    }

    /// Begins anew at another angle; costs nothing where nothing was added.
    pub fn restart(&mut self, start_rad: f32) {
        if self.used > 0 {
            *self = Self::new(start_rad);
        }
        self.start_rad = start_rad;
    }

    /// Adds a point, weighted by the angle it covers. One before the start counts to the first bin.
    pub fn add(&mut self, point: &Point) {
        let offset = (point.x - self.start_rad).at_least(0.0);
        if !point.x.is_finite() || !offset.is_finite() {
            return;
        }
        // Bounded: the step can double no more often than f32 has binary exponents.
        let mut doublings = 0;
        while offset >= self.step_rad * B as f32 && doublings < 256 {
            self.merge_up_to(Self::HALF);
            self.turns = (self.turns + 1) % Self::BITS;
            self.merged = 0;
            self.used = self.used.div_ceil(2);
            self.step_rad *= 2.0;
            doublings += 1;
        }
        let index = ((offset / self.step_rad) as usize).min(B - 1);
        let wanted = index % Self::HALF + 1;
        self.merge_up_to(wanted.max(self.merged + Self::PAIRS_A_STEP));
        self.used = self.used.max(index + 1);
        let bin = self.bin_of(self.at(index), index);
        let bin = bin.merged(Bin {
            width_rad: point.weight,
            angle_rad: point.x,
            torque_nm: point.y,
        });
        self.put(index, self.slot_of(&bin, index));
    }

    /// Bins that hold something, by rising angle.
    pub fn iter(&self) -> impl DoubleEndedIterator<Item = Bin> + Clone + '_ {
        (0..self.used)
            .map(|index| (index, self.slot(index)))
            .filter(|(_, slot)| slot.width > 0)
            .map(|(index, slot)| self.bin_of(slot, index))
    }

    /// The bins as points for a fit, weighted by the angle they cover.
    pub fn points(&self) -> impl DoubleEndedIterator<Item = Point> + Clone + '_ {
        self.iter().map(Self::point)
    }

    /// Shows the bins before one that hold something as points, with their number, the newest first, for
    /// as long as `take` wants more.
    /// What [`BinnedCurve::points`] reversed gives, for half the instructions.
    #[inline(always)]
    pub(crate) fn backwards(&self, before: usize, mut take: impl FnMut(usize, &Point) -> bool) {
        let width_rad = self.step_rad * (1.0 / WIDTH_PARTS);
        for index in (0..self.used.min(before)).rev() {
            let slot = self.slot(index);
            if slot.width == 0 {
                continue;
            }
            let part = f32::from(slot.offset) * (1.0 / OFFSET_PARTS);
            let point = Point {
                x: self.start_rad + (index as f32 + part) * self.step_rad,
                y: slot.torque_nm,
                weight: f32::from(slot.width) * width_rad,
            };
            if !take(index, &point) {
                return;
            }
        }
    }

    /// Width of a bin, rad.
    pub fn step_rad(&self) -> f32 {
        self.step_rad
    }

    /// Angle from which the curve runs, rad.
    pub fn start_rad(&self) -> f32 {
        self.start_rad
    }

    fn point(bin: Bin) -> Point {
        Point {
            x: bin.angle_rad,
            y: bin.torque_nm,
            weight: bin.width_rad,
        }
    }

    fn bin_of(&self, slot: Slot, index: usize) -> Bin {
        let part = f32::from(slot.offset) * (1.0 / OFFSET_PARTS);
        Bin {
            width_rad: f32::from(slot.width) * (self.step_rad * (1.0 / WIDTH_PARTS)),
            angle_rad: self.start_rad + (index as f32 + part) * self.step_rad,
            torque_nm: slot.torque_nm,
        }
    }

    fn slot_of(&self, bin: &Bin, index: usize) -> Slot {
        let per_step = 1.0 / self.step_rad;
        let part = (bin.angle_rad - self.start_rad) * per_step - index as f32;
        let width = bin.width_rad * per_step * WIDTH_PARTS;
        Slot {
            torque_nm: bin.torque_nm,
            // Casts saturate; what is covered never rounds to nothing.
            width: if bin.width_rad > 0.0 {
                ((width + 0.5) as u16).max(1)
            } else {
                0
            },
            offset: (part * OFFSET_PARTS + 0.5) as u16,
        }
    }

    /// Where a bin lies. Doubling sends bin `c` of the lower half to where `2c` was and the bins of
    /// the upper half in between: each time, the bits of the index turn by one more.
    fn place(&self, index: usize) -> usize {
        ((index << self.turns) | (index >> (Self::BITS - self.turns))) & (B - 1)
    }

    fn at(&self, index: usize) -> Slot {
        let place = self.place(index);
        self.bins.get(place).copied().unwrap_or(Slot::EMPTY)
    }

    fn put(&mut self, index: usize, slot: Slot) {
        let place = self.place(index);
        if let Some(kept) = self.bins.get_mut(place) {
            *kept = slot;
        }
    }

    /// A bin as it will be once its pair is merged.
    fn slot(&self, index: usize) -> Slot {
        if index % Self::HALF < self.merged {
            self.at(index)
        } else if index < Self::HALF {
            self.whole(index)
        } else {
            Slot::EMPTY
        }
    }

    /// A pair that is not merged yet, as one.
    fn whole(&self, index: usize) -> Slot {
        self.at(index).and_next(self.at(index + Self::HALF))
    }

    fn merge_up_to(&mut self, pairs: usize) {
        while self.merged < pairs.min(Self::HALF) {
            let index = self.merged;
            self.put(index, self.whole(index));
            self.put(index + Self::HALF, Slot::EMPTY);
            self.merged += 1;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn step(angle_rad: f32, torque_nm: f32) -> Point {
        Point {
            x: angle_rad,
            y: torque_nm,
            weight: STEP_RAD,
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

    /// Merging a few pairs with every step comes to what merging all at once comes to, to within what
    /// the bins are kept with.
    #[test]
    fn spreading_the_merging_loses_nothing() {
        let mut c = BinnedCurve::<16>::new(0.0);
        let mut plain = [Bin::default(); 16];
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
                        _ => Bin::default(),
                    };
                }
                step_rad *= 2.0;
            }
            let index = (angle / step_rad) as usize;
            plain[index] = plain[index].merged(Bin {
                width_rad: s.weight,
                angle_rad: s.x,
                torque_nm: s.y,
            });
            let plain = plain.iter().filter(|b| b.width_rad > 0.0);
            assert_eq!(c.iter().count(), plain.clone().count(), "after step {i}");
            for (kept, plain) in c.iter().zip(plain) {
                assert!((kept.angle_rad - plain.angle_rad).abs() < 0.02 * step_rad);
                assert!(
                    (kept.torque_nm - plain.torque_nm).abs() < 0.1,
                    "{kept:?} {plain:?}"
                );
                let off = (kept.width_rad / plain.width_rad - 1.0).abs();
                assert!(off < 0.1, "{kept:?} {plain:?}");
            }
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
