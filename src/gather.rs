//! Samples that come faster than anything a bolt does, gathered: what about a millisecond of them comes to.
//!
//! A hand turns a bolt by 0.06° in a millisecond, an eighth of an angle step, and no finding hangs on less.
//! So samples that come faster are gathered into blocks. The mean of the positions and that of the
//! torques both belong to the mean of the times, exact to the first order, so neither lags behind the
//! other; white noise falls by the root of the number. A block is of one kind: it ends where a switch
//! changes, where a reading comes or goes, and where a spindle turns fast. One sample alone is a block of
//! itself, to the last bit.
//!
//! Bounded: a loop over the joints with each sample.

use crate::sample::JointSample;

/// Time that a block is meant to cover, s.
pub const BLOCK_S: f32 = 1e-3;
/// Most samples of a block: at a quarter of a million a second it covers a millisecond.
pub const MOST: u8 = 250;

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

    /// Whether the sample is of the same kind as those gathered, so that it may be added to them.
    pub fn takes(&self, sample: &JointSample<N>) -> bool {
        let turns_fast = match (&self.mean.spindle, &sample.spindle) {
            (Some(mean), Some(new)) => !((new.angle_rad - mean.angle_rad).abs() <= SPINDLE_RAD),
            _ => false,
        };
        self.is_empty() || (self.kind == kind(sample) && !turns_fast)
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
