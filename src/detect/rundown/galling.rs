//! Galling while running down: the torque leaves its band after the first turns, and grows and grows.
//!
//! A locking feature enters over a part of a turn and is level from there on; a crossed thread binds
//! from the first turns; what is clamped rises within a few degrees.

use core::f32::consts::FRAC_PI_3;

use super::super::{Cause, Detection, FindingKind, Quantity};
use super::Early;
use super::cross_thread::FIRST_TURNS_RAD;
use super::early_snug::clamps;
use crate::fastener::ExpectedRun;

/// Bolt angle over which a growth is looked for, rad (60°).
pub const GROWTH_RAD: f32 = FRAC_PI_3;
/// Mean torque above the level, against that one such angle before, from which on it grows: level
/// torque has about the same, but for its grain of up to 20 % (common practice, no source).
pub const GROWTH: f32 = 1.3;
/// Least growth, as a part of the target: friction drifts by less (common practice, no source).
const GROWTH_PART: f32 = 0.03;
/// Bolt angle above the limit after which that tells (half a turn): the part of a locking feature that
/// lies above the band has entered by then.
const TELLS_RAD: f32 = 3.0 * GROWTH_RAD;
/// Part of the softest joint's rate below which nothing is clamped: the toe, where the parts are drawn
/// together, reaches over less than one such angle (common practice, no source).
const CLAMPED_PART: f32 = 0.5;
/// Stretch of which the mean is taken, rad (30°).
const MEAN_RAD: f32 = 0.5 * GROWTH_RAD;

/// Mean torque above the level over the last `over_rad`, and the same `lag_rad` before; `None` until
/// the rise has lasted for both.
pub fn heights_nm(run: &Early<'_>, over_rad: f32, lag_rad: f32) -> Option<(f32, f32)> {
    let end = run.view.step.end_rad;
    let mean = |to: f32| run.history.mean_nm(to - over_rad, to);
    let level = run.rise.level_nm;
    let (now, before) = (mean(end)? - level, mean(end - lag_rad)? - level);
    (run.rise.since_rad() >= lag_rad + over_rad && before > 0.0).then_some((now, before))
}

/// Whether the torque has grown over the last 60°, beyond grain and what the sensor tells.
pub fn grows(run: &Early<'_>, heights_nm: (f32, f32)) -> bool {
    let (now, before) = heights_nm;
    let least = (run.view.expected.part_of_target_nm(GROWTH_PART)).max(run.view.step.torque_u_nm());
    now > GROWTH * before && now - before > least
}

/// Looks at the rise so far. `beyond`: it has gone beyond what a burr bears.
pub fn look(run: &Early<'_>, beyond: bool) -> Option<Detection> {
    let rise = run.rise;
    let from = rise.from_rad?;
    if from <= FIRST_TURNS_RAD || rise.now_nm <= rise.limit_nm || clamps(run) {
        return None;
    }
    // All along: a level torque that a seat follows has grown once. Where the head may have seated, a
    // thread still grows less than the softest joint does.
    let may_seat = (run.seat_from_rad).is_none_or(|seat| run.view.step.end_rad >= seat);
    let most_nm = if may_seat {
        softest_growth_nm(run.view.expected)
    } else {
        f32::INFINITY
    };
    let growing = rise.since_rad() >= TELLS_RAD
        && heights_nm(run, MEAN_RAD, GROWTH_RAD)
            .zip(heights_nm(run, MEAN_RAD, 2.0 * GROWTH_RAD))
            .is_some_and(|(last, (_, earlier))| {
                grows(run, last) && last.1 > GROWTH * earlier && last.0 - last.1 < most_nm
            });
    (growing || beyond).then(|| galls(rise.now_nm, rise.limit_nm))
}

/// Torque that the softest joint takes up over 60° once it clamps, less its toe's share, N·m; 0 where
/// nothing is known of it.
fn softest_growth_nm(expected: &ExpectedRun) -> f32 {
    CLAMPED_PART * expected.least_rate_nm_per_rad * GROWTH_RAD
}

fn galls(value: f32, limit: f32) -> Detection {
    Detection {
        kind: FindingKind::Galling,
        quantity: Quantity::TorqueNm,
        value,
        limit,
        place: None,
        likely: Some(Cause::GallingThread),
        runner_up: Some(Cause::Debris),
    }
}
