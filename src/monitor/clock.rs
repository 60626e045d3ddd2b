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
/// Samples before which no step is known.
const LEAST: u32 = 8;

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
    /// Takes in a sample; whether there is a gap before it. `None` for an unusable one.
    pub fn tick<const N: usize>(&mut self, sample: &JointSample<N>) -> Option<bool> {
        self.samples = self.samples.saturating_add(1);
        if !sample.is_usable() || sample.time_us < self.last_us {
            self.unusable = self.unusable.saturating_add(1);
            let [first_us, _] = self.refused_us.unwrap_or([sample.time_us; 2]);
            self.refused_us = Some([first_us, sample.time_us]);
            return None;
        }
        self.refused_us = None;
        let start_us = *self.start_us.get_or_insert(sample.time_us);
        let dt_s = seconds(sample.time_us - self.last_us.max(start_us));
        self.last_us = sample.time_us;
        let gap = self.usual_s > 0.0 && dt_s > GAP_STEPS * self.usual_s;
        if gap {
            self.gaps = self.gaps.saturating_add(1);
            self.gap_s += dt_s - self.usual_s;
        } else if dt_s > 0.0 {
            let share = if self.usual_s > 0.0 { 0.05 } else { 1.0 };
            self.usual_s += (dt_s - self.usual_s) * share;
        }
        Some(gap)
    }

    /// Takes in a block of samples, the mean of whose times is `time_us`: time since the start and since
    /// the block before, s.
    pub fn step(&mut self, time_us: u64) -> (f32, f32) {
        let start = self.start_us.unwrap_or(time_us);
        let last_us = self.block_us.replace(time_us).unwrap_or(start);
        (
            seconds(time_us.saturating_sub(start)),
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
