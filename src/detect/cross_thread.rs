//! A crossed thread: torque rises where the thread should still run freely.
//!
//! Seen before the earliest angle at which snug is due, torque above what running down may take,
//! kept up over a stretch of forward motion. A locking feature stays below its band and is level; a
//! burr passes. Where the turns to snug were not stated, torque alone cannot tell an early snug
//! from a crossed thread: then only the missing axial advance decides.

use crate::math::TAU;

use super::{Cause, Detection, Detector, FindingKind, Quantity, StepView};

/// Margin above the ceiling, as a part of the target (common practice, no source: a tightening
/// that has taken less has not begun to clamp).
const MARGIN_PART: f32 = 0.02;
/// The ceiling is never taken below the level of the run so far by so many times its scatter.
const SCATTER_SIGMA: f32 = 5.0;
/// Likewise in units of the torque's standard uncertainty, ...
const MARGIN_SIGMA: f32 = 3.0;
/// ... or, once the run has a level of its own to rise from, so many of them and this part of the
/// target: what does not average out is in both and drops out of the rise.
const LEVELLED_MARGIN_SIGMA: f32 = 1.0;
const LEVELLED_MARGIN_PART: f32 = 0.01;
/// Forward angle over which the torque must stay up, rad (10°).
const SUSTAINED_RAD: f32 = 0.175;
/// The stretch starts anew when the torque falls below this part of the limit.
const HOLD_PART: f32 = 0.7;
/// A crossed thread shows within so many turns from the start (common practice, no source).
const FIRST_TURNS_RAD: f32 = 3.0 * TAU;
/// Steps in the mean that is compared (2°): roughness drops out.
const MEAN_STEPS: usize = 4;
/// A thread that advances by less than this part of its pitch is not straight.
const STRAIGHT_RATIO: f32 = 0.85;

/// Detector of crossed threads.
#[derive(Clone, Copy, Debug, Default)]
pub struct CrossThread {
    above_rad: f32,
    found: bool,
}

impl Detector for CrossThread {
    fn on_step(&mut self, view: &StepView<'_>) -> Option<Detection> {
        if self.found || view.expected.carried_nm.is_some() {
            return None;
        }
        let step = view.step;
        let early_until = view
            .expected
            .earliest_snug_rad
            .map_or(FIRST_TURNS_RAD, |e| e.min(FIRST_TURNS_RAD));
        if step.angle_rad >= early_until || !step.observable {
            self.above_rad = 0.0;
            return None;
        }
        let expected = view.expected;
        let u_nm = step.torque_u_nm();
        let limit = match view.level.mean_nm() {
            None => {
                expected.ceiling_nm
                    + (MARGIN_SIGMA * u_nm).max(expected.part_of_target_nm(MARGIN_PART))
            }
            Some(level) => {
                let usual = level + SCATTER_SIGMA * view.level.scatter_nm();
                (expected.ceiling_nm + LEVELLED_MARGIN_SIGMA * u_nm).max(usual)
                    + expected.part_of_target_nm(LEVELLED_MARGIN_PART)
            }
        };
        let mean = view.window.mean_torque_nm(MEAN_STEPS);
        if mean > limit {
            self.above_rad += step.width_rad;
        } else if mean < HOLD_PART * limit {
            self.above_rad = 0.0;
        }
        if self.above_rad < SUSTAINED_RAD || mean <= limit {
            return None;
        }
        let too_early = view.expected.earliest_snug_rad.is_some();
        let not_advancing = view
            .advance_ratio
            .is_some_and(|(ratio, u)| ratio + 2.0 * u < STRAIGHT_RATIO);
        if !(too_early || not_advancing) {
            return None;
        }
        self.found = true;
        Some(Detection {
            kind: FindingKind::CrossThread,
            quantity: Quantity::TorqueNm,
            value: mean,
            limit,
            likely: Some(Cause::CrossedThread),
            runner_up: Some(Cause::Debris),
        })
    }
}
