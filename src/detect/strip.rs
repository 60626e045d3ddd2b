//! A stripping thread: torque falls while the bolt goes on turning.
//!
//! Judged against forward angle only, so that a tool that stops, relaxes or re-engages is no strip.
//! The fall must stand out of the curve's own scatter (surface grain, stick–slip) as well as of its noise, and the local
//! slope must be downwards.

use crate::curve::Line;

use super::{Detection, Detector, FindingKind, Quantity, StepView};

/// Fall below the highest torque so far that counts, as a part of it.
const DROP_PART: f32 = 0.05;
/// Likewise in units of the scatter, of the curve before the fall as of the rundown: from peak to
/// trough a scattering curve falls by four to five of it.
const DROP_SIGMA: f32 = 6.0;
/// Likewise as a part of the standard uncertainty that does not average out: joint friction may
/// change by about as much between two speeds.
const DROP_SYSTEMATIC: f32 = 1.5;
/// Forward angle from the highest torque over which the fall must last, rad (2°).
const LASTING_RAD: f32 = 0.035;
/// Steps after a join that are not judged: a restarted thread overshoots, rad (1.5°).
const AFTER_JOIN_RAD: f32 = 0.026;
/// Least torque at which a thread that strips matters, as a part of the target.
const LEAST_PART: f32 = 0.12;
/// Steps in the means that are compared (1.5°).
const MEAN_STEPS: usize = 3;
/// Downward slope in units of its standard error.
const SLOPE_SIGMA: f32 = 3.0;
/// Steps over which scatter is measured (16°).
const SCATTER_STEPS: usize = 32;

/// Detector of stripping threads.
#[derive(Clone, Copy, Debug, Default)]
pub struct Strip {
    peak_nm: f32,
    peak_rad: f32,
    /// Scatter of the curve around its local line as the peak was passed, N·m.
    scatter_nm: f32,
    found: bool,
}

impl Detector for Strip {
    fn on_step(&mut self, view: &StepView<'_>) -> Option<Detection> {
        let step = view.step;
        if self.found || !step.observable || step.since_join_rad < AFTER_JOIN_RAD {
            return None;
        }
        let mean = view.window.mean_torque_nm(MEAN_STEPS);
        if mean >= self.peak_nm {
            self.peak_nm = mean;
            self.peak_rad = step.angle_rad;
            self.scatter_nm = view
                .window
                .line(SCATTER_STEPS)
                .map_or(0.0, |l: Line| l.residual);
            return None;
        }
        let least = view.expected.ceiling_nm + view.expected.part_of_target_nm(LEAST_PART);
        if self.peak_nm < least.max(4.0 * step.torque_u_nm()) {
            return None;
        }
        let fall = self.peak_nm - mean;
        let limit = (DROP_PART * self.peak_nm)
            .max(DROP_SIGMA * self.scatter_nm)
            .max(DROP_SIGMA * view.level.scatter_nm())
            .max(DROP_SIGMA * step.noise_nm)
            .max(DROP_SYSTEMATIC * step.systematic_u_nm);
        let forward = step.angle_rad - self.peak_rad;
        let falling = view
            .local
            .is_some_and(|l| l.slope < -SLOPE_SIGMA * l.slope_u);
        if fall <= limit || forward < LASTING_RAD || !falling {
            return None;
        }
        self.found = true;
        Some(Detection {
            kind: FindingKind::Strip,
            quantity: Quantity::DropNm,
            value: fall,
            limit,
        })
    }
}
