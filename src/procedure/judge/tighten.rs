//! Judging a bolt that was done up or checked.

use crate::fastener::Band;
use crate::math::sqrt;

use super::{BoltJob, Expected, Figure, Goal, Grounds, Reason, Seen};

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

const SNUG: [Reason; 4] = [
    Reason::SnugOutsideWindow,
    Reason::SnugInWindow,
    Reason::SnugOutsideWindow,
    Reason::AngleUncertaintyTooLarge,
];
const ELASTIC: [Reason; 4] = [
    Reason::ElasticAngleOutsideWindow,
    Reason::ElasticAngleInWindow,
    Reason::ElasticAngleOutsideWindow,
    Reason::AngleUncertaintyTooLarge,
];
/// Turning that a bolt that holds may seem to have done, rad (1°): give of the tool that is not known.
const STILL_RAD: f32 = 0.0175;

/// The torque at the end; `None` where it cannot be judged.
fn end_torque(seen: &Seen, grounds: &mut Grounds) -> Option<Figure> {
    let torque = seen.final_torque_nm.filter(|_| seen.observable);
    match torque {
        Some(value) => Some(Figure {
            value,
            u: seen.final_torque_u_nm,
        }),
        None => {
            grounds.unknown(if seen.observable {
                Reason::NeverTurned
            } else {
                Reason::TorqueNotObservable
            });
            None
        }
    }
}

/// Standard uncertainties by which the running torque must lie above the least of its band, as those by which
/// it must lie below for a finding.
const RUNNING_SIGMA: f32 = 2.0;

/// A locking feature must have taken its least when the head seated. Surely less is a finding; what is not
/// surely more leaves open that it is dead (JCGM 106, 8.3: a guard band, for the accepted nut loosens).
pub(super) fn running(job: &BoltJob, seen: &Seen, grounds: &mut Grounds) {
    if job.carried_nm.is_some() || matches!(job.goal, Goal::Recheck { .. } | Goal::Watch(_)) {
        return;
    }
    let floor_nm = job.expected_run().floor_nm;
    let surely_nm = seen
        .snug
        .map(|snug| snug.torque_nm - RUNNING_SIGMA * seen.seat_u_nm);
    if floor_nm > 0.0 && !surely_nm.is_some_and(|nm| nm >= floor_nm) {
        grounds.unknown(Reason::RunningTorqueInDoubt);
    }
}

/// What the joint has lost since it was reached, against the same window: clamp force goes with it.
fn hold_what_is_left(seen: &Seen, torque: Figure, window: Band, grounds: &mut Grounds) {
    if seen
        .lost_nm
        .is_some_and(|lost| torque.value - lost < window.min)
    {
        grounds.against(Reason::TorqueLostWhileHeld);
    }
}

pub(super) fn to_torque(job: &BoltJob, seen: &Seen, grounds: &mut Grounds) {
    let Some(window) = job.goal.end_nm() else {
        return;
    };
    // A bolt that an earlier pass has brought there holds: nothing turns, and that is as it should be.
    let still = seen.final_torque_nm.is_none()
        || seen.final_angle_rad.value < STILL_RAD + 2.0 * seen.final_angle_rad.u;
    if job.carried_nm.is_some() && still {
        match seen.highest_nm {
            None => grounds.unknown(Reason::TorqueNotObservable),
            Some(torque) => {
                grounds.hold(torque, window, TORQUE);
                if grounds.against.is_empty() && grounds.unknown.is_empty() {
                    grounds.met(Reason::HeldStill);
                }
            }
        }
        return;
    }
    let Some(torque) = end_torque(seen, grounds) else {
        return;
    };
    grounds.hold(torque, window, TORQUE);
    hold_what_is_left(seen, torque, window, grounds);
    let Some(snug) = snug_in_window(job, seen, grounds) else {
        return;
    };
    let Some(expected) = job.elastic_rad else {
        return;
    };
    // Angle that this joint takes from snug to the target, by its own rate.
    let target_nm = job.goal.target_nm().unwrap_or(0.0);
    let to_target = (target_nm - snug.torque_nm) / (torque.value - snug.torque_nm);
    let angle_rad = seen.final_angle_rad.value - snug.angle_rad;
    if to_target > 0.0 {
        let by_torque = angle_rad * torque.u / (torque.value - snug.torque_nm);
        // What the joins of strokes leave open of the end is open of snug as well, and counted there: the
        // way between the two is no less sure than snug.
        let elastic = Figure {
            value: angle_rad * to_target,
            u: to_target * sqrt(snug.angle_u_rad * snug.angle_u_rad + by_torque * by_torque),
        };
        grounds.hold(elastic, expected.band(), ELASTIC);
    }
}

pub(super) fn through_angle(job: &BoltJob, seen: &Seen, angle: &Expected, grounds: &mut Grounds) {
    let torque = end_torque(seen, grounds);
    if let Some((torque, window)) = torque.zip(job.goal.end_nm()) {
        grounds.hold(torque, window, TORQUE);
        hold_what_is_left(seen, torque, window, grounds);
    }
    snug_in_window(job, seen, grounds);
    match seen.mark_rad {
        None if seen.observable => grounds.against(Reason::StartTorqueNotReached),
        None => grounds.unknown(Reason::TorqueNotObservable),
        Some(mark) => {
            let end = seen.final_angle_rad;
            let further = Figure {
                value: end.value - mark.value,
                // What was open at the mark is open in both: only what came since is open between them.
                u: sqrt((end.u * end.u - mark.u * mark.u).abs()),
            };
            grounds.hold(further, angle.band(), FURTHER_ANGLE);
        }
    }
}

pub(super) fn to_yield(job: &BoltJob, seen: &Seen, onset_nm: Band, grounds: &mut Grounds) {
    if let Some(torque) = end_torque(seen, grounds) {
        match seen.yield_nm {
            None => grounds.against(Reason::NoYield),
            Some(onset) => grounds.hold(onset, onset_nm, YIELD),
        }
        // Turned on after yield had begun.
        if torque.value - 2.0 * torque.u > onset_nm.max {
            grounds.against(Reason::TorqueAboveWindow);
        }
    }
    snug_in_window(job, seen, grounds);
}

/// Not moved is a window from nothing to the most: what surely moved further is rejected, what may
/// have is not assessable. All turning of the run counts, also after the check torque.
pub(super) fn recheck(seen: &Seen, torque_nm: f32, most_rad: f32, grounds: &mut Grounds) {
    let end = seen.final_angle_rad;
    let moved = match seen.mark_rad {
        Some(mark) if mark.value > end.value => mark,
        _ => end,
    };
    if moved.value > most_rad + 2.0 * moved.u {
        grounds.against(Reason::MovedBeforeTorque);
    } else if seen.mark_rad.is_none() {
        grounds.unknown(Reason::CheckTorqueNotReached);
    } else if moved.value > most_rad || !(2.0 * moved.u <= most_rad) {
        grounds.unknown(Reason::AngleUncertaintyTooLarge);
    } else if !seen
        .highest_nm
        .is_some_and(|highest| 2.0 * highest.u <= CHECK_PART * torque_nm)
    {
        grounds.unknown(Reason::UncertaintyTooLarge);
    } else {
        grounds.met(Reason::HeldStill);
    }
}

/// Largest expanded uncertainty of a check torque, as a part of it (common practice, no source: the
/// usual half width of a torque window).
const CHECK_PART: f32 = 0.1;

/// The snug point, where there is one; held against the expected turns. It is asked for only where
/// something is stated that needs it.
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
        if job.rundown_rad.is_some() || job.elastic_rad.is_some() {
            grounds.unknown(Reason::NoSnug);
        }
        return None;
    };
    if let Some(expected) = job.rundown_rad {
        let angle = Figure {
            value: snug.angle_rad,
            u: snug.angle_u_rad,
        };
        grounds.hold(angle, expected.band(), SNUG);
    }
    Some(snug)
}
