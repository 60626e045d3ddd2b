//! The elastic part of the curve: how steep it has been and how steep it is.
//!
//! The stretches that are compared grow with the rise, so that a joint that takes a turn to its
//! target is judged as surely as one that takes a tenth of it.

use crate::curve::{BinnedCurve, STEP_RAD, WINDOW, Window};
use crate::math::{TAU, sqrt};

use super::super::LOCAL_STEPS;
use super::{RESTART_RAD, StepView};

/// Torque above the rundown from which the rise counts, as a part of the target (common practice,
/// no source: below, the parts still come together).
const LEFT_PART: f32 = 0.05;
/// Stretch that the steepest slope is taken over: part of the rise, and at least, rad (8°).
const STEEPEST_PART: f32 = 0.2;
const STEEPEST_RAD: f32 = 0.14;
/// Stretches of the slope of now: parts of the rise, and at least, rad (6°). The longer one sees
/// through a surface that wanders.
const NOW_PARTS: [f32; 2] = [0.125, 0.25];
const NOW_RAD: f32 = 0.105;
/// Angle over which torque wanders with the surface, rad (4°): points that are closer together are
/// not independent.
const WANDER_RAD: f32 = 0.07;
/// Steps of the lines by which the rundown shows how much slopes wander, and their angles, rad.
const WANDER_STEPS: [usize; 2] = [12, 64];
const WANDER_OVER_RAD: [f32; 2] = [12.0 * STEP_RAD, 64.0 * STEP_RAD];
/// Bolt angle over which that is averaged (one turn).
const WANDER_MEMORY_RAD: f32 = TAU;
/// Part of the torque's uncertainty that does not average out that may still change over a stretch.
const CHANGING_PART: f32 = 0.5;
/// A stretch turned so many times as fast or slow is another one.
const OTHER_PACE: f32 = 2.5;
/// Angle over which its pace is averaged, rad (20°).
const PACE_RAD: f32 = 0.35;
/// The steepest slope counts less so many standard errors.
const CAUTION: f32 = 2.0;
/// Points below which a stretch has no slope.
const LEAST_POINTS: u32 = 4;

/// A slope with a standard error that reckons with wandering torque, N·m/rad.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Slope {
    pub value: f32,
    pub u: f32,
    /// Stretch that it was taken over, rad.
    pub over_rad: f32,
}

/// The rise since snug, or since the last stop.
#[derive(Clone, Debug)]
pub(super) struct Rise {
    curve: BinnedCurve<64>,
    start_rad: Option<f32>,
    /// Mean square of the slopes of the rundown over a short and a long stretch, and the angle that
    /// they come from, rad.
    wander_square: [f32; 2],
    wander_rad: f32,
    /// Time per angle, s/rad.
    pace: f32,
    /// Steepest slope that was kept up so far, N·m/rad.
    pub steepest: f32,
}

impl Default for Rise {
    fn default() -> Self {
        Self {
            curve: BinnedCurve::new(0.0),
            start_rad: None,
            wander_square: [0.0; 2],
            wander_rad: 0.0,
            pace: 0.0,
            steepest: 0.0,
        }
    }
}

impl Rise {
    /// Takes in a completed step; the slopes of now over a shorter and a longer stretch, where
    /// there are.
    pub fn follow(&mut self, view: &StepView<'_>) -> [Option<Slope>; 2] {
        self.risen(view).unwrap_or_default()
    }

    fn risen(&mut self, view: &StepView<'_>) -> Option<[Option<Slope>; 2]> {
        let (step, expected) = (view.step, view.expected);
        let target_nm = expected.target_nm?;
        let ceiling_nm = if expected.ceiling_stated {
            expected.ceiling_nm
        } else {
            0.0
        };
        let usual_nm = view.level.mean_nm().unwrap_or(0.0).max(ceiling_nm);
        let risen = view.window.mean_torque_nm(3) > usual_nm + LEFT_PART * target_nm;
        if !risen {
            self.follow_rundown(view);
        }
        let snug = view.snug || expected.carried_nm.is_some();
        let pace = pace_s_per_rad(view.window);
        // A thread that is broken loose again overshoots, and friction changes with speed: slopes
        // compare only within one stretch at one pace (measured runs halve their slope where the
        // spindle slows down).
        let other_pace = pace > OTHER_PACE * self.pace || self.pace > OTHER_PACE * pace;
        let restarted = step.since_stop_rad < RESTART_RAD;
        if !snug || !risen || restarted || other_pace {
            (self.start_rad, self.steepest, self.pace) = (None, 0.0, pace);
            return None;
        }
        self.pace += (pace - self.pace) * (step.width_rad / PACE_RAD).min(1.0);
        if !step.observable {
            return None;
        }
        let start_rad = *self.start_rad.get_or_insert_with(|| {
            self.curve = BinnedCurve::new(step.angle_rad);
            step.angle_rad
        });
        self.curve.add(&step.point());
        let risen_rad = step.angle_rad - start_rad;
        let change_nm = CHANGING_PART * step.systematic_u_nm;
        let steep = self.slope(risen_rad, STEEPEST_PART, STEEPEST_RAD, change_nm);
        if let Some(steep) = steep {
            self.steepest = self.steepest.max(steep.value - CAUTION * steep.u);
        }
        Some(NOW_PARTS.map(|part| self.slope(risen_rad, part, NOW_RAD, change_nm)))
    }

    fn slope(&self, risen_rad: f32, part: f32, least_rad: f32, change_nm: f32) -> Option<Slope> {
        let over_rad = (part * risen_rad).max(least_rad);
        if risen_rad < over_rad {
            return None;
        }
        let from_rad = self.start_rad? + risen_rad - over_rad;
        let line = (self.curve.line_from(from_rad)).filter(|l| l.count >= LEAST_POINTS)?;
        let apart_rad = over_rad / line.count as f32;
        let wanders = sqrt((WANDER_RAD / apart_rad).max(1.0));
        let (scatter, change) = (wanders * line.slope_u, change_nm / over_rad);
        let wander = self.wander(over_rad);
        Some(Slope {
            value: line.slope,
            u: sqrt(scatter * scatter + change * change + wander * wander),
            over_rad,
        })
    }

    fn follow_rundown(&mut self, view: &StepView<'_>) {
        if view.window.len() < WINDOW {
            return;
        }
        self.wander_rad = (self.wander_rad + view.step.width_rad).min(WANDER_MEMORY_RAD);
        let share = view.step.width_rad / self.wander_rad;
        for (square, steps) in self.wander_square.iter_mut().zip(WANDER_STEPS) {
            let slope = view.window.line(steps).map_or(0.0, |line| line.slope);
            *square += (slope * slope - *square) * share;
        }
    }

    /// How much the slope over this angle has wandered in the rundown, N·m/rad: straight between the
    /// two angles, which is too much rather than too little, and less in proportion beyond.
    fn wander(&self, over_rad: f32) -> f32 {
        let [short, long] = self.wander_square.map(sqrt);
        let [short_rad, long_rad] = WANDER_OVER_RAD;
        if over_rad > long_rad {
            return long * long_rad / over_rad;
        }
        let share = ((over_rad - short_rad) / (long_rad - short_rad)).max(0.0);
        short + (long - short) * share
    }
}

/// Time per angle over the last steps, s/rad.
fn pace_s_per_rad(window: &Window) -> f32 {
    let mut steps = window.last(LOCAL_STEPS);
    let (Some(first), Some(last)) = (steps.next(), window.newest()) else {
        return 0.0;
    };
    let turned_rad = last.end_rad - first.end_rad;
    if turned_rad > 0.0 {
        (last.time_us as u32).wrapping_sub(first.time_us) as f32 * 1e-6 / turned_rad
    } else {
        0.0
    }
}
