//! A torque that falls while the bolt goes on turning.
//!
//! Judged against forward angle only, so that a tool that stops, relaxes or re-engages is no fall. A
//! joint that stands embeds: what it may lose by that is no fall either.
//! The fall must stand out of the curve's own roughness (surface grain, stick–slip), of the falls
//! that it has recovered from so far and of the noise, and the local slope must be downwards. A rise
//! of many stretches shows its largest fall by chance; once it has surely left its elastic line,
//! there are only a few stretches more, and less of a fall tells as much.

use crate::curve::STEP_RAD;
use crate::math::{Limited, sqrt};

use super::super::{CLEARS_PART, EMBEDS_PART, LOCAL_STEPS};
use super::fracture::is_nothing;
use super::goes::{Goes, MEAN_STEPS};
use super::{RESTART_RAD, StepView, rest_part};

/// A fall below the highest torque so far counts as a multiple of the largest that the curve has
/// recovered from.
const DROP_RECOVERED: f32 = 2.0;
/// What a fall must exceed.
struct Least {
    /// Part of the highest torque.
    part: f32,
    /// Scatter of the rundown, white noise of a step: standard deviations.
    sigma: f32,
    /// Local roughness without that noise: a torque that wanders over a few degrees shows about 0.4 of
    /// its scatter around a line of 4°.
    roughness: f32,
    /// Standard uncertainty that does not average out: joint friction may change by about as much
    /// between two speeds.
    systematic: f32,
}

/// While the joint takes up torque: what wanders falls by five of its scatter from peak to trough, seldom
/// by more.
const RISING: Least = Least {
    part: 0.03,
    sigma: 5.0,
    roughness: 14.0,
    systematic: 1.5,
};
/// Once it has left its elastic line, at one pace: over the ten degrees that a thread takes to shear there
/// are two or three stretches that wander apart, and what is largest and least of three parts by 3.5 of
/// their scatter in one of fifty.
const LEFT: Least = Least {
    part: 0.02,
    sigma: 3.5,
    roughness: 9.0,
    systematic: 1.0,
};
/// Bolt angle over which the roughness is averaged, rad (40°).
const ROUGHNESS_RAD: f32 = 0.7;
/// Forward angle from the highest torque over which the fall must last, rad (2°).
const LASTING_RAD: f32 = 0.035;
/// Least torque at which a fall matters, as a part of the target.
const LEAST_PART: f32 = 0.12;
/// Downward slope in units of its standard error.
const SLOPE_SIGMA: f32 = 3.0;
/// Steps of the line that tells how fast it falls now (2.5°).
const FAST_STEPS: usize = 5;

/// A fall that stands out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Fallen {
    /// Below the highest torque, N·m, and what it had to exceed.
    pub by_nm: f32,
    pub limit_nm: f32,
    /// Highest torque, N·m, and its bolt angle, rad.
    pub peak_nm: f32,
    pub peak_rad: f32,
    /// Bolt angle since then, and since the fall first stood out, rad.
    pub forward_rad: f32,
    pub known_rad: f32,
    /// Whether it goes on falling: a torque that drops once, and rises again from there, does not.
    pub falls_on: bool,
    /// Part of the highest torque by which it falls now per radian.
    pub rate_per_rad: f32,
    /// Bolt angle for which nothing of it has been left, rad.
    pub nothing_rad: f32,
}

impl Fallen {
    /// Part of the highest torque that is lost.
    pub fn part(&self) -> f32 {
        self.by_nm / self.peak_nm
    }
}

/// Follows the highest torque and what has become of it.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Fall {
    peak_nm: f32,
    peak_rad: f32,
    /// The same without what standing since then may have taken of it.
    reached_nm: f32,
    lowest_since_nm: f32,
    /// Largest fall that was recovered from, as a part of the peak before it.
    recovered_part: f32,
    /// Mean square of the residual around the local line less that of the white noise, N²·m².
    roughness_square: f32,
    known_from_rad: Option<f32>,
    nothing_from_rad: Option<f32>,
    /// Bolt angle since the last stop, rad, and the steps that a stop, or breaking loose after it, has
    /// left to the local slope.
    since_stop_rad: f32,
    unclean_steps: usize,
    goes: Goes,
}

impl Fall {
    /// Takes in a completed step; the fall, once it stands out and for as long as it does. `left`: whether
    /// the curve had surely left its elastic line.
    pub fn follow(&mut self, view: &StepView<'_>, left: bool) -> Option<Fallen> {
        let step = view.step;
        // Before snug is due nothing is clamped that could shear a thread: what falls there has cleared,
        // or was ragged.
        let clamps = view.expected.may_be_snug(step.angle_rad);
        let begins = step.since_stop_rad < self.since_stop_rad;
        let stood = begins || step.since_stop_rad < RESTART_RAD;
        self.since_stop_rad = step.since_stop_rad;
        if begins {
            self.goes.begin();
        } else {
            self.goes.count();
        }
        if stood {
            self.unclean_steps = LOCAL_STEPS;
        }
        if !clamps || !step.observable {
            return None;
        }
        // Before the rundown has shown its level, only a bolt that is tight already can fail.
        let level_nm = match view.level.mean_nm() {
            None if view.expected.carried_nm.is_none() => return None,
            level_nm => level_nm.unwrap_or(0.0),
        };
        // A burr or a chip that gives way sheared no thread.
        let clears_nm = level_nm + view.expected.part_of_target_nm(CLEARS_PART);
        let least = (level_nm.at_least(view.expected.ceiling_nm)
            + view.expected.part_of_target_nm(LEAST_PART))
        .at_least(clears_nm)
        .at_least(4.0 * step.torque_u_nm());
        let mean = view.window.mean_torque_nm(MEAN_STEPS);
        let limit_nm = self.limit_nm(view, if left { &LEFT } else { &RISING });
        if stood {
            return self.within_go(view, mean, least, limit_nm);
        }
        if self.unclean_steps > 0 {
            self.unclean_steps -= 1;
            // However often it stood meanwhile: a joint embeds once.
            let embedded_nm = (1.0 - EMBEDS_PART) * self.reached_nm;
            let beyond = self.reached_nm > least && mean < embedded_nm - limit_nm;
            if beyond || (self.unclean_steps == 0 && mean < self.peak_nm) {
                self.peak_nm = mean.at_least(embedded_nm).at_most(self.peak_nm);
                self.lowest_since_nm = self.lowest_since_nm.at_most(self.peak_nm);
            }
            if !beyond {
                return None;
            }
        }
        if mean >= self.peak_nm {
            self.reach(mean, step.angle_rad, least);
            self.follow_roughness(view);
            return None;
        }
        self.lowest_since_nm = self.lowest_since_nm.at_most(mean);
        // What it bore tells that it was no burr, whatever it has lost since by standing.
        if self.reached_nm < least {
            self.follow_roughness(view);
            return None;
        }
        let by_nm = self.peak_nm - mean;
        let forward_rad = step.angle_rad - self.peak_rad;
        let falling = view
            .local
            .is_some_and(|l| l.slope < -SLOPE_SIGMA * l.slope_u);
        if by_nm <= limit_nm || forward_rad < LASTING_RAD {
            self.known_from_rad = None;
            return None;
        }
        if !falling && self.known_from_rad.is_none() {
            return None;
        }
        let known_from_rad = *self.known_from_rad.get_or_insert(step.angle_rad);
        let nothing_from_rad = is_nothing(mean - level_nm, self.peak_nm)
            .then(|| self.nothing_from_rad.unwrap_or(step.angle_rad));
        self.nothing_from_rad = nothing_from_rad;
        let now = view.window.line(FAST_STEPS).map_or(0.0, |l| l.slope);
        Some(Fallen {
            by_nm,
            limit_nm,
            peak_nm: self.peak_nm,
            peak_rad: self.peak_rad,
            forward_rad,
            known_rad: step.angle_rad - known_from_rad,
            falls_on: falling && now < 0.0,
            rate_per_rad: -now / self.peak_nm,
            nothing_rad: nothing_from_rad.map_or(0.0, |from| step.angle_rad - from),
        })
    }

    /// Likewise before the bolt has turned so far that rest adds nothing: goes are judged by each other.
    fn within_go(
        &mut self,
        view: &StepView<'_>,
        mean: f32,
        least: f32,
        limit_nm: f32,
    ) -> Option<Fallen> {
        let step = view.step;
        let embedded_nm = (1.0 - EMBEDS_PART) * self.reached_nm;
        let lost = self.goes.lost(mean, embedded_nm - limit_nm);
        if !self.goes.is_whole() {
            return None;
        }
        let surely_nm =
            mean / (1.0 + rest_part(step.since_stop_rad - MEAN_STEPS as f32 * STEP_RAD));
        if surely_nm > self.peak_nm {
            self.reach(surely_nm, step.angle_rad, least);
            return None;
        }
        let (by_nm, forward_rad) = (self.peak_nm - mean, step.angle_rad - self.peak_rad);
        if !lost || self.reached_nm < least || forward_rad < LASTING_RAD {
            return None;
        }
        // A tool that takes up torque within its go is yet to show what the bolt bears.
        if !view.window.line(MEAN_STEPS).is_some_and(|l| l.slope < 0.0) {
            return None;
        }
        let known_from_rad = *self.known_from_rad.get_or_insert(step.angle_rad);
        Some(Fallen {
            by_nm,
            limit_nm,
            peak_nm: self.peak_nm,
            peak_rad: self.peak_rad,
            forward_rad,
            known_rad: step.angle_rad - known_from_rad,
            // No go rose above the one before.
            falls_on: true,
            // From go to go: within one, what rest adds falls as well.
            rate_per_rad: by_nm / (self.peak_nm * forward_rad),
            nothing_rad: 0.0,
        })
    }

    /// Takes in a torque that is the highest so far; what was lost meanwhile is recovered.
    fn reach(&mut self, nm: f32, at_rad: f32, least: f32) {
        if self.peak_nm > least {
            let fall = 1.0 - self.lowest_since_nm / self.peak_nm;
            self.recovered_part = self.recovered_part.at_least(fall);
        }
        (self.peak_nm, self.reached_nm) = (nm, nm);
        self.peak_rad = at_rad;
        self.lowest_since_nm = nm;
        self.known_from_rad = None;
    }

    /// What a fall must exceed, N·m.
    fn limit_nm(&self, view: &StepView<'_>, least: &Least) -> f32 {
        let rough_nm = sqrt(self.roughness_square.max(0.0));
        (least.part * self.peak_nm)
            .max(DROP_RECOVERED * self.recovered_part * self.peak_nm)
            .max(least.roughness * rough_nm)
            .max(least.sigma * view.level.scatter_nm())
            .max(least.sigma * view.step.noise_nm)
            .max(least.systematic * view.step.systematic_u_nm)
    }

    /// While the torque rises or is low: a fall that may be a strip does not count as roughness.
    fn follow_roughness(&mut self, view: &StepView<'_>) {
        if let Some(line) = view.local {
            let (w, noise_nm) = (view.step.width_rad, view.step.noise_nm);
            let square = line.residual * line.residual - noise_nm * noise_nm;
            self.roughness_square += (square - self.roughness_square) * (w / (w + ROUGHNESS_RAD));
        }
    }
}
