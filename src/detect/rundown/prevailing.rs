//! Running torque out of its band: the locking feature is wrong, worn or missing.
//!
//! Too high: the torque has settled above the band. Too low: when the head seats, a stated locking
//! feature must have entered, and the torque just before is below the least that it must take.

use core::f32::consts::PI;

use super::super::{Cause, Detection, FindingKind, Quantity};
use super::Early;
use super::galling::{grows, heights_nm};

/// Bolt angle above the band over which the torque has settled, rad (half a turn: many enter later
/// than a turn before the head seats).
const SETTLED_RAD: f32 = PI;
/// Mean torque over the last quarter turn above the level before the rise, against that of the one
/// before, that counts as level: that much is grain (common practice, no source). Over less, what is
/// ragged looks level now and then.
const LEVEL: f32 = 1.2;
/// Stretch before the head seats that is judged, rad (45°), ...
const BEFORE_RAD: f32 = 0.25 * PI;
/// ... the distance of the stretch before that it is compared with (a quarter turn), ...
const LAG_RAD: f32 = 0.5 * PI;
/// ... and its distance from there: the toe of the joint, as a part of its elastic angle.
const TOE_PART: f32 = 0.3;
/// Standard uncertainties below the band that count, ...
const SIGMA: f32 = 2.0;
/// ... and above it: a thread that is stated to run freely is there more often than any other. And as a
/// part of the target: where the head seats is known no better than to some degrees.
const ABOVE_SIGMA: f32 = 3.0;
const ABOVE_PART: f32 = 0.01;

/// Looks for a settled torque above the band.
pub fn high(run: &Early<'_>) -> Option<Detection> {
    let rise = run.rise;
    let (now, before) = heights_nm(run, 0.5 * SETTLED_RAD, 0.5 * SETTLED_RAD)?;
    let level = now < LEVEL * before && before < LEVEL * now;
    (run.view.expected.ceiling_stated && rise.since_rad() >= SETTLED_RAD && level).then_some(
        Detection {
            kind: FindingKind::PrevailingHigh,
            quantity: Quantity::TorqueNm,
            value: now + rise.level_nm,
            limit: run.view.expected.ceiling_nm,
            place: None,
            likely: Some(Cause::LockingFeature),
            runner_up: Some(Cause::WrongPart),
        },
    )
}

/// Looks at the torque before the head seated at `seat_rad`: too low, or above its band and still
/// growing.
pub fn before_seat(run: &Early<'_>, seat_rad: f32) -> Option<Detection> {
    let expected = run.view.expected;
    let toe = expected.elastic_rad.map_or(0.0, |e| TOE_PART * e.middle());
    let to = seat_rad - toe;
    let torque = run.history.mean_nm(to - BEFORE_RAD, to)?;
    let earlier = run.history.mean_nm(to - BEFORE_RAD - LAG_RAD, to - LAG_RAD);
    let u_nm = SIGMA * run.view.step.systematic_u_nm;
    let level = run.rise.level_nm;
    let finding = |kind, limit, likely, runner_up| {
        Some(Detection {
            kind,
            quantity: Quantity::TorqueNm,
            value: torque,
            limit,
            place: None,
            likely: Some(likely),
            runner_up: Some(runner_up),
        })
    };
    if torque + u_nm < expected.floor_nm {
        let (likely, other) = (Cause::LockingFeature, Cause::WrongPart);
        return finding(FindingKind::PrevailingLow, expected.floor_nm, likely, other);
    }
    let margin_nm =
        (ABOVE_SIGMA * run.view.step.systematic_u_nm).max(expected.part_of_target_nm(ABOVE_PART));
    let limit = expected.band_max_nm? + margin_nm;
    // Without an elastic angle nobody can say how far the toe reaches back.
    if expected.elastic_rad.is_none() || torque <= limit {
        return None;
    }
    let level = earlier.map_or(level, |e| level.min(0.5 * e));
    if earlier.is_some_and(|e| grows(run, (torque - level, e - level))) {
        let (likely, other) = (Cause::GallingThread, Cause::LockingFeature);
        finding(FindingKind::Galling, limit, likely, other)
    } else {
        let (likely, other) = (Cause::LockingFeature, Cause::GallingThread);
        finding(FindingKind::PrevailingHigh, limit, likely, other)
    }
}
