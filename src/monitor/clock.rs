//! Time and completeness of the samples.

use crate::gather::BLOCK_S;
use crate::math::Limited;
use crate::sample::JointSample;

/// A gap is longer than so many usual sample steps.
const GAP_STEPS: f32 = 2.5;
/// Samples are stale after so many usual steps, ...
const STALE_STEPS: f32 = 10.0;
/// ... and this time, s: three times the longest pause in published good runs, where a controller
/// takes up to 35 ms to change its program step (West, Deuse, arXiv 2505.11925), and still below the
/// reaction time of a hand. Shorter gaps are counted, ...
const STALE_S: f32 = 0.1;
/// ... or after this one, s, where no step is known yet.
const STALE_UNKNOWN_S: f32 = 0.5;

/// Samples before which the usual step is that since the start: jitter makes a first step of any length.
const LEARNT: u32 = 64;
/// Samples before which no step is known: the mean of three is right to a third with a jitter of two
/// fifths of a step, either way, at both ends.
const LEAST: u32 = 4;

/// Of µs: in two halves, for a number of 64 bits is converted by a call.
fn seconds(us: u64) -> f32 {
    const HALF: f32 = 4_294_967_296.0;
    ((us >> 32) as u32 as f32 * HALF + us as u32 as f32) * 1e-6
}

/// Counts samples and keeps their time.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Clock {
    start_us: Option<u64>,
    last_us: u64,
    /// Times of the first and the newest of the samples that were refused since the last usable one, µs.
    refused_us: Option<[u64; 2]>,
    /// Mean time of the last block, µs.
    block_us: Option<u64>,
    usual_s: f32,
    gap_s: f32,
    pub samples: u32,
    pub gaps: u32,
    pub unusable: u32,
}

impl Clock {
    /// Takes in a sample; whether it is usable.
    pub fn tick<const N: usize>(&mut self, sample: &JointSample<N>) -> bool {
        self.samples = self.samples.saturating_add(1);
        if !sample.is_usable() || sample.time_us < self.last_us {
            self.unusable = self.unusable.saturating_add(1);
            let [first_us, _] = self.refused_us.unwrap_or([sample.time_us; 2]);
            self.refused_us = Some([first_us, sample.time_us]);
            return false;
        }
        self.refused_us = None;
        let start_us = *self.start_us.get_or_insert(sample.time_us);
        let dt_s = seconds(sample.time_us - self.last_us.max(start_us));
        self.last_us = sample.time_us;
        if self.usual_s > 0.0 && dt_s > GAP_STEPS * self.usual_s {
            self.gaps = self.gaps.saturating_add(1);
            self.gap_s += dt_s - self.usual_s;
        } else if dt_s > 0.0 {
            let share = if self.usual_s > 0.0 { 0.05 } else { 1.0 };
            self.usual_s += (dt_s - self.usual_s) * share;
        }
        true
    }

    /// Takes in a block of samples, the mean of whose times is `time_us`: time since the start and since
    /// the block before, s.
    pub fn step(&mut self, time_us: u64) -> (f32, f32) {
        let start_us = self.start_us.unwrap_or(time_us);
        let last_us = self.block_us.replace(time_us).unwrap_or(start_us);
        (
            self.since_start_s(time_us),
            seconds(time_us.saturating_sub(last_us)),
        )
    }

    /// How many samples come to [`BLOCK_S`], to the nearest: 1 up to 1,500 a second.
    pub fn block_size(&self) -> u8 {
        let used = self.samples.saturating_sub(self.unusable);
        if used < LEAST {
            return 1;
        }
        let step_s = if used < LEARNT {
            let run_us = self.last_us.saturating_sub(self.start_us.unwrap_or(0));
            seconds(run_us) / used.saturating_sub(1) as f32
        } else {
            self.usual_s
        };
        // Limits itself to what the type holds.
        (BLOCK_S / step_s + 0.5) as u8
    }

    /// Time from the first sample to `time_us`, s.
    pub fn since_start_s(&self, time_us: u64) -> f32 {
        let start_us = self.start_us.unwrap_or(time_us);
        seconds(time_us.saturating_sub(start_us))
    }

    /// Time without a sample after which samples are stale, s.
    pub fn stale_after_s(&self) -> f32 {
        if self.usual_s > 0.0 {
            (STALE_STEPS * self.usual_s).at_least(STALE_S)
        } else {
            STALE_UNKNOWN_S
        }
    }

    /// Time of the last usable sample, µs; 0 before the first.
    pub const fn last_us(&self) -> u64 {
        self.last_us
    }

    /// Time since the last usable sample, s; `None` before the first. Where time has begun anew, since
    /// the first sample in the new one.
    pub fn silent_s(&self, now_us: u64) -> Option<f32> {
        self.start_us?;
        let since_us = match self.refused_us {
            Some([first_us, _]) if now_us < self.last_us => first_us,
            _ => self.last_us,
        };
        Some(seconds(now_us.saturating_sub(since_us)))
    }

    /// Whether samples came to the end of the run, and the last of them could not be used for longer
    /// than samples may be missing.
    pub fn end_is_unseen(&self) -> bool {
        let silent_s = (self.refused_us).and_then(|[_, newest_us]| self.silent_s(newest_us));
        silent_s.is_some_and(|s| s > self.stale_after_s())
    }

    /// Part of the run that was not seen, by time or by number of samples; all of it where its end was not.
    pub fn missing_part(&self) -> f32 {
        if self.end_is_unseen() {
            return 1.0;
        }
        let run_s = self
            .start_us
            .map_or(0.0, |s| (self.last_us.saturating_sub(s)) as f32 * 1e-6);
        let by_time = if run_s > 0.0 { self.gap_s / run_s } else { 0.0 };
        let by_count = self.unusable as f32 / self.samples.max(1) as f32;
        by_time.max(by_count)
    }
}

#[cfg(test)]
mod tests {
    extern crate std;
    use super::*;

    /// Sizes of blocks while samples come every `step_us`, either way off by up to `jitter` of that.
    fn sizes(step_us: u64, jitter: f64, seed: u64) -> std::vec::Vec<u8> {
        let mut clock = Clock::default();
        let mut seed = seed;
        (1..1000)
            .map(|i| {
                seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
                let uniform = (seed >> 40) as f64 / (1_u64 << 24) as f64;
                let off_us = step_us as f64 * jitter * (2.0 * uniform - 1.0);
                let time_us = ((i * step_us) as f64 + off_us) as u64;
                clock.tick(&JointSample::new(time_us, [], []));
                clock.block_size()
            })
            .collect()
    }

    /// However the samples jitter, at up to 1 kHz none is ever taken together with another.
    #[test]
    fn up_to_1_khz_a_block_is_one_sample() {
        for seed in 0..200 {
            for step_us in [1000, 2000, 10_000] {
                assert!(sizes(step_us, 0.4, seed).iter().all(|size| *size <= 1));
            }
        }
    }

    #[test]
    fn faster_samples_come_to_a_millisecond() {
        for (step_us, due) in [(500, 2), (333, 3), (250, 4), (125, 8), (20, 50)] {
            let sizes = sizes(step_us, 0.1, 3);
            assert!(sizes[..3].iter().all(|size| *size == 1), "not known yet");
            assert!(
                sizes[200..]
                    .iter()
                    .all(|size| size.abs_diff(due) <= due / 20)
            );
        }
        assert_eq!(sizes(1, 0.0, 0)[900], u8::MAX);
    }

    #[test]
    fn a_gap_neither_makes_blocks_smaller_nor_goes_uncounted() {
        let mut clock = Clock::default();
        let mut time_us = 0;
        for i in 0..1000 {
            time_us += if i == 500 { 9000 } else { 250 };
            assert!(clock.tick(&JointSample::new(time_us, [], [])));
        }
        assert_eq!((clock.gaps, clock.block_size()), (1, 4));
        assert!((clock.gap_s - 8.75e-3).abs() < 1e-6);
    }
}
