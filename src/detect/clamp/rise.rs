//! The elastic part of the curve: how steep it has been and how steep it is.
//!
//! The stretches that are compared grow with the rise, so that a joint that takes a turn to its
//! target is judged as surely as one that takes a tenth of it. A stop or another pace ends a stretch
//! of the elastic slope; what it has shown still counts for the next, only less.

use crate::curve::{BinnedCurve, Point, STEP_RAD, WINDOW, Window};
use crate::math::{Limited, TAU};

use super::super::LOCAL_STEPS;
use super::pass::{Changes, Pass, Ways};
use super::slope::Slope;
use super::{RESTART_RAD, StepView};

/// Torque above the rundown from which the rise counts, as a part of the target (common practice,
/// no source: below, the parts still come together).
const LEFT_PART: f32 = 0.05;
/// Stretches that slopes are taken over, parts of the rise; the longer ones see through a surface that
/// wanders. The first two tell the slope of now, the last two the elastic one, over at least, rad (6°
/// and 8°).
pub(super) const PARTS: [f32; 3] = [0.125, 0.25, 0.5];
pub(super) const NOW_RAD: f32 = 0.105;
/// Of them those that the first half of a look goes back over: half the bins.
const FIRST_PARTS: usize = 2;
const STEEPEST_RAD: f32 = 0.14;
/// Steps of the lines by which the rundown shows how much slopes wander, and their angles, rad.
const WANDER_STEPS: [usize; 2] = [12, 64];
pub(super) const WANDER_OVER_RAD: [f32; 2] = [12.0 * STEP_RAD, 64.0 * STEP_RAD];
/// Bolt angle over which that is averaged (one turn).
const WANDER_MEMORY_RAD: f32 = TAU;
/// Part of the torque's uncertainty that does not average out that may still change over a stretch.
pub(super) const CHANGING_PART: f32 = 0.5;
/// A stretch turned so many times as fast or slow is another one.
const OTHER_PACE: f32 = 2.5;
/// Angle over which its pace is averaged, rad (20°).
const PACE_RAD: f32 = 0.35;
/// The steepest slope counts less by so many standard errors: it is the highest of many.
pub(super) const CAUTION: f32 = 1.0;
/// How much steeper than the whole rise so far it may count: parts that come together make a rise
/// grow steeper, but so does a surface that grows rough (common practice, no source).
const STEEPER: f32 = 1.5;
/// What a slope from before a stop still counts: thread and head are broken loose anew, and their
/// friction is a little another (common practice, no source) ...
const STOPPED_PART: f32 = 0.8;
/// ... and one at another pace: measured spindles on sound bolts halve their slope where they slow
/// down (West, Deuse, arXiv 2505.11925).
const OTHER_PACE_PART: f32 = 0.5;
/// Change of the torque at a stop and at a change of pace, as parts of it (the same runs lose 8 %).
pub(super) const STOP_JUMP: f32 = 0.03;
pub(super) const PACE_JUMP: f32 = 0.1;
/// Angle by which the curve must stay behind the elastic line to have left it, rad (1°): twist that
/// remains, as proof stress is taken at a strain that remains (ISO 898-1, from memory).
pub(super) const OFFSET_RAD: f32 = 0.0175;
/// By so many standard deviations of its scatter and of where it leads a torque must lie below the line to
/// have left it surely: of a hundred stretches of a long rise hardly one does by chance.
const LEFT_SIGMA: f32 = 4.0;

/// What the slope of now is compared with.
#[derive(Clone, Copy, Debug)]
pub(super) struct Elastic {
    /// The elastic line, its slope cautious.
    pub line: Slope,
    /// What its slope counts now, N·m/rad.
    pub counts: f32,
}

/// An elastic stretch before the last stop or change of pace.
#[derive(Clone, Copy, Debug)]
struct Before {
    /// Less steep where the torque came back lower, for a slope goes with friction as the torque
    /// itself does.
    line: Slope,
    pace: f32,
    /// Torque at its end, until turning goes on, N·m.
    held_nm: Option<f32>,
}

/// The slopes of now, where there are: over a shorter and a longer stretch, and since the curve left
/// the elastic line.
pub(super) type Now = [Option<Slope>; 3];

/// The rise since snug.
#[derive(Clone, Debug)]
pub(super) struct Rise {
    curve: BinnedCurve<64>,
    start_rad: Option<f32>,
    /// A look that is half done.
    pass: Option<Pass>,
    /// Mean square of the slopes of the rundown over a short and a long stretch, and the angle that
    /// they come from, rad.
    wander_square: [f32; 2],
    wander_rad: f32,
    /// Time per angle, s/rad.
    pace: f32,
    /// Steepest line that was kept up since the last stop or change of pace, its slope cautious.
    steepest: Option<Slope>,
    before: Option<Before>,
    /// Bolt angle of the last stop and of the last change of pace, rad.
    stop_rad: f32,
    other_pace_rad: f32,
}

impl Default for Rise {
    fn default() -> Self {
        Self {
            curve: BinnedCurve::new(0.0),
            start_rad: None,
            pass: None,
            wander_square: [0.0; 2],
            wander_rad: 0.0,
            pace: 0.0,
            steepest: None,
            before: None,
            stop_rad: 0.0,
            other_pace_rad: 0.0,
        }
    }
}

impl Rise {
    /// The first half of a look at a completed step: takes it in and goes half the way back.
    pub fn follow(&mut self, view: &StepView<'_>) {
        self.pass = None;
        let _ = self.risen(view);
    }

    /// The elastic line to compare with: the steepest of this stretch, or the one before if that
    /// still counts more.
    pub fn elastic(&self) -> Option<Elastic> {
        let own = self.steepest.map(|line| Elastic {
            line,
            counts: line.value,
        });
        let before = self.before.map(|Before { line, pace, .. }| {
            if self.is_other(pace) {
                let counts = OTHER_PACE_PART * line.value;
                let line = Slope {
                    value: counts,
                    ..line
                };
                Elastic { line, counts }
            } else {
                Elastic {
                    line,
                    counts: STOPPED_PART * line.value,
                }
            }
        });
        match (own, before) {
            (Some(own), Some(before)) if before.counts > own.counts => Some(before),
            (own, before) => own.or(before),
        }
    }

    /// Torque at which the curve left the elastic line, N·m.
    pub fn left_nm(&self, line: &Slope) -> Option<f32> {
        let on_line = |p: &Point| line.behind_rad(p) <= OFFSET_RAD;
        self.curve.points().rfind(on_line).map(|p| p.y)
    }

    /// Whether the torque surely lies below the steepest line of this stretch, which no stop and no other
    /// pace has broken.
    pub fn left(&self, view: &StepView<'_>) -> bool {
        let mean_nm = view.window.mean_torque_nm(3);
        self.steepest.is_some_and(|line| {
            let further_rad = view.step.angle_rad - line.at_rad;
            let below_nm = line.at_nm + line.value * further_rad - mean_nm;
            below_nm > LEFT_SIGMA * (line.scatter_nm + line.u * further_rad)
                && below_nm > OFFSET_RAD * line.value
        })
    }

    fn risen(&mut self, view: &StepView<'_>) -> Option<()> {
        let (step, expected) = (view.step, view.expected);
        let target_nm = expected.target_nm?;
        let ceiling_nm = if expected.ceiling_stated {
            expected.ceiling_nm
        } else {
            0.0
        };
        let usual_nm = view.level.mean_nm().unwrap_or(0.0).at_least(ceiling_nm);
        let mean_nm = view.window.mean_torque_nm(3);
        let risen = mean_nm > usual_nm + LEFT_PART * target_nm;
        if !risen {
            self.follow_rundown(view);
        }
        // What goes flat before snug is due is a locking feature: no joint yields for turns.
        let snug =
            expected.carried_nm.is_some() || view.snug && expected.may_be_snug(step.angle_rad);
        let pace = pace_s_per_rad(view.window);
        if !snug || !risen {
            (self.start_rad, self.steepest, self.before) = (None, None, None);
            self.pace = pace;
            return None;
        }
        // A thread that is broken loose again overshoots, and friction changes with speed.
        let stopped = step.since_stop_rad < RESTART_RAD;
        if stopped || self.is_other(pace) {
            self.interrupt();
            let place = if stopped {
                &mut self.stop_rad
            } else {
                &mut self.other_pace_rad
            };
            (*place, self.pace) = (step.angle_rad, pace);
            return None;
        }
        self.pace += (pace - self.pace) * (step.width_rad / PACE_RAD).at_most(1.0);
        if !step.observable {
            return None;
        }
        if let Some(before) = &mut self.before
            && let Some(held_nm) = before.held_nm.take()
        {
            before.line.value *= (mean_nm / held_nm).clamp(0.0, 1.0);
        }
        if self.start_rad.is_none() {
            self.curve = BinnedCurve::new(step.angle_rad);
            self.start_rad = Some(step.angle_rad);
        }
        self.curve.add(&step.point());
        let mut pass = Pass::begun(&self.curve)?;
        pass.go(&self.curve, &self.ways(view), FIRST_PARTS);
        self.pass = Some(pass);
        Some(())
    }

    /// The second half of a look at the same step: the rest of the way back; the slopes of now.
    pub fn finish(&mut self, view: &StepView<'_>) -> Now {
        let Some(mut pass) = self.pass.take() else {
            return Now::default();
        };
        let step = view.step;
        pass.go(&self.curve, &self.ways(view), PARTS.len());
        let [short, middle, long, left] = pass.found();
        let secant = self.secant();
        // In a hard joint no longer than what is compared with it, or the knee of the yield counts as elastic.
        let [short_part, ..] = PARTS;
        let now_rad =
            (view.expected.elastic_rad).map_or(STEEPEST_RAD, |elastic| short_part * elastic.max);
        let least_rad = STEEPEST_RAD.at_most(now_rad).at_least(NOW_RAD);
        let unbroken_rad = step.angle_rad - self.stop_rad.at_least(self.other_pace_rad);
        for slope in [middle, long].into_iter().flatten() {
            let whole = (least_rad..unbroken_rad).contains(&slope.over_rad);
            let value = (slope.value - CAUTION * slope.u).at_most(STEEPER * secant);
            if whole && value > self.steepest.map_or(0.0, |steepest| steepest.value) {
                self.steepest = Some(Slope { value, ..slope });
            }
        }
        [
            short,
            middle,
            left.filter(|slope| slope.over_rad >= NOW_RAD),
        ]
    }

    /// Slope from the start of the rise to its end, N·m/rad.
    fn secant(&self) -> f32 {
        let mut points = self.curve.points();
        match (points.next(), points.next_back()) {
            (Some(first), Some(last)) => (last.y - first.y) / (last.x - first.x),
            _ => 0.0,
        }
    }

    fn is_other(&self, pace: f32) -> bool {
        pace > OTHER_PACE * self.pace || self.pace > OTHER_PACE * pace
    }

    /// Keeps what the stretch has shown, for the next one.
    fn interrupt(&mut self) {
        if let Some(line) = self.steepest.take()
            && self.before.is_none_or(|b| line.value > b.line.value)
        {
            self.before = Some(Before {
                line,
                pace: self.pace,
                held_nm: None,
            });
        }
        let newest_nm = self.curve.points().next_back().map(|p| p.y);
        if let Some(before) = &mut self.before {
            before.held_nm = before.held_nm.or(newest_nm);
        }
    }

    /// The way back along the rise for a look at this step.
    fn ways(&self, view: &StepView<'_>) -> Ways {
        let risen_rad = self
            .start_rad
            .map_or(0.0, |start| view.step.angle_rad - start);
        Ways {
            end_rad: view.step.angle_rad,
            reach_rad: PARTS.map(|part| (part * risen_rad).at_least(NOW_RAD)),
            line: self.elastic().map(|elastic| elastic.line),
            changes: Changes::of(
                view.step,
                self.wander_square,
                (self.stop_rad, self.other_pace_rad),
            ),
        }
    }

    fn follow_rundown(&mut self, view: &StepView<'_>) {
        if view.window.len() < WINDOW {
            return;
        }
        self.wander_rad = (self.wander_rad + view.step.width_rad).at_most(WANDER_MEMORY_RAD);
        let share = view.step.width_rad / self.wander_rad;
        for (square, steps) in self.wander_square.iter_mut().zip(WANDER_STEPS) {
            let slope = view.window.line(steps).map_or(0.0, |line| line.slope);
            *square += (slope * slope - *square) * share;
        }
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
