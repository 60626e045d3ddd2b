//! The slope of the joint gives way: yield, wanted or too early.
//!
//! A bolt that yields goes on taking torque with a slope that is a part of the elastic one (strain
//! hardening). A thread that shears loses its slope within a few degrees and then falls; so where
//! the slope is all but gone, the finding waits until the torque has shown that it stays.

use super::rise::{NOW_RAD, Now, Rise};
use super::slope::Slope;
use crate::fastener::ExpectedRun;

use super::{Cause, Detection, FindingKind, Quantity, StepView};

/// The slope must lie below its limit by so many standard errors, and below the elastic one by so
/// many: many stretches of a long rise are tried.
const SIGMA: f32 = 2.5;
const CHANGED_SIGMA: f32 = 5.0;
/// By so many it must lie below the elastic one where few looks are taken: at the end of the run, or where
/// it stays below its limit, by best estimate, for a stretch that shares no point with the first.
const LIKELY_SIGMA: f32 = 3.0;
/// A slope that lies above its limit by less than so many leaves the verdict open (JCGM 106, 8.3: guarded
/// acceptance; 2 stands for 95 % and more).
const OPEN_SIGMA: f32 = 2.0;
/// Least torque at which yield is looked for, as a part of the target: what turns flat below is a
/// locking feature or a burr.
const LEAST_PART: f32 = 0.4;
/// Slope, as a part of the elastic one, below which a thread may be about to shear ...
const LEVEL_PART: f32 = 0.12;
/// ... and for how long the torque must then stay level, rad (15°), ...
const LEVEL_RAD: f32 = 0.26;
/// ... rad (6°) where nothing is to be stopped, for it yields where it may, ...
const WANTED_RAD: f32 = NOW_RAD;
/// ... and while more slope is left, rad (2°).
const SOFT_RAD: f32 = 0.035;

/// Watches for yield; says it once.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Yielding {
    /// Bolt angle from which the slope has been too low by best estimate, rad, and the torque at which it
    /// began to be, N·m; the slope of now, as a part of the elastic one.
    likely: Option<(f32, f32)>,
    part: f32,
    /// Whether it has stayed so for a stretch that shares no point with the first.
    lasts: bool,
    /// Bolt angle from which it surely has been, rad.
    sure_rad: Option<f32>,
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
        let below = |slope: &Slope, limit_sigma: f32, elastic_sigma: f32| {
            let u = slope.u.max(elastic.line.wander_u(slope.over_rad, mean_nm));
            slope.value + limit_sigma * u < limit
                && slope.value + elastic_sigma * u < elastic.counts
        };
        self.in_doubt = high && self.is_in_doubt(view, rise, &elastic.line, &now);
        let find = |limit_sigma, elastic_sigma| {
            let mut slopes = now.into_iter().flatten().filter(|_| high);
            slopes.find(|slope| below(slope, limit_sigma, elastic_sigma))
        };
        let sure = find(SIGMA, CHANGED_SIGMA);
        let Some(slope) = sure.or_else(|| find(0.0, LIKELY_SIGMA)) else {
            (self.likely, self.lasts, self.sure_rad) = (None, false, None);
            return None;
        };
        let (likely_rad, onset_nm) = *self.likely.get_or_insert_with(|| {
            let left_nm = rise.left_nm(&elastic.line);
            let start_nm = mean_nm - slope.value * slope.over_rad;
            (step.angle_rad, left_nm.unwrap_or(start_nm))
        });
        let sure_rad = sure.map(|_| self.sure_rad.unwrap_or(step.angle_rad));
        (self.sure_rad, self.part) = (sure_rad, slope.value / elastic.counts);
        let lasts_rad = step.angle_rad - likely_rad;
        self.lasts = lasts_rad >= short.map_or(NOW_RAD, |slope| slope.over_rad);
        let wanted = is_wanted(expected, onset_nm);
        let least_rad = match self.part >= LEVEL_PART {
            true => SOFT_RAD,
            false if wanted => WANTED_RAD,
            false => LEVEL_RAD,
        };
        // What stops must be surer: a soft joint has many stretches, and one of them lies low by chance.
        let sure = sure_rad.is_some_and(|from| step.angle_rad - from >= SOFT_RAD);
        if lasts_rad < least_rad || !(sure || wanted && self.lasts) {
            return None;
        }
        self.tell(view)
    }

    /// The finding, where the angle tells as well that something gives: two witnesses need not each be as sure
    /// as one.
    pub fn explain(&mut self, view: &StepView<'_>) -> Option<Detection> {
        if !self.lasts {
            return None;
        }
        self.tell(view)
    }

    /// The finding, where the slope is too low by best estimate and was not said to be.
    fn tell(&mut self, view: &StepView<'_>) -> Option<Detection> {
        let expected = view.expected;
        let (_, onset_nm) = self.likely?;
        let falling = view.local.is_some_and(|l| l.slope < -2.0 * l.slope_u);
        if self.onset_nm.is_some() || falling {
            return None;
        }
        self.onset_nm = Some(onset_nm);
        let thread = expected
            .strip_nm
            .zip(expected.yield_nm)
            .is_some_and(|(strip, bolt)| strip.min < bolt.min);
        let (likely, runner_up) = if thread && self.part < LEVEL_PART {
            (Cause::StrippingThread, Cause::YieldingBolt)
        } else {
            (Cause::YieldingBolt, Cause::StrippingThread)
        };
        Some(Detection {
            kind: if is_wanted(expected, onset_nm) {
                FindingKind::YieldOnset
            } else {
                FindingKind::EarlyYield
            },
            quantity: Quantity::SlopeRatio,
            value: self.part,
            limit: expected.yield_slope_part,
            place: None,
            likely: Some(likely),
            runner_up: Some(runner_up),
        })
    }

    /// Whether one of the slopes may be that of a yielding bolt, and surely is no longer the elastic one,
    /// from below the torque that was wanted on. A stop alone is no reason to think a joint softer.
    fn is_in_doubt(&self, view: &StepView<'_>, rise: &Rise, line: &Slope, now: &Now) -> bool {
        let limit = view.expected.yield_slope_part * line.value;
        let doubtful = |s: &&Slope| {
            let u = s.u.max(line.wander_u(s.over_rad, s.at_nm));
            s.value < limit + OPEN_SIGMA * u && s.value + LIKELY_SIGMA * u < line.value
        };
        let Some(slope) = now.iter().flatten().find(doubtful) else {
            return false;
        };
        let mean_nm = view.window.mean_torque_nm(3);
        let onset_nm = rise
            .left_nm(&line.likely())
            .unwrap_or(mean_nm - slope.value * slope.over_rad);
        !is_wanted(view.expected, onset_nm) && view.expected.end_nm.is_some()
    }

    /// Whether the newest slope leaves open that the bolt yields below the torque that was wanted.
    pub fn in_doubt(&self) -> bool {
        self.in_doubt
    }

    /// Whether the slope surely is too low.
    pub fn has_begun(&self) -> bool {
        self.sure_rad.is_some()
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

/// Whether a bolt that yields from this torque on has got what was wanted.
fn is_wanted(expected: &ExpectedRun, onset_nm: f32) -> bool {
    expected.end_nm.is_some_and(|end| onset_nm >= end.min)
}
