//! Where the torque stands out of what running down may take, since when, and how it got there.

use crate::curve::{Line, WINDOW};

use super::super::{LOCAL_STEPS, StepView};
use super::history::History;

/// Steps in the mean that is compared (2°): roughness drops out.
const MEAN_STEPS: usize = 4;
/// Margin above the ceiling, as a part of the target (common practice, no source: a tightening
/// that has taken less has not begun to clamp), ...
const MARGIN_PART: f32 = 0.02;
/// ... and in units of the torque's standard uncertainty; ...
const MARGIN_SIGMA: f32 = 3.0;
/// ... or, once the run has a level of its own to rise from, so many of them and this part of the
/// target: what does not average out is in both and drops out of the rise.
const LEVELLED_MARGIN_SIGMA: f32 = 1.0;
const LEVELLED_MARGIN_PART: f32 = 0.01;
/// The ceiling is never taken below the level of the run so far by so many times its scatter.
const SCATTER_SIGMA: f32 = 5.0;
/// The rise has ended when the torque falls below this part of the limit.
const HOLD_PART: f32 = 0.7;
/// Distance and length of the stretch that tells the torque just before a rise, rad (30°).
const JUST_BEFORE_RAD: f32 = core::f32::consts::FRAC_PI_6;
/// Room that a new level is given above itself, as a part (±20 % grain is common practice, no
/// source).
const SETTLED_PART: f32 = 0.2;

/// A rise that has ended: the torque has fallen back.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Ended {
    /// Bolt angle at which it began, rad.
    pub from_rad: f32,
    /// Its highest torque, N·m.
    pub top_nm: f32,
    /// Torque that it has fallen to, N·m.
    pub fallen_nm: f32,
}

/// The rise of the torque above what running down may take.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Rise {
    /// Level that it rises from, N·m; that of the run before it.
    pub level_nm: f32,
    /// Torque over the last 2°, N·m.
    pub now_nm: f32,
    /// Highest torque that running down may take, N·m.
    pub limit_nm: f32,
    /// Bolt angle at which that was passed, rad; `None` while it is not.
    pub from_rad: Option<f32>,
    top_nm: f32,
    /// A level above the band that the run has settled at, N·m.
    settled_nm: f32,
    end_rad: f32,
}

impl Rise {
    /// Takes in a step; says when the rise has ended.
    pub fn add(&mut self, view: &StepView<'_>, history: &History) -> Option<Ended> {
        self.now_nm = view.window.mean_torque_nm(MEAN_STEPS);
        self.end_rad = view.step.end_rad;
        if self.from_rad.is_none() {
            self.follow_limit(view, history);
            return None;
        }
        self.top_nm = self.top_nm.max(self.now_nm);
        if self.now_nm >= HOLD_PART * self.limit_nm {
            return None;
        }
        self.from_rad.take().map(|from_rad| Ended {
            from_rad,
            top_nm: self.top_nm,
            fallen_nm: self.now_nm,
        })
    }

    fn follow_limit(&mut self, view: &StepView<'_>, history: &History) {
        let (step, expected) = (view.step, view.expected);
        let u_nm = step.torque_u_nm();
        let margin = |sigma: f32, part: f32| (sigma * u_nm, expected.part_of_target_nm(part));
        let limit = match view.level.mean_nm() {
            None => {
                let (u, part) = margin(MARGIN_SIGMA, MARGIN_PART);
                expected.ceiling_nm + u.max(part)
            }
            Some(level) => {
                let (u, part) = margin(LEVELLED_MARGIN_SIGMA, LEVELLED_MARGIN_PART);
                let usual = level + SCATTER_SIGMA * view.level.scatter_nm();
                (expected.ceiling_nm + u).max(usual) + part
            }
        };
        self.limit_nm = limit.max((1.0 + SETTLED_PART) * self.settled_nm);
        // A feature that has entered a moment ago is not in the level of the last turn yet.
        let to = step.angle_rad - JUST_BEFORE_RAD;
        let just_before = history.mean_nm(to - JUST_BEFORE_RAD, to).unwrap_or(0.0);
        self.level_nm = (view.level.mean_nm().unwrap_or(0.0))
            .max(just_before)
            .max(self.settled_nm);
        if self.now_nm > self.limit_nm {
            self.from_rad = Some(step.angle_rad);
            self.top_nm = self.now_nm;
        }
    }

    /// The torque has settled at a level above the band: it rises from there from now on.
    pub fn settle(&mut self, level_nm: f32) {
        self.settled_nm = level_nm;
        self.from_rad = None;
    }

    /// Torque above the level before the rise, N·m.
    pub fn height_nm(&self) -> f32 {
        self.now_nm - self.level_nm
    }

    /// Bolt angle since the limit was passed, rad; 0 while it is not.
    pub fn since_rad(&self) -> f32 {
        self.from_rad.map_or(0.0, |from| self.end_rad - from)
    }

    /// Line through the rise so far, no further back than the window reaches.
    pub fn line(&self, view: &StepView<'_>) -> Option<Line> {
        let from = self.from_rad?;
        let steps = view.window.iter().filter(|s| s.angle_rad >= from).count();
        view.window.line(steps.clamp(LOCAL_STEPS, WINDOW))
    }
}
