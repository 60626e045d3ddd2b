//! A crossed thread: torque rises where the thread should still run freely.
//!
//! The flanks of a crossed thread wedge from the first turns on, and the more so with every further
//! turn. So it is told by where the rise begins, and by a slope that nothing clamped has: parts that
//! are clamped, or a bolt that bottoms, stop it within a few degrees. A locking feature stays below
//! its band. Where the turns to snug were not stated, torque alone cannot tell an early snug from a
//! crossed thread: then only the missing axial advance decides.

use crate::math::TAU;

use super::super::{Cause, Detection, FindingKind, Quantity};
use super::{Early, FREE_RAD};

/// A crossed thread has begun to bind within so many turns (common practice, no source: it binds
/// within a couple of turns; the torque is above its band a little later than that begins).
pub const FIRST_TURNS_RAD: f32 = 1.75 * TAU;
/// Bolt angle over which the torque must stay up, rad (5°).
const SUSTAINED_RAD: f32 = 0.087;
/// Likewise where a burr or a chip may be met, which passes (20°, no source): ...
const SUSTAINED_NEAR_SEAT_RAD: f32 = 0.35;
/// ... within the last turn before snug is due.
const NEAR_SEAT_RAD: f32 = TAU;
/// A crossed thread does not take up the target in less than this bolt angle (a third of a turn;
/// common practice, no source).
const STEEPEST_RAD: f32 = TAU / 3.0;
/// Steps of the slope that is compared with it (10°).
const SLOPE_STEPS: usize = 20;
/// It goes on to rise: the local slope, in units of its standard error.
const RISING_SIGMA: f32 = 2.0;
/// A thread that advances by less than this part of its pitch is not straight.
const STRAIGHT_RATIO: f32 = 0.85;

/// Looks at the rise so far.
pub fn look(run: &Early<'_>) -> Option<Detection> {
    let (view, rise) = (run.view, run.rise);
    let angle = view.step.angle_rad;
    let from = rise.from_rad.filter(|_| rise.now_nm > rise.limit_nm)?;
    let witnessed = run.seat_from_rad.is_some() || not_advancing(run);
    if from > FIRST_TURNS_RAD
        || angle < FREE_RAD
        || run.seat_from_rad.is_some_and(|seat| from >= seat)
        || !witnessed
    {
        return None;
    }
    let near_seat = (run.seat_from_rad).is_some_and(|seat| angle > seat - NEAR_SEAT_RAD);
    let sustained = if near_seat {
        SUSTAINED_NEAR_SEAT_RAD
    } else {
        SUSTAINED_RAD
    };
    let rising = (view.local).is_some_and(|l| l.slope > RISING_SIGMA * l.slope_u);
    let clamped = (view.expected.target_nm)
        .zip(view.window.line(SLOPE_STEPS))
        .is_some_and(|(target, l)| l.slope > target / STEEPEST_RAD);
    (view.step.end_rad - from >= sustained && rising && !clamped).then_some(Detection {
        kind: FindingKind::CrossThread,
        quantity: Quantity::TorqueNm,
        value: rise.now_nm,
        limit: rise.limit_nm,
        likely: Some(Cause::CrossedThread),
        runner_up: Some(Cause::Debris),
    })
}

fn not_advancing(run: &Early<'_>) -> bool {
    (run.view.advance_ratio).is_some_and(|(ratio, u)| ratio + 2.0 * u < STRAIGHT_RATIO)
}
