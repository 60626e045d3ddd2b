//! A stripping thread: torque falls while the bolt goes on turning.
//!
//! Judged against forward angle only, so that a tool that stops, relaxes or re-engages is no strip.
//! The fall must stand out of the curve's own roughness (surface grain, stick–slip), of the falls
//! that it has recovered from so far and of the noise, and the local slope must be downwards.

use super::{Cause, Detection, Detector, FindingKind, Quantity, StepView};

/// Fall below the highest torque so far that counts, as a part of it.
const DROP_PART: f32 = 0.03;
/// Likewise as a multiple of the largest fall that the curve has recovered from.
const DROP_RECOVERED: f32 = 2.0;
/// Likewise in units of the scatter of the rundown, and of the white noise of a step.
const DROP_SIGMA: f32 = 5.0;
/// Likewise in units of the local roughness. A torque that wanders over a few degrees shows about
/// 0.4 of its scatter around a line of 4°, and falls by four to five of it from peak to trough.
const DROP_ROUGHNESS: f32 = 11.0;
/// Likewise as a part of the standard uncertainty that does not average out: joint friction may
/// change by about as much between two speeds.
const DROP_SYSTEMATIC: f32 = 1.5;
/// Bolt angle over which the roughness is averaged, rad (20°).
const ROUGHNESS_RAD: f32 = 0.35;
/// Forward angle from the highest torque over which the fall must last, rad (2°).
const LASTING_RAD: f32 = 0.035;
/// Bolt angle after a join that is not judged: a restarted thread overshoots, rad (1.5°).
const AFTER_JOIN_RAD: f32 = 0.026;
/// Least torque at which a thread that strips matters, as a part of the target.
const LEAST_PART: f32 = 0.12;
/// Steps in the means that are compared (1.5°).
const MEAN_STEPS: usize = 3;
/// Downward slope in units of its standard error.
const SLOPE_SIGMA: f32 = 3.0;

/// Detector of stripping threads.
#[derive(Clone, Copy, Debug, Default)]
pub struct Strip {
    peak_nm: f32,
    peak_rad: f32,
    lowest_since_nm: f32,
    /// Largest fall that was recovered from, as a part of the peak before it.
    recovered_part: f32,
    /// Mean square of the residual around the local line, N²·m².
    roughness_square: f32,
    found: bool,
}

impl Detector for Strip {
    fn on_step(&mut self, view: &StepView<'_>) -> Option<Detection> {
        let step = view.step;
        // Before snug is due nothing is clamped that could shear a thread: what falls there has cleared,
        // or was ragged.
        let clamps = (view.expected.earliest_snug_rad).is_none_or(|e| step.angle_rad >= e);
        if !clamps || self.found || !step.observable || step.since_join_rad < AFTER_JOIN_RAD {
            return None;
        }
        // A burr or a chip that gives way sheared no thread.
        let clears = view.level.mean_nm().unwrap_or(0.0)
            + view.expected.part_of_target_nm(super::CLEARS_PART);
        let least = (view.expected.ceiling_nm + view.expected.part_of_target_nm(LEAST_PART))
            .max(clears)
            .max(4.0 * step.torque_u_nm());
        let mean = view.window.mean_torque_nm(MEAN_STEPS);
        if mean >= self.peak_nm {
            if self.peak_nm > least {
                let fall = 1.0 - self.lowest_since_nm / self.peak_nm;
                self.recovered_part = self.recovered_part.max(fall);
            }
            self.peak_nm = mean;
            self.peak_rad = step.angle_rad;
            self.lowest_since_nm = mean;
            self.follow_roughness(view);
            return None;
        }
        self.lowest_since_nm = self.lowest_since_nm.min(mean);
        if self.peak_nm < least {
            self.follow_roughness(view);
            return None;
        }
        let fall = self.peak_nm - mean;
        let limit = (DROP_PART * self.peak_nm)
            .max(DROP_RECOVERED * self.recovered_part * self.peak_nm)
            .max(DROP_ROUGHNESS * crate::math::sqrt(self.roughness_square))
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
            likely: Some(Cause::StrippingThread),
            runner_up: Some(Cause::YieldingBolt),
        })
    }
}

impl Strip {
    /// While the torque rises or is low: a fall that may be a strip does not count as roughness.
    fn follow_roughness(&mut self, view: &StepView<'_>) {
        if let Some(line) = view.local {
            let w = view.step.width_rad;
            let square = line.residual * line.residual;
            self.roughness_square += (square - self.roughness_square) * (w / (w + ROUGHNESS_RAD));
        }
    }
}
