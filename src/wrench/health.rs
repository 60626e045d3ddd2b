//! Which joint torque readings still mean something.
//!
//! A reading at the end of its range tells only a bound. A reading that has not changed by a bit for
//! a while may be frozen or just quiet: a coarse quantum swallows noise, and a sensor on the edge
//! between two quanta flickers while it is as quiet as one in the middle. So only a sensor that used
//! to jump by two quanta and more is judged at all, by how improbable its silence is:
//!
//! - if it jumped in the part `p` of the pairs of samples, `n` pairs without any change have a
//!   probability of at most `(1 − p)ⁿ < e^(−pn)`; `pn` must exceed [`SILENCE`];
//! - noise that is not white makes longer pauses than that, so the silence must be several times
//!   the longest one that ended by itself.
//!
//! Only pairs in which the arm moves and another joint's reading changes are counted: at standstill
//! a sensor may rest, and samples that repeat as a whole are missing samples. Nor are those at the end
//! of the range: there every sensor is silent.

/// Part of the range from which a reading counts as clipped.
pub const SATURATED_PART: f32 = 0.98;
/// Least time without a change that counts as frozen, s.
pub const FROZEN_S: f32 = 0.25;

/// Least number of pairs in that time.
const FROZEN_PAIRS: u32 = 50;
/// Pairs from which a sensor's habits are known.
const LEARNT_PAIRS: u32 = 200;
/// Negative logarithm of the probability of a silence: about 1e-12, far below one in all the
/// samples of a working life.
const SILENCE: f32 = 27.6;
/// The silence as a multiple of the longest one before.
const LONGEST: u32 = 4;
/// A jump is more than so many quanta.
const JUMP_QUANTA: f32 = 1.5;
/// Speed above which a joint moves, rad/s.
const MOVES_RAD_S: f32 = 0.01;
/// Changes after which a frozen reading is believed again.
const ALIVE_CHANGES: u16 = 20;

/// Whether a joint torque can be used.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum JointHealth {
    /// As far as can be told, it means what it says.
    #[default]
    Usable,
    /// At the end of its range.
    Saturated,
    /// Has not changed by a bit while it should have.
    Frozen,
}

/// What is known of one sensor.
#[derive(Clone, Copy, Debug)]
struct Watch {
    last_nm: f32,
    /// Smallest change seen, N·m: the quantum, or less than it takes.
    quantum_nm: f32,
    pairs: u32,
    jumps: u32,
    silent_pairs: u32,
    silent_s: f32,
    longest_pairs: u32,
    changes: u16,
    frozen: bool,
    /// Whether it has been silent since it last changed, or is still taken for frozen.
    silent: bool,
}

impl Default for Watch {
    fn default() -> Self {
        Self {
            last_nm: f32::NAN,
            quantum_nm: f32::MAX,
            pairs: 0,
            jumps: 0,
            silent_pairs: 0,
            silent_s: 0.0,
            longest_pairs: 1,
            changes: 0,
            frozen: false,
            silent: false,
        }
    }
}

impl Watch {
    /// Whether this reading differs from the one before.
    #[inline(always)]
    fn changes(&self, torque_nm: f32) -> bool {
        // Bits, not values: 0 and −0 are two readings.
        torque_nm.to_bits() != self.last_nm.to_bits()
    }

    /// Takes in a reading that has changed; `counts`: whether the arm moved, another joint's reading
    /// changed as well, and this one is not at the end of its range.
    #[inline(always)]
    fn changed(&mut self, torque_nm: f32, counts: bool) {
        let change_nm = (torque_nm - self.last_nm).abs();
        self.last_nm = torque_nm;
        // Comparisons, not `min`: that is a call on some targets.
        if change_nm < self.quantum_nm && change_nm > 0.0 {
            self.quantum_nm = change_nm;
        }
        if counts {
            self.pairs = self.pairs.saturating_add(1);
            if change_nm > JUMP_QUANTA * self.quantum_nm {
                self.jumps = self.jumps.saturating_add(1);
            }
        }
        // Seldom: most readings change with every sample.
        if self.silent {
            self.spoke();
        }
    }

    /// A silence has ended.
    #[inline(never)]
    fn spoke(&mut self) {
        if self.frozen {
            self.changes += 1;
            if self.changes >= ALIVE_CHANGES {
                (self.frozen, self.changes) = (false, 0);
            }
        } else {
            self.longest_pairs = self.longest_pairs.max(self.silent_pairs);
        }
        self.silent_pairs = 0;
        self.silent_s = 0.0;
        self.silent = self.frozen;
    }

    /// A silence goes on.
    #[inline(never)]
    fn stayed(&mut self, dt_s: f32) {
        self.pairs = self.pairs.saturating_add(1);
        self.silent_pairs = self.silent_pairs.saturating_add(1);
        self.silent_s += dt_s;
        self.frozen |= self.is_frozen();
        self.silent = true;
    }

    fn is_frozen(&self) -> bool {
        let before = self.pairs - self.silent_pairs;
        // Two standard deviations of a count below what was counted.
        let jumps = self.jumps as f32;
        let surely = (jumps - 2.0 * crate::math::sqrt(jumps)).max(0.0);
        before >= LEARNT_PAIRS
            && self.silent_s >= FROZEN_S
            && self.silent_pairs >= FROZEN_PAIRS.max(LONGEST.saturating_mul(self.longest_pairs))
            && surely / before as f32 * self.silent_pairs as f32 > SILENCE
    }
}

/// The size of a number in its bits, which are in the same order: whole numbers are compared in fewer
/// instructions.
#[inline(always)]
const fn size(x: f32) -> u32 {
    x.to_bits() & !(1 << 31)
}

/// Watches the torques of `N` joints.
#[derive(Clone, Copy, Debug)]
pub struct SensorHealth<const N: usize> {
    /// From where on a reading is clipped, N·m.
    clipped_nm: [f32; N],
    /// Whether a reading was clipped since the last that was judged.
    clipped: [bool; N],
    watches: [Watch; N],
    joints: [JointHealth; N],
}

impl<const N: usize> SensorHealth<N> {
    /// Sensors of the given ranges, N·m, all usable so far.
    pub fn new(range_nm: [Option<f32>; N]) -> Self {
        Self {
            clipped_nm: range_nm.map(|range| range.map_or(f32::INFINITY, |nm| SATURATED_PART * nm)),
            clipped: [false; N],
            watches: [Watch::default(); N],
            joints: [JointHealth::default(); N],
        }
    }

    /// Takes note of clipped readings among the torques of a sample that is not judged on its own: with
    /// one of them, the mean of several tells no more than a bound.
    pub fn note(&mut self, torque_nm: &[f32; N]) {
        for i in 0..N {
            self.clipped[i] |= size(torque_nm[i]) >= self.clipped_nm[i].to_bits();
        }
    }

    /// Judges the torques of one sample, `dt_s` after the one judged before, with the joints' velocities.
    #[inline(never)]
    pub fn update(&mut self, torque_nm: &[f32; N], velocity_rad_s: &[f32; N], dt_s: f32) {
        let (mut moves, mut changing) = (false, 0);
        for i in 0..N {
            moves |= size(velocity_rad_s[i]) > MOVES_RAD_S.to_bits();
            changing += u32::from(self.watches[i].changes(torque_nm[i]));
        }
        // Where another joint changes as well, for one that changes and for one that does not.
        let (with, without) = (moves && changing > 1, moves && changing > 0);
        for i in 0..N {
            let watch = &mut self.watches[i];
            let noted = core::mem::take(&mut self.clipped[i]);
            let clipped = noted || size(torque_nm[i]) >= self.clipped_nm[i].to_bits();
            if watch.changes(torque_nm[i]) {
                watch.changed(torque_nm[i], with && !clipped);
            } else if without && !clipped {
                watch.stayed(dt_s);
            }
            self.joints[i] = if watch.frozen {
                JointHealth::Frozen
            } else if clipped {
                JointHealth::Saturated
            } else {
                JointHealth::Usable
            };
        }
    }

    /// The joints as judged last, base first.
    pub fn joints(&self) -> &[JointHealth; N] {
        &self.joints
    }

    /// Time for which joint `i` has not changed by a bit, s, as far as it counts: while the arm
    /// moves and other joints change. 0 for a joint that does not exist.
    pub fn silent_s(&self, i: usize) -> f32 {
        self.watches.get(i).map_or(0.0, |watch| watch.silent_s)
    }
}

#[cfg(test)]
mod tests {
    extern crate std;
    use std::vec::Vec;

    use super::*;

    /// Gaussian enough: the sum of twelve uniform numbers, from a linear congruential generator.
    struct Noise(u64);

    impl Noise {
        fn normal(&mut self) -> f32 {
            let mut uniform = || {
                self.0 = self
                    .0
                    .wrapping_mul(6_364_136_223_846_793_005)
                    .wrapping_add(1);
                (self.0 >> 40) as f32 / (1u64 << 24) as f32
            };
            (0..12).map(|_| uniform()).sum::<f32>() - 6.0
        }
    }

    fn quantised(x: f32, quantum: f32) -> f32 {
        libm::roundf(x / quantum) * quantum
    }

    /// Health of joint 0 over `n` samples at 1 kHz; joint 1 has noise and moves.
    fn watch(n: usize, mut reading: impl FnMut(usize, &mut Noise) -> f32) -> Vec<JointHealth> {
        let mut health = SensorHealth::new([Some(50.0), None]);
        let mut noise = Noise(7);
        (0..n)
            .map(|i| {
                let torque = [reading(i, &mut noise), noise.normal()];
                health.update(&torque, &[0.0, 0.3], 1e-3);
                health.joints()[0]
            })
            .collect()
    }

    #[test]
    fn a_noisy_sensor_that_stops_is_frozen_after_a_quarter_of_a_second() {
        let mut held = 0.0;
        let health = watch(4000, |i, noise| {
            if !(2000..3000).contains(&i) {
                held = quantised(5.0 + 0.07 * noise.normal(), 0.036);
            }
            held
        });
        let first = health.iter().position(|h| *h == JointHealth::Frozen);
        assert!(
            first.is_some_and(|i| (2245..2260).contains(&i)),
            "{first:?}"
        );
        assert_eq!(health[2999], JointHealth::Frozen);
        // And it is believed again once it lives.
        assert_eq!(health[3999], JointHealth::Usable);
    }

    /// Noise far below the quantum, at every place between two quanta, with a load that moves
    /// slowly and then rests: all silences are sound.
    #[test]
    fn a_quiet_sensor_of_coarse_quanta_is_never_frozen() {
        for sigma in [0.0, 0.05, 0.1, 0.2, 0.3, 0.5] {
            for place in 0..10 {
                let rest = 1.0 + 0.1 * place as f32;
                let health = watch(20_000, |i, noise| {
                    let ramp = (i as f32 * 1e-3).min(4.0) * 2.0;
                    0.036 * quantised(rest + ramp + sigma * noise.normal(), 1.0)
                });
                assert!(
                    health.iter().all(|h| *h == JointHealth::Usable),
                    "noise {sigma} quanta at {rest}"
                );
            }
        }
    }

    /// A torque that is read ten times for each time it is measured.
    #[test]
    fn a_slow_sensor_is_not_frozen() {
        let mut held = 0.0;
        let health = watch(20_000, |i, noise| {
            if i % 10 == 0 {
                held = quantised(0.07 * noise.normal(), 0.036);
            }
            held
        });
        assert!(health.iter().all(|h| *h == JointHealth::Usable));
    }

    /// A sensor that pauses now and then, ever longer: each pause is like those before.
    #[test]
    fn pauses_that_ended_before_are_no_freeze() {
        let mut held = 0.0;
        let (mut left, mut pause) = (500_usize, 0_usize);
        let health = watch(20_000, |_, noise| {
            if left == 0 {
                pause += 60;
                left = 500 + pause;
            }
            left -= 1;
            if left >= pause {
                held = quantised(0.07 * noise.normal(), 0.036);
            }
            held
        });
        assert!(pause > 500, "pauses beyond a quarter of a second: {pause}");
        assert!(health.iter().all(|h| *h == JointHealth::Usable));
    }

    #[test]
    fn a_resting_arm_and_a_repeated_sample_freeze_nothing() {
        let mut repeated = SensorHealth::new([None; 2]);
        let mut noise = Noise(3);
        for _ in 0..1000 {
            repeated.update(&[noise.normal(), noise.normal()], &[0.3; 2], 1e-3);
        }
        let mut at_rest = repeated;
        for _ in 0..5000 {
            repeated.update(&[1.0; 2], &[0.3; 2], 1e-3);
            assert_eq!(repeated.joints(), &[JointHealth::Usable; 2]);
            at_rest.update(&[1.0, noise.normal()], &[0.0; 2], 1e-3);
            assert_eq!(at_rest.joints(), &[JointHealth::Usable; 2]);
        }
    }

    /// A reading that is clipped is silent for as long as that lasts: it is saturated all the while,
    /// and usable again with the first reading that is not clipped.
    #[test]
    fn a_clipped_reading_is_never_called_frozen() {
        let health = watch(4000, |i, noise| {
            let load = if (2000..3000).contains(&i) { 55.0 } else { 5.0 };
            quantised(load + 0.07 * noise.normal(), 0.036).clamp(-50.0, 50.0)
        });
        for (i, got) in health.iter().enumerate() {
            let due = if (2000..3000).contains(&i) {
                JointHealth::Saturated
            } else {
                JointHealth::Usable
            };
            assert_eq!(*got, due, "sample {i}");
        }
    }

    #[test]
    fn a_reading_at_the_end_of_its_range_is_saturated() {
        let health = watch(3, |i, _| [10.0, -49.0, 48.9][i]);
        use JointHealth::*;
        assert_eq!(health, [Usable, Saturated, Usable]);
    }
}
