//! A crossed thread: torque rises where the thread should still run freely.
//!
//! The flanks of a crossed thread wedge from the first turns on, and the more so with every further
//! turn. So it is told by where the rise begins, and by a slope that nothing clamped has: parts that
//! are clamped, or a bolt that bottoms, stop it within half a turn. A locking feature that
//! enters rises as well, but to a plateau: so it is waited for as long as the thread comes to no harm
//! by it, that is up to a small part of the target, unless the rise is too steep for one. Where the
//! turns to snug were not stated, torque alone cannot tell an early snug from a crossed thread: then
//! only the missing axial advance decides.

use crate::math::TAU;

use super::super::{Cause, Detection, FindingKind, Quantity};
use super::early_snug::clamps;
use super::{Early, FREE_RAD};

/// A crossed thread has begun to bind within so many turns (common practice, no source: it binds
/// within a couple of turns; the torque is above its band a little later than that begins).
pub const FIRST_TURNS_RAD: f32 = 1.75 * TAU;
/// Where in them the head may seat soon, what rises as parts that are clamped do is clamped, from this
/// part of the way to the earliest seat on: nearer to the seat than to the start of the thread.
const NEARER_TO_SEAT_PART: f32 = 0.5;
/// Bolt angle over which the torque must stay up and rise, rad (30°, no source): a burr or a chip has
/// been pushed aside by then, and a rise has a slope to be told by.
const SUSTAINED_RAD: f32 = TAU / 12.0;
/// A crossed thread does not take up the target in less than this bolt angle (half a turn, as for
/// a bolt that is tight already; common practice, no source).
const STEEPEST_RAD: f32 = TAU / 2.0;
/// Part of the target that a locking feature is given in which to enter, where its band does not reach
/// as far: the least torque that a crossed thread is told by (15 % to 30 % in practitioners' rules,
/// from memory).
const FEATURE_PART: f32 = 0.15;
/// Bolt angle in which a locking feature does not enter, rad (a third of a turn; no source: the first
/// threads of nut or bolt are chamfered, and the feature is a ring or several threads long).
const ENTRY_RAD: f32 = TAU / 3.0;
/// Standard errors that the slope of the rise must be steeper by.
const SLOPE_SIGMA: f32 = 2.0;
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
        || rise.since_rad() < SUSTAINED_RAD
        || may_be_a_locking_feature(run)
        || is_clamped(run, from)
    {
        return None;
    }
    let rising = (view.local).is_some_and(|l| l.slope > RISING_SIGMA * l.slope_u);
    let entering = view.expected.floor_nm > rise.level_nm;
    rising.then_some(Detection {
        kind: FindingKind::CrossThread,
        quantity: Quantity::TorqueNm,
        value: rise.now_nm,
        limit: rise.limit_nm,
        place: None,
        likely: Some(Cause::CrossedThread),
        runner_up: Some(if entering {
            Cause::LockingFeature
        } else {
            Cause::Debris
        }),
    })
}

/// Whether a locking feature that enters could take as much, as steeply.
fn may_be_a_locking_feature(run: &Early<'_>) -> bool {
    let expected = run.view.expected;
    let feature_nm = (expected.part_of_target_nm(FEATURE_PART)).max(expected.ceiling_nm);
    let steeper =
        |l: crate::curve::Line| l.slope - SLOPE_SIGMA * l.slope_u > feature_nm / ENTRY_RAD;
    run.rise.now_nm <= feature_nm && !run.rise.line(run.view).is_some_and(steeper)
}

/// Whether the rise is as steep as only something that clamps is; or may be, near the seat, and the
/// advance rather says so than not.
fn is_clamped(run: &Early<'_>, from: f32) -> bool {
    let steep = (run.view.expected.target_nm)
        .zip(run.slope())
        .is_some_and(|(target, slope)| slope > target / STEEPEST_RAD);
    let near = (run.seat_from_rad).is_some_and(|seat| from > NEARER_TO_SEAT_PART * seat);
    let straight = (run.view.advance_ratio).is_none_or(|(ratio, _)| ratio >= STRAIGHT_RATIO);
    steep || (near && straight && clamps(run))
}

fn not_advancing(run: &Early<'_>) -> bool {
    (run.view.advance_ratio).is_some_and(|(ratio, u)| ratio + 2.0 * u < STRAIGHT_RATIO)
}
