//! Goals and reasons in plain words, with figures and units. Uncertainties are expanded, k = 2.

use bolting_monitor::fastener::Band;
use bolting_monitor::procedure::{BoltJob, Direction, Expected, Goal, Mode, Reason, RunSummary};

use super::K;

/// Name of a reason in snake case, as the JSON form writes it.
pub fn reason_name(reason: Reason) -> &'static str {
    match reason {
        Reason::TorqueInWindow => "torque_in_window",
        Reason::TorqueBelowWindow => "torque_below_window",
        Reason::TorqueAboveWindow => "torque_above_window",
        Reason::UncertaintyTooLarge => "uncertainty_too_large",
        Reason::TorqueNotObservable => "torque_not_observable",
        Reason::FindingStands => "finding_stands",
        Reason::JointsDisagree => "joints_disagree",
        Reason::NoTarget => "no_target",
        Reason::NoSnug => "no_snug",
        Reason::SnugOutsideWindow => "snug_outside_window",
        Reason::ElasticAngleOutsideWindow => "elastic_angle_outside_window",
        Reason::SamplesMissing => "samples_missing",
        Reason::UndoingNotJudged => "undoing_not_judged",
        Reason::FurtherAngleInWindow => "further_angle_in_window",
        Reason::FurtherAngleBelowWindow => "further_angle_below_window",
        Reason::FurtherAngleAboveWindow => "further_angle_above_window",
        Reason::StartTorqueNotReached => "start_torque_not_reached",
        Reason::AngleUncertaintyTooLarge => "angle_uncertainty_too_large",
        Reason::YieldInWindow => "yield_in_window",
        Reason::YieldBelowWindow => "yield_below_window",
        Reason::YieldAboveWindow => "yield_above_window",
        Reason::NoYield => "no_yield",
        Reason::HeldStill => "held_still",
        Reason::MovedBeforeTorque => "moved_before_torque",
        Reason::CheckTorqueNotReached => "check_torque_not_reached",
        Reason::BreakawayInWindow => "breakaway_in_window",
        Reason::BreakawayBelowWindow => "breakaway_below_window",
        Reason::BreakawayAboveWindow => "breakaway_above_window",
        Reason::NoBreakaway => "no_breakaway",
        Reason::ThreadFree => "thread_free",
        Reason::FreeTooSoon => "free_too_soon",
        Reason::FreeTooLate => "free_too_late",
        Reason::ThreadNotFree => "thread_not_free",
        Reason::NeverTurned => "never_turned",
        Reason::FindingAgainst => "finding_against",
        Reason::SensingInDoubt => "sensing_in_doubt",
        Reason::YieldInDoubt => "yield_in_doubt",
        Reason::TorqueLostWhileHeld => "torque_lost_while_held",
        Reason::RunningTorqueInDoubt => "running_torque_in_doubt",
        Reason::RunOutInDoubt => "run_out_in_doubt",
        Reason::SnugInWindow => "snug_in_window",
        Reason::ElasticAngleInWindow => "elastic_angle_in_window",
        _ => "other",
    }
}

/// A reason in few words.
pub fn reason_label(reason: Reason) -> &'static str {
    match reason {
        Reason::TorqueInWindow => "final torque inside the window",
        Reason::TorqueBelowWindow => "final torque below the window",
        Reason::TorqueAboveWindow => "final torque above the window",
        Reason::UncertaintyTooLarge => "uncertainty too large against the window",
        Reason::TorqueNotObservable => "torque not observable in this pose",
        Reason::FindingStands => "an alarm stands against the bolt",
        Reason::JointsDisagree => "joint torques contradict each other",
        Reason::NoTarget => "no target torque given",
        Reason::NoSnug => "no snug point seen",
        Reason::SnugOutsideWindow => "snug outside the expected angle",
        Reason::ElasticAngleOutsideWindow => {
            "angle from snug to target outside the expected window"
        }
        Reason::SamplesMissing => "too many samples missing or unusable",
        Reason::UndoingNotJudged => "undoing is recorded, nothing stated to hold it against",
        Reason::FurtherAngleInWindow => "angle beyond the start torque inside its window",
        Reason::FurtherAngleBelowWindow => "angle beyond the start torque below its window",
        Reason::FurtherAngleAboveWindow => "angle beyond the start torque above its window",
        Reason::StartTorqueNotReached => "start torque not reached",
        Reason::AngleUncertaintyTooLarge => "angle too unsure against its window",
        Reason::YieldInWindow => "yield began inside its window",
        Reason::YieldBelowWindow => "yield began below its window",
        Reason::YieldAboveWindow => "yield began above its window",
        Reason::NoYield => "yield not reached",
        Reason::HeldStill => "carried the check torque without moving",
        Reason::MovedBeforeTorque => "moved while it was checked",
        Reason::CheckTorqueNotReached => "check torque not reached",
        Reason::BreakawayInWindow => "broke loose inside its window",
        Reason::BreakawayBelowWindow => "broke loose below its window",
        Reason::BreakawayAboveWindow => "broke loose above its window",
        Reason::NoBreakaway => "not seen to break loose",
        Reason::ThreadFree => "last thread free where it was expected",
        Reason::FreeTooSoon => "thread free before it was due",
        Reason::FreeTooLate => "thread free later than it was due",
        Reason::ThreadNotFree => "thread not seen to be free",
        Reason::NeverTurned => "the bolt did not turn",
        Reason::FindingAgainst => "a finding speaks against the bolt",
        Reason::SensingInDoubt => "a joint torque drifting, frozen or clipped",
        Reason::YieldInDoubt => "slope at the end as of a yielding bolt",
        Reason::TorqueLostWhileHeld => "torque lost while held, to below the window",
        Reason::RunningTorqueInDoubt => "running torque not surely in its band",
        Reason::RunOutInDoubt => "drags on and not seen to come out",
        Reason::SnugInWindow => "snug inside the expected angle",
        Reason::ElasticAngleInWindow => "angle from snug to target inside its window",
        _ => "a reason that this version has no words for",
    }
}

/// The key of the description that is not stated and would most likely have made a verdict possible.
pub fn wanting(reason: Reason, job: &BoltJob) -> Option<&'static str> {
    let tool = &job.tool;
    match (reason, job.mode) {
        (Reason::AngleUncertaintyTooLarge, Mode::WristStrokes)
            if tool.ratchet_tooth_rad.is_none() && tool.socket_play_rad.is_none() =>
        {
            Some(
                "neither tool.socket_play_deg nor tool.ratchet_tooth_deg is stated: state the one that the tool has",
            )
        }
        (Reason::AngleUncertaintyTooLarge, _) if tool.windup_nm_per_rad.is_none() => Some(
            "tool.windup_nm_per_rad is not stated: state the torsional stiffness from the measured angle to the head",
        ),
        (Reason::UndoingNotJudged, _) => Some(
            "state run.breakaway_torque_nm or run.run_out_turns to have it judged, and run.recorded_torque_nm",
        ),
        _ => None,
    }
}

/// A reason in plain words, with the key that is wanting where one is.
pub fn reason_sentence(reason: Reason, job: &BoltJob, summary: &RunSummary) -> String {
    let sentence = because(reason, job, summary);
    match wanting(reason, job) {
        Some(wanting) => format!("{sentence} ({wanting})"),
        None => sentence,
    }
}

fn because(reason: Reason, job: &BoltJob, summary: &RunSummary) -> String {
    let end = job.goal.end_nm().unwrap_or(Band { min: 0.0, max: 0.0 });
    let half = 0.5 * (end.max - end.min);
    let window = band(end);
    let torque = format!("{:.2} N·m", summary.final_torque_nm);
    match reason {
        Reason::TorqueInWindow => format!("the final torque lies in its window, {window}"),
        Reason::TorqueBelowWindow => {
            format!("the final torque of {torque} lies below its window, {window}")
        }
        Reason::TorqueAboveWindow => {
            format!("the final torque of {torque} lies above its window, {window}")
        }
        Reason::UncertaintyTooLarge => format!(
            "the final torque is unsure by ±{:.2} N·m, more than the half width of its window, {half:.2} N·m",
            K * summary.final_torque_u_nm
        ),
        Reason::TorqueNotObservable => {
            "the torque is not observable in the pose in which the bolt last turned".to_owned()
        }
        Reason::FindingStands => "an alarm stands against the bolt".to_owned(),
        Reason::JointsDisagree => "the joint torques contradicted each other".to_owned(),
        Reason::NoTarget => {
            "the description gives no target torque (run.target_torque_nm)".to_owned()
        }
        Reason::NoSnug => "no snug point was seen".to_owned(),
        Reason::SnugOutsideWindow => format!(
            "snug came {}, expected were {}",
            summary.snug.map_or("at an unknown angle".to_owned(), |s| {
                format!("after {:.1}°", s.angle_rad.to_degrees())
            }),
            expected(job.rundown_rad)
        ),
        Reason::ElasticAngleOutsideWindow => format!(
            "the angle from snug to the target is not the expected {}",
            expected(job.elastic_rad)
        ),
        Reason::SamplesMissing => "too many samples are missing or unusable".to_owned(),
        Reason::UndoingNotJudged => {
            "undoing is recorded, but nothing is stated to hold it against".to_owned()
        }
        Reason::FurtherAngleInWindow
        | Reason::FurtherAngleBelowWindow
        | Reason::FurtherAngleAboveWindow => {
            let place = match reason {
                Reason::FurtherAngleInWindow => "lies in",
                Reason::FurtherAngleBelowWindow => "lies below",
                _ => "lies above",
            };
            let window = match job.goal {
                Goal::TorqueThenAngle { angle_rad, .. } => Some(angle_rad),
                _ => None,
            };
            format!(
                "the angle beyond the start torque {place} its window, {}",
                expected(window)
            )
        }
        Reason::StartTorqueNotReached => {
            "the torque from which the further angle counts was not reached".to_owned()
        }
        Reason::AngleUncertaintyTooLarge => {
            "the angle is unsure by more than the half width of its window".to_owned()
        }
        Reason::YieldInWindow => format!("yield began inside its window, {window}"),
        Reason::YieldBelowWindow => format!("yield began below its window, {window}"),
        Reason::YieldAboveWindow => format!("yield began above its window, {window}"),
        Reason::NoYield => "yield was not reached".to_owned(),
        Reason::HeldStill => "the bolt carried the check torque without moving".to_owned(),
        Reason::MovedBeforeTorque => format!(
            "the bolt moved while it was checked; it had turned {:.1}° at the end",
            summary.final_angle_rad.to_degrees()
        ),
        Reason::CheckTorqueNotReached => "the check torque was not reached".to_owned(),
        Reason::BreakawayInWindow => {
            let by_torque_alone = matches!(
                job.goal,
                Goal::Loosen {
                    run_out_rad: None,
                    ..
                }
            );
            let caution = if by_torque_alone {
                "; its way out was not judged, and by torque alone one that broke off or turns with its nut may look alike"
            } else {
                ""
            };
            format!("it broke loose inside its window{caution}")
        }
        Reason::BreakawayBelowWindow => "it broke loose below its window".to_owned(),
        Reason::BreakawayAboveWindow => "it broke loose above its window".to_owned(),
        Reason::NoBreakaway => "it was not seen to break loose".to_owned(),
        Reason::ThreadFree => "the last thread was free where it was expected".to_owned(),
        Reason::FreeTooSoon => "the thread was free before it was due".to_owned(),
        Reason::FreeTooLate => "the thread was free later than it was due".to_owned(),
        Reason::ThreadNotFree => {
            "the thread was not seen to be free (only an arm that follows the bolt can tell)"
                .to_owned()
        }
        Reason::NeverTurned => "the bolt did not turn".to_owned(),
        Reason::FindingAgainst => {
            "a finding that did not stop the run speaks against the bolt".to_owned()
        }
        Reason::SensingInDoubt => "a joint torque was drifting, frozen or clipped".to_owned(),
        Reason::YieldInDoubt => {
            "at the end the torque rose as slowly as that of a yielding bolt, too briefly for a finding: \
             check preload or stretch, or replace the bolt"
                .to_owned()
        }
        Reason::TorqueLostWhileHeld => format!(
            "it reached {torque}, and while it was held lost torque to below its window, {window}: the joint \
             gives; as the procedure says, wait and do it up again, and check it later"
        ),
        Reason::RunningTorqueInDoubt => {
            "the torque just before snug is not surely above the least that the locking feature must take \
             (run.prevailing_torque_nm or locking): a feature that is missing or worn cannot be told, check it by hand"
                .to_owned()
        }
        Reason::RunOutInDoubt => {
            "after it broke loose it dragged on at more than its thread may take, and was not seen to come \
             out: it may be turning with its nut or insert"
                .to_owned()
        }
        Reason::SnugInWindow => "snug came inside its window".to_owned(),
        Reason::ElasticAngleInWindow => {
            "the angle from snug to the target lies in its window".to_owned()
        }
        other => format!("for a reason that this version has no words for ({other:?})"),
    }
}

fn band(b: Band) -> String {
    format!("{:.2} to {:.2} N·m", b.min, b.max)
}

/// A goal in plain words, with its figures.
pub fn goal_words(goal: Goal) -> String {
    match goal {
        Goal::Watch(Direction::Tighten) => "do up, watched only".to_owned(),
        Goal::Watch(Direction::Undo) => "undo, watched only".to_owned(),
        Goal::Torque {
            target_nm,
            tolerance,
        } => format!("do up to {target_nm:.2} N·m ± {:.0} %", 100.0 * tolerance),
        Goal::TorqueThenAngle {
            start_nm,
            angle_rad,
            end_nm,
        } => format!(
            "do up to {start_nm:.2} N·m, then through {}, ending at {}",
            expected(Some(angle_rad)),
            band(end_nm)
        ),
        Goal::Yield {
            slope_part,
            onset_nm,
        } => format!(
            "do up until the slope falls to {:.0} %, between {}",
            100.0 * slope_part,
            band(onset_nm)
        ),
        Goal::Recheck {
            torque_nm,
            most_rad,
        } => format!(
            "check at {torque_nm:.2} N·m, moving at most {:.1}°",
            most_rad.to_degrees()
        ),
        Goal::Loosen {
            breakaway_nm,
            run_out_rad,
            ..
        } => {
            let loose = breakaway_nm.map_or(String::new(), |b| {
                format!(", breaking loose at {}", band(b))
            });
            let out = run_out_rad.map_or(String::new(), |e| {
                let turn = std::f32::consts::TAU;
                format!(
                    ", free after {:.1} ± {:.1} turns",
                    e.value / turn,
                    e.tolerance / turn
                )
            });
            format!("undo{loose}{out}")
        }
    }
}

fn expected(window: Option<Expected>) -> String {
    window.map_or("(nothing stated)".to_owned(), |e| {
        format!(
            "{:.1}° ± {:.1}°",
            e.value.to_degrees(),
            e.tolerance.to_degrees()
        )
    })
}
