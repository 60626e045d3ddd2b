//! Samples that come faster than anything a bolt does, gathered: what about a millisecond of them comes to.
//!
//! A hand turns a bolt by 0.06° in a millisecond, an eighth of an angle step, and no finding hangs on less.
//! So samples that come faster are gathered into blocks. The mean of the positions and that of the
//! torques both belong to the mean of the times, exact to the first order, so neither lags behind the
//! other; white noise falls by the root of the number. A block is of one kind: it ends where a switch
//! changes, where a reading comes or goes, where a spindle turns fast, and at a gap. One sample alone is a block of
//! itself, to the last bit.
//!
//! Bounded: a loop over the joints with each sample.

use crate::sample::JointSample;

/// Time that a block is meant to cover, s.
pub const BLOCK_S: f32 = 1e-3;
/// Most samples of a block: at a quarter of a million a second it covers a millisecond.
pub const MOST: u8 = 250;

/// Longest time from a block's first sample to its last, µs: with a gap between them it may be twice what
/// it is meant to cover.
const LONGEST_US: u64 = 2000;
/// Most that a spindle may turn within a block, rad (an eighth of a degree, a quarter of an angle step).
const SPINDLE_RAD: f32 = 0.0022;

/// The mean of the samples that came since the last block was taken.
#[derive(Clone, Copy, Debug)]
pub struct Gather<const N: usize> {
    /// With the time of the first.
    mean: JointSample<N>,
    /// Torques of the newest, as read.
    newest_nm: [f32; N],
    kind: u8,
    count: u8,
    size: u8,
    /// Sum of the times since the first, µs.
    later_us: u32,
}

/// A block of samples, all of one kind.
#[derive(Clone, Copy, Debug)]
pub struct Block<'a, const N: usize> {
    /// Their mean, at the mean of their times; switches as they all are, the force ratio the newest.
    pub mean: &'a JointSample<N>,
    /// Torques of the newest sample as read, N·m: a mean has finer quanta than the sensor.
    pub newest_nm: &'a [f32; N],
    /// How many.
    pub samples: u8,
}

impl<'a, const N: usize> Block<'a, N> {
    /// A sample alone.
    pub const fn of_one(sample: &'a JointSample<N>) -> Self {
        Self {
            mean: sample,
            newest_nm: &sample.torque_nm,
            samples: 1,
        }
    }
}

impl<const N: usize> Default for Gather<N> {
    fn default() -> Self {
        Self {
            mean: JointSample::new(0, [0.0; N], [0.0; N]),
            newest_nm: [0.0; N],
            kind: 0,
            count: 0,
            size: 1,
            later_us: 0,
        }
    }
}

impl<const N: usize> Gather<N> {
    /// Whether there is nothing in it.
    pub const fn is_empty(&self) -> bool {
        self.count == 0
    }

    /// Whether it holds as many as it was to.
    pub const fn is_full(&self) -> bool {
        self.count >= self.size
    }

    /// How many it was to hold.
    pub const fn size(&self) -> u8 {
        self.size
    }

    /// Whether the sample is of the same kind as those gathered and near them, so that it may be added.
    pub fn takes(&self, sample: &JointSample<N>) -> bool {
        let turns_fast = match (&self.mean.spindle, &sample.spindle) {
            (Some(mean), Some(new)) => !((new.angle_rad - mean.angle_rad).abs() <= SPINDLE_RAD),
            _ => false,
        };
        let since_us = sample.time_us.saturating_sub(self.mean.time_us);
        self.is_empty() || (self.kind == kind(sample) && since_us <= LONGEST_US && !turns_fast)
    }

    /// Begins a block that is to hold `size` samples with a usable one.
    pub fn begin(&mut self, sample: &JointSample<N>, size: u8) {
        self.mean = *sample;
        self.newest_nm = sample.torque_nm;
        self.kind = kind(sample);
        (self.count, self.size, self.later_us) = (1, size.clamp(1, MOST), 0);
    }

    /// Adds a usable sample, which [`Gather::takes`].
    pub fn add(&mut self, sample: &JointSample<N>) {
        self.newest_nm = sample.torque_nm;
        let mean = &mut self.mean;
        self.count = self.count.saturating_add(1);
        let part = 1.0 / f32::from(self.count);
        let since_us = sample.time_us.saturating_sub(mean.time_us);
        let since_us = u32::try_from(since_us).unwrap_or(u32::MAX);
        self.later_us = self.later_us.saturating_add(since_us);
        mean.context = sample.context;
        approach(&mut mean.position_rad, &sample.position_rad, part);
        approach(&mut mean.torque_nm, &sample.torque_nm, part);
        if let (Some(mean), Some(new)) = (&mut mean.velocity_rad_s, &sample.velocity_rad_s) {
            approach(mean, new, part);
        }
        if let (Some(mean), Some(new)) = (&mut mean.wrist, &sample.wrist) {
            approach(&mut mean.force_n, &new.force_n, part);
            approach(&mut mean.moment_nm, &new.moment_nm, part);
        }
        if let (Some(mean), Some(new)) = (&mut mean.spindle, &sample.spindle) {
            mean.angle_rad += (new.angle_rad - mean.angle_rad) * part;
            mean.torque_nm += (new.torque_nm - mean.torque_nm) * part;
        }
    }

    /// Takes the block out, whether it is full or not; the next sample begins another.
    pub fn take(&mut self) -> Block<'_, N> {
        let samples = core::mem::take(&mut self.count);
        let later_us = core::mem::take(&mut self.later_us);
        let mean_us = later_us.checked_div(samples.into()).unwrap_or(0);
        self.mean.time_us = self.mean.time_us.saturating_add(mean_us.into());
        Block {
            mean: &self.mean,
            newest_nm: &self.newest_nm,
            samples,
        }
    }
}

/// Moves each mean on by a part of what its new figure differs by. As a running mean, and not as a sum,
/// it stays what it is, to the last bit, while a reading does.
fn approach<const K: usize>(mean: &mut [f32; K], new: &[f32; K], part: f32) {
    for (mean, new) in mean.iter_mut().zip(new) {
        *mean += (new - *mean) * part;
    }
}

/// Switches, and what is read: samples of different kinds have no mean.
fn kind<const N: usize>(sample: &JointSample<N>) -> u8 {
    let context = &sample.context;
    [
        context.arm_enabled,
        context.tool_powered,
        context.tool_held,
        context.payload_held,
        sample.velocity_rad_s.is_some(),
        sample.wrist.is_some(),
        sample.spindle.is_some(),
    ]
    .into_iter()
    .fold(0, |bits, on| bits << 1 | u8::from(on))
}

#[cfg(test)]
mod tests {
    extern crate std;
    use proptest::prelude::*;

    use super::*;
    use crate::sample::{Context, SpindleReading, WristReading};

    fn sample(time_us: u64, position: f32, torque: f32) -> JointSample<2> {
        JointSample {
            velocity_rad_s: Some([position, 2.0 * position]),
            ..JointSample::new(time_us, [position, -position], [torque, 10.0 * torque])
        }
    }

    fn gathered(samples: &[JointSample<2>]) -> Gather<2> {
        let mut gather = Gather::default();
        for sample in samples {
            assert!(gather.takes(sample));
            if gather.is_empty() {
                gather.begin(sample, 4);
            } else {
                gather.add(sample);
            }
        }
        gather
    }

    /// On a straight line the mean of what is read is what was the case at the mean time, whatever the
    /// times are.
    #[test]
    fn the_mean_lies_on_the_line_that_the_samples_do() {
        let times = [1_000_000, 1_000_180, 1_000_620, 1_000_800];
        let at = |us: u64| {
            let t = (us - 1_000_000) as f32 * 1e-6;
            let mut sample = sample(us, 0.5 + 30.0 * t, 4.0 - 200.0 * t);
            sample.wrist = Some(WristReading {
                force_n: [8.0 * t, 1.0, 2.0],
                moment_nm: [0.0, 3.0, 900.0 * t],
            });
            sample.spindle = Some(SpindleReading {
                angle_rad: 2.0 * t,
                torque_nm: 70.0 * t,
            });
            sample
        };
        let mut gather = gathered(&times.map(at));
        assert!(gather.is_full());
        let block = gather.take();
        assert_eq!((block.samples, block.mean.time_us), (4, 1_000_400));
        assert_eq!(*block.newest_nm, at(1_000_800).torque_nm);
        let (got, due) = (block.mean, at(1_000_400));
        let near = |a: &[f32], b: &[f32]| {
            a.iter()
                .zip(b)
                .all(|(a, b)| (a - b).abs() < 1e-6 * (1.0 + b.abs()))
        };
        assert!(near(&got.position_rad, &due.position_rad), "{got:?}");
        assert!(near(&got.torque_nm, &due.torque_nm), "{got:?}");
        assert!(near(
            &got.velocity_rad_s.unwrap(),
            &due.velocity_rad_s.unwrap()
        ));
        let (got_wrist, due_wrist) = (got.wrist.unwrap(), due.wrist.unwrap());
        assert!(near(&got_wrist.force_n, &due_wrist.force_n));
        assert!(near(&got_wrist.moment_nm, &due_wrist.moment_nm));
        let (got_spindle, due_spindle) = (got.spindle.unwrap(), due.spindle.unwrap());
        assert!(near(
            &[got_spindle.angle_rad, got_spindle.torque_nm],
            &[due_spindle.angle_rad, due_spindle.torque_nm]
        ));
        assert!(gather.is_empty());
    }

    /// To the last bit: a frozen reading is frozen in the mean as well.
    #[test]
    fn what_does_not_change_stays_as_it_is() {
        for x in [0.1_f32, 1.0 / 3.0, -77.123, 1e-38] {
            for n in 1..40 {
                let all = std::vec![sample(5, x, x); n];
                let mut gather = gathered(&all);
                let block = gather.take();
                assert_eq!(block.mean.position_rad[0].to_bits(), x.to_bits());
                assert_eq!(block.mean.torque_nm[1].to_bits(), (10.0 * x).to_bits());
                assert_eq!((block.samples, block.mean.time_us), (n as u8, 5));
            }
        }
    }

    #[test]
    fn samples_of_another_kind_are_not_taken() {
        let first = sample(0, 0.1, 1.0);
        let gather = gathered(&[first]);
        let on = Context::new();
        let switched = [
            Context {
                arm_enabled: false,
                ..on
            },
            Context {
                tool_powered: false,
                ..on
            },
            Context {
                tool_held: false,
                ..on
            },
            Context {
                payload_held: true,
                ..on
            },
        ];
        for context in switched {
            assert!(!gather.takes(&JointSample { context, ..first }));
        }
        // What the operator feels is no matter of the bolt.
        let context = Context {
            force_ratio: 7.0,
            ..on
        };
        assert!(gather.takes(&JointSample { context, ..first }));
        assert!(!gather.takes(&JointSample {
            velocity_rad_s: None,
            ..first
        }));
        let wrist = Some(WristReading {
            force_n: [0.0; 3],
            moment_nm: [0.0; 3],
        });
        assert!(!gather.takes(&JointSample { wrist, ..first }));
    }

    #[test]
    fn a_gap_ends_a_block() {
        let gather = gathered(&[sample(700, 0.1, 1.0), sample(950, 0.1, 1.0)]);
        assert!(gather.takes(&sample(2700, 0.1, 1.0)));
        assert!(!gather.takes(&sample(2701, 0.1, 1.0)));
    }

    #[test]
    fn a_spindle_that_turns_fast_is_not_averaged_over() {
        let at = |angle_rad| JointSample {
            spindle: Some(SpindleReading {
                angle_rad,
                torque_nm: 0.0,
            }),
            ..sample(0, 0.0, 0.0)
        };
        let gather = gathered(&[at(10.0)]);
        assert!(gather.takes(&at(10.002)) && gather.takes(&at(9.998)));
        assert!(!gather.takes(&at(10.004)) && !gather.takes(&at(f32::NAN)));
        assert!(!gather.takes(&sample(0, 0.0, 0.0)));
    }

    proptest! {
        /// Whatever bits come, a block has at least one sample and no more than came.
        #[test]
        fn any_bits_are_taken(
            all in proptest::collection::vec((any::<u64>(), any::<u32>(), any::<bool>()), 0..600),
            size: u8,
        ) {
            let mut gather = Gather::<2>::default();
            for (time_us, bits, held) in all {
                let mut new = sample(time_us, f32::from_bits(bits), f32::from_bits(!bits));
                new.context.tool_held = held;
                if gather.is_empty() {
                    gather.begin(&new, size);
                } else {
                    gather.add(&new);
                }
                if gather.is_full() {
                    let samples = gather.take().samples;
                    prop_assert!((1..=MOST).contains(&samples) && samples == size.clamp(1, MOST));
                }
            }
        }
    }
}
