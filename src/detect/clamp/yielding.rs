//! The slope of the joint gives way: yield, wanted or too early.
//!
//! A bolt that yields goes on taking torque with a slope that is a part of the elastic one (strain
//! hardening). A thread that shears loses its slope within a few degrees and then falls; so where
//! the slope is all but gone, the finding waits until the torque has shown that it stays.

use super::rise::{Now, Rise};
use super::slope::Slope;
use super::{Cause, Detection, FindingKind, Quantity, StepView};

/// The slope must lie below its limit by so many standard errors, and below the elastic one by so
/// many: many stretches of a long rise are tried.
const SIGMA: f32 = 2.5;
const CHANGED_SIGMA: f32 = 5.0;
/// By so many it must lie below the elastic one to leave the verdict open: one look, at the end of the run.
const DOUBT_SIGMA: f32 = 3.0;
/// Least torque at which yield is looked for, as a part of the target: what turns flat below is a
/// locking feature or a burr.
const LEAST_PART: f32 = 0.4;
/// Slope, as a part of the elastic one, below which a thread may be about to shear ...
const LEVEL_PART: f32 = 0.12;
/// ... and for how long the torque must then stay level, rad (15°).
const LEVEL_RAD: f32 = 0.26;
/// Likewise while more slope is left, rad (2°).
const SOFT_RAD: f32 = 0.035;

/// Watches for yield; says it once.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Yielding {
    /// Bolt angle from which the slope has been too low, rad, and the torque at which it began to be,
    /// N·m.
    since: Option<(f32, f32)>,
    /// Bolt angle of the same without regard to its uncertainty, rad: too little for a finding, enough
    /// to tell what a fall is.
    slack_from_rad: Option<f32>,
    /// Torque at which the yield that was said began, N·m.
    onset_nm: Option<f32>,
    in_doubt: bool,
}

impl Yielding {
    /// Takes in the slopes of now.
    pub fn follow(&mut self, view: &StepView<'_>, rise: &Rise, now: Now) -> Option<Detection> {
        let (step, expected) = (view.step, view.expected);
        if now.iter().all(Option::is_none) {
            return None;
        }
        let elastic = rise.elastic()?;
        let limit = expected.yield_slope_part * elastic.counts;
        let mean_nm = view.window.mean_torque_nm(3);
        let high = mean_nm >= expected.part_of_target_nm(LEAST_PART);
        let [short, ..] = now;
        let slack = short.filter(|slope| high && slope.value < limit);
        self.slack_from_rad = slack.map(|slope| {
            let middle_rad = step.angle_rad - 0.5 * slope.over_rad;
            self.slack_from_rad.unwrap_or(middle_rad)
        });
        let too_low = |slope: &Slope| {
            let u = slope.u.max(elastic.line.wander_u(slope.over_rad, mean_nm));
            slope.value + SIGMA * u < limit && slope.value + CHANGED_SIGMA * u < elastic.counts
        };
        self.in_doubt = high && self.is_in_doubt(view, rise, &elastic.line, &now);
        let Some(now) = now.into_iter().flatten().find(too_low).filter(|_| high) else {
            self.since = None;
            return None;
        };
        let (since_rad, onset_nm) = *self.since.get_or_insert_with(|| {
            let left_nm = rise.left_nm(&elastic.line);
            let start_nm = mean_nm - now.value * now.over_rad;
            (step.angle_rad, left_nm.unwrap_or(start_nm))
        });
        let lasts_rad = step.angle_rad - since_rad;
        let part = now.value / elastic.counts;
        let falling = view.local.is_some_and(|l| l.slope < -2.0 * l.slope_u);
        let least_rad = if part < LEVEL_PART {
            LEVEL_RAD
        } else {
            SOFT_RAD
        };
        if self.onset_nm.is_some() || falling || lasts_rad < least_rad {
            return None;
        }
        self.onset_nm = Some(onset_nm);
        let wanted = expected.end_nm.is_some_and(|end| onset_nm >= end.min);
        let thread = expected
            .strip_nm
            .zip(expected.yield_nm)
            .is_some_and(|(strip, bolt)| strip.min < bolt.min);
        let (likely, runner_up) = if thread && part < LEVEL_PART {
            (Cause::StrippingThread, Cause::YieldingBolt)
        } else {
            (Cause::YieldingBolt, Cause::StrippingThread)
        };
        Some(Detection {
            kind: if wanted {
                FindingKind::YieldOnset
            } else {
                FindingKind::EarlyYield
            },
            quantity: Quantity::SlopeRatio,
            value: part,
            limit: expected.yield_slope_part,
            place: None,
            likely: Some(likely),
            runner_up: Some(runner_up),
        })
    }

    /// Whether one of the slopes is that of a yielding bolt by best estimate, and no longer the elastic one,
    /// from below the torque that was wanted on. A stop alone is no reason to think a joint softer.
    fn is_in_doubt(&self, view: &StepView<'_>, rise: &Rise, line: &Slope, now: &Now) -> bool {
        let limit = view.expected.yield_slope_part * line.value;
        let doubtful = |s: &&Slope| {
            let u = s.u.max(line.wander_u(s.over_rad, s.at_nm));
            s.value < limit && s.value + DOUBT_SIGMA * u < line.value
        };
        let Some(slope) = now.iter().flatten().find(doubtful) else {
            return false;
        };
        let mean_nm = view.window.mean_torque_nm(3);
        let onset_nm = rise
            .left_nm(line)
            .unwrap_or(mean_nm - slope.value * slope.over_rad);
        view.expected.end_nm.is_some_and(|end| onset_nm < end.min)
    }

    /// Whether the newest slope leaves open that the bolt yields below the torque that was wanted.
    pub fn in_doubt(&self) -> bool {
        self.in_doubt
    }

    /// Whether the slope surely is too low.
    pub fn has_begun(&self) -> bool {
        self.since.is_some()
    }

    /// Torque at which the yield that was said began, N·m.
    pub fn onset_nm(&self) -> Option<f32> {
        self.onset_nm
    }

    /// Bolt angle over which the slope had been too low when the bolt was at `at_rad`, rad.
    pub fn before_rad(&self, at_rad: f32) -> f32 {
        self.slack_from_rad
            .map_or(0.0, |from| (at_rad - from).max(0.0))
    }
}
