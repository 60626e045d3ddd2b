//! Galling while running down: the torque leaves its band after the first turns, and grows and grows.
//!
//! A locking feature enters over a part of a turn and is level from there on; a crossed thread binds
//! from the first turns; what is clamped rises within a few degrees.

use core::f32::consts::FRAC_PI_3;

use super::super::{Cause, Detection, FindingKind, Quantity};
use super::Early;
use super::cross_thread::FIRST_TURNS_RAD;

/// Bolt angle over which a growth is looked for, rad (60°).
pub const GROWTH_RAD: f32 = FRAC_PI_3;
/// Mean torque above the level, against that one such angle before, from which on it grows: level
/// torque has about the same, but for its grain of up to 20 % (common practice, no source).
pub const GROWTH: f32 = 1.3;
/// Bolt angle above the limit after which that tells (120°): a locking feature has entered by then.
const TELLS_RAD: f32 = 2.0 * GROWTH_RAD;
/// Stretch of which the mean is taken, rad (30°).
const MEAN_RAD: f32 = 0.5 * GROWTH_RAD;

/// Mean torque above the level, and the same 60° before; `None` until the rise has lasted for both.
pub fn heights_nm(run: &Early<'_>) -> Option<(f32, f32)> {
    let end = run.view.step.end_rad;
    let mean = |to: f32| run.history.mean_nm(to - MEAN_RAD, to);
    let level = run.rise.level_nm;
    let (now, before) = (mean(end)? - level, mean(end - GROWTH_RAD)? - level);
    (run.rise.since_rad() >= GROWTH_RAD + MEAN_RAD && before > 0.0).then_some((now, before))
}

/// Looks at the rise so far. `beyond`: it has gone beyond what a burr bears.
pub fn look(run: &Early<'_>, beyond: bool) -> Option<Detection> {
    let rise = run.rise;
    let from = rise.from_rad?;
    if from <= FIRST_TURNS_RAD || rise.now_nm <= rise.limit_nm {
        return None;
    }
    let growing = rise.since_rad() >= TELLS_RAD
        && heights_nm(run).is_some_and(|(now, before)| now > GROWTH * before);
    (growing || beyond).then_some(Detection {
        kind: FindingKind::Galling,
        quantity: Quantity::TorqueNm,
        value: rise.now_nm,
        limit: rise.limit_nm,
        likely: Some(Cause::GallingThread),
        runner_up: Some(Cause::Debris),
    })
}
