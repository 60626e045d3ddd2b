//! Judging a bolt that was done up or checked.

use crate::fastener::Band;
use crate::math::sqrt;

use super::{BoltJob, Expected, Figure, Grounds, Reason, Seen};

const TORQUE: [Reason; 4] = [
    Reason::TorqueBelowWindow,
    Reason::TorqueInWindow,
    Reason::TorqueAboveWindow,
    Reason::UncertaintyTooLarge,
];
const FURTHER_ANGLE: [Reason; 4] = [
    Reason::FurtherAngleBelowWindow,
    Reason::FurtherAngleInWindow,
    Reason::FurtherAngleAboveWindow,
    Reason::AngleUncertaintyTooLarge,
];
const YIELD: [Reason; 4] = [
    Reason::YieldBelowWindow,
    Reason::YieldInWindow,
    Reason::YieldAboveWindow,
    Reason::UncertaintyTooLarge,
];

/// The torque at the end; `None` where it cannot be judged.
fn end_torque(seen: &Seen, grounds: &mut Grounds) -> Option<Figure> {
    if !seen.observable {
        grounds.unknown(Reason::TorqueNotObservable);
        return None;
    }
    Some(Figure {
        value: seen.final_torque_nm.unwrap_or(0.0),
        u: seen.final_torque_u_nm,
    })
}

pub(super) fn to_torque(job: &BoltJob, seen: &Seen, grounds: &mut Grounds) {
    let torque = end_torque(seen, grounds);
    if let Some((torque, window)) = torque.zip(job.goal.end_nm()) {
        grounds.hold(torque, window, TORQUE);
    }
    let torque_nm = seen.final_torque_nm.unwrap_or(0.0);
    let Some(snug) = snug_in_window(job, seen, grounds) else {
        return;
    };
    // Angle that this joint takes from snug to the target, by its own rate.
    let target_nm = job.goal.target_nm().unwrap_or(0.0);
    let to_target = (target_nm - snug.torque_nm) / (torque_nm - snug.torque_nm);
    let elastic_rad = (seen.final_angle_rad.value - snug.angle_rad) * to_target;
    if to_target > 0.0
        && job
            .elastic_rad
            .is_some_and(|e| outside(elastic_rad, &e, 2.0 * snug.angle_u_rad))
    {
        grounds.against(Reason::ElasticAngleOutsideWindow);
    }
}

pub(super) fn through_angle(job: &BoltJob, seen: &Seen, angle: &Expected, grounds: &mut Grounds) {
    let torque = end_torque(seen, grounds);
    if let Some((torque, window)) = torque.zip(job.goal.end_nm()) {
        grounds.hold(torque, window, TORQUE);
    }
    snug_in_window(job, seen, grounds);
    match seen.mark_rad {
        None => grounds.against(Reason::StartTorqueNotReached),
        Some(mark) => {
            let end = seen.final_angle_rad;
            let further = Figure {
                value: end.value - mark.value,
                u: sqrt(end.u * end.u + mark.u * mark.u),
            };
            grounds.hold(further, angle.band(), FURTHER_ANGLE);
        }
    }
}

pub(super) fn to_yield(job: &BoltJob, seen: &Seen, onset_nm: Band, grounds: &mut Grounds) {
    if end_torque(seen, grounds).is_some() {
        match seen.yield_nm {
            None => grounds.against(Reason::NoYield),
            Some(torque) => grounds.hold(torque, onset_nm, YIELD),
        }
    }
    snug_in_window(job, seen, grounds);
}

/// A bolt that is not to move may, by its uncertainty, seem to: only what is surely more counts.
pub(super) fn recheck(seen: &Seen, torque_nm: f32, most_rad: f32, grounds: &mut Grounds) {
    let moved = seen.mark_rad.unwrap_or(seen.final_angle_rad);
    if moved.value > most_rad + 2.0 * moved.u {
        grounds.against(Reason::MovedBeforeTorque);
    } else if seen.mark_rad.is_none() {
        grounds.unknown(Reason::CheckTorqueNotReached);
    } else if 2.0 * moved.u > most_rad {
        grounds.unknown(Reason::AngleUncertaintyTooLarge);
    } else if !(2.0 * seen.final_torque_u_nm <= 0.5 * torque_nm) {
        grounds.unknown(Reason::UncertaintyTooLarge);
    } else {
        grounds.met(Reason::HeldStill);
    }
}

/// The snug point, where there is one; held against the expected turns.
fn snug_in_window<'a>(
    job: &BoltJob,
    seen: &'a Seen,
    grounds: &mut Grounds,
) -> Option<&'a super::Snug> {
    // It got snug in the pass before.
    if job.carried_nm.is_some() {
        return None;
    }
    let Some(snug) = &seen.snug else {
        grounds.unknown(Reason::NoSnug);
        return None;
    };
    if job
        .rundown_rad
        .is_some_and(|e| outside(snug.angle_rad, &e, 2.0 * snug.angle_u_rad))
    {
        grounds.against(Reason::SnugOutsideWindow);
    }
    Some(snug)
}

fn outside(value: f32, e: &Expected, room: f32) -> bool {
    (value - e.value).abs() > e.tolerance + room
}
