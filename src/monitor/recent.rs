//! What the newest steps come to: all that a judge of steps looks at of them.

use crate::curve::{AngleStep, Level, Line, Window};
use crate::detect::{LOCAL_STEPS, StepView};
use crate::fastener::ExpectedRun;
use crate::turn::AdvanceTracker;

/// The newest steps, and what each group of judges would otherwise reckon anew.
#[derive(Clone, Debug, Default)]
pub(super) struct Recent {
    pub window: Window,
    pub level: Level,
    advance: AdvanceTracker,
    /// Line through the last steps.
    pub local: Option<Line>,
    /// Advance per turn as a part of the pitch, with its standard uncertainty.
    pub advance_ratio: Option<(f32, f32)>,
}

impl Recent {
    /// Takes in a step; what comes behind snug does not count to the level of the rundown.
    pub fn add(&mut self, step: &AngleStep, snug: bool, pitch_m: f32) {
        self.window.push(*step);
        if !snug {
            self.level.add(&self.window);
        }
        if let Some(z) = step.advance_m {
            self.advance.add(step.angle_rad, z, step.width_rad);
        }
        self.local = self.window.line(LOCAL_STEPS);
        self.advance_ratio = self.advance.ratio(pitch_m);
    }

    /// The newest step as its judges see it; `None` before the first.
    pub fn view<'a>(
        &'a self,
        expected: &'a ExpectedRun,
        snug: bool,
        angle_u_rad: f32,
    ) -> Option<StepView<'a>> {
        Some(StepView {
            step: self.window.newest()?,
            window: &self.window,
            local: self.local.as_ref(),
            expected,
            level: &self.level,
            snug,
            advance_ratio: self.advance_ratio,
            angle_u_rad,
        })
    }
}
