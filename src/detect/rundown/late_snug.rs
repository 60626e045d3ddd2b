//! Late snug: the head has not seated where it must have.
//!
//! A missing part lets the bolt turn on by its thickness over the pitch. Said as soon as the torque
//! has stayed down for longer than the softest joint takes to show, else when the elastic line, once
//! it stands, begins too late.

use super::super::{Cause, Detection, FindingKind, Quantity};
use super::not_started::{self, stands};
use super::{Early, SIGMA};

/// Torque by which a joint shows, as a part of the target.
const SHOWS_PART: f32 = 0.05;

/// Looks at a run whose torque has not risen.
pub fn overdue(run: &Early<'_>) -> Option<Detection> {
    let (view, rise, expected) = (run.view, run.rise, run.view.expected);
    let latest = expected.latest_snug_rad?;
    if !(expected.least_rate_nm_per_rad > 0.0) || rise.from_rad.is_some() {
        return None;
    }
    let shows_nm = (rise.limit_nm - rise.level_nm).max(expected.part_of_target_nm(SHOWS_PART));
    let unsure = SIGMA * view.angle_u_rad;
    let due = latest + unsure + shows_nm / expected.least_rate_nm_per_rad;
    (view.step.end_rad > due)
        .then(|| not_started::rather(run).unwrap_or_else(|| late(run, view.step.end_rad, due)))
}

/// Looks at a head that seated at `seat_rad`.
pub fn seated(run: &Early<'_>, seat_rad: f32) -> Option<Detection> {
    let latest = run.view.expected.latest_snug_rad? + SIGMA * run.view.angle_u_rad;
    (seat_rad > latest).then(|| late(run, seat_rad, latest))
}

/// Whether nothing tells that a thread was ever caught: neither its advance nor a torque that it takes.
fn may_be_free(run: &Early<'_>) -> bool {
    run.view.advance_ratio.is_none() && run.rise.level_nm < SIGMA * run.view.step.systematic_u_nm
}

fn late(run: &Early<'_>, value: f32, limit: f32) -> Detection {
    let (likely, runner_up) = if run.rise.from_rad.is_some() {
        (Cause::MissingPart, Cause::WrongPart)
    } else if stands(run.view) {
        (Cause::NotCaught, Cause::MissingPart)
    } else if may_be_free(run) {
        (Cause::MissingPart, Cause::NotCaught)
    } else {
        (Cause::MissingPart, Cause::WrongPart)
    };
    Detection {
        kind: FindingKind::LateSnug,
        quantity: Quantity::AngleRad,
        value,
        limit,
        place: None,
        likely: Some(likely),
        runner_up: Some(runner_up),
    }
}
