//! Reasons and findings in plain words, with figures and units. Uncertainties are expanded, k = 2.

use bolting_monitor::detect::{Finding, FindingKind, Quantity};
use bolting_monitor::procedure::{BoltJob, Expected, Reason, RunSummary};

use super::outcome::Outcome;

/// Coverage factor of every ± shown (about 95 %, JCGM 100, 6.3.3).
const K: f32 = 2.0;

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
        _ => "other",
    }
}

/// Name of a quantity in snake case with its unit, as the JSON form writes it.
pub(super) fn quantity_name(quantity: Quantity) -> &'static str {
    match quantity {
        Quantity::TorqueNm => "torque_nm",
        Quantity::DropNm => "drop_nm",
        Quantity::UncertaintyNm => "uncertainty_nm",
        Quantity::ResidualRatio => "residual_ratio",
        Quantity::AngleRad => "angle_rad",
        Quantity::TorqueRatio => "torque_ratio",
        Quantity::SlopeRatio => "slope_ratio",
        Quantity::AmplitudeNm => "amplitude_nm",
        Quantity::MomentNm => "moment_nm",
        Quantity::AdvanceRatio => "advance_ratio",
        Quantity::DistanceM => "distance_m",
        Quantity::DurationS => "duration_s",
        _ => "other",
    }
}

/// Torque of a finding, N·m; `None` where it must not be shown as a value.
pub(super) fn shown_torque_nm(finding: &Finding) -> Option<f32> {
    (finding.kind != FindingKind::TorqueNotObservable).then_some(finding.torque_nm)
}

/// A reason in plain words.
pub fn reason_sentence(reason: Reason, job: &BoltJob, summary: &RunSummary) -> String {
    let target = job.target_torque_nm.unwrap_or(0.0);
    let half = target * job.torque_tolerance;
    let window = format!("{:.2} to {:.2} N·m", target - half, target + half);
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
        Reason::UndoingNotJudged => "undoing is recorded, not judged".to_owned(),
        other => format!("for a reason that this version has no words for ({other:?})"),
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

/// What was seen at a finding, in a plain sentence.
pub fn alarm_sentence(outcome: &Outcome, finding: &Finding) -> String {
    let torque = format!(
        "{:.2} ± {:.2} N·m",
        finding.torque_nm,
        K * finding.torque_u_nm
    );
    let (value, limit) = (finding.value, finding.limit);
    let what = match finding.kind {
        FindingKind::CrossThread => format!(
            "cross-thread: the torque had risen to {value:.2} N·m, above the {limit:.2} N·m that running down may take; torque {torque}{}",
            curve(finding)
        ),
        FindingKind::Strip => format!(
            "strip: the torque had fallen by {value:.2} N·m (limit {limit:.2} N·m) while the bolt turned on; torque {torque}{}",
            curve(finding)
        ),
        FindingKind::TorqueNotObservable => format!(
            "torque not observable: in this pose its standard uncertainty is {value:.2} N·m, above {limit:.2} N·m"
        ),
        FindingKind::JointsDisagree => format!(
            "joints disagree: what no wrench at the socket explains is {value:.1} times the expected (limit {limit:.1}): contact elsewhere on the arm, or a faulty sensor"
        ),
        FindingKind::DriveStripped => format!(
            "drive stripped: the torque let go and climbed again by {value:.2} N·m (limit {limit:.2} N·m) without the bolt breaking loose; worn head, or a socket that is not seated; torque {torque}"
        ),
        FindingKind::TurningTogether => format!(
            "turning together: the torque has stayed level for {:.0}° (limit {:.0}°) and the bolt does not come loose; it most likely turns with its nut or insert; torque {torque}{}",
            value.to_degrees(),
            limit.to_degrees(),
            curve(finding)
        ),
        FindingKind::Seized => format!(
            "seized: {value:.2} N·m have reached the recorded tightening torque of {limit:.2} N·m and the bolt does not move"
        ),
        FindingKind::Breakaway => match finding.quantity {
            Quantity::TorqueRatio => format!(
                "breakaway: the bolt broke loose at {value:.2} of its recorded tightening torque; torque now {torque}"
            ),
            _ => format!("breakaway: the bolt broke loose at {value:.2} N·m; torque now {torque}"),
        },
        FindingKind::ThreadFree => format!(
            "thread free: the last thread has most likely left, the bolt may drop; torque {torque}{}",
            curve(finding)
        ),
        other => format!("{}: {value} crossed {limit}; torque {torque}", other.name()),
    };
    let stop = if finding.stops() { ", stop" } else { "" };
    format!(
        "at {:.3} s and {:.1}°{stop}: {what}",
        outcome.time_s(finding),
        finding.angle_rad.to_degrees()
    )
}

/// Slope and advance, as far as they are told.
fn curve(finding: &Finding) -> String {
    let slope = format!(
        ", slope {:.2} ± {:.2} N·m/rad",
        finding.slope_nm_per_rad,
        K * finding.slope_u_nm_per_rad
    );
    let advance = finding.advance_ratio.map_or(String::new(), |(ratio, u)| {
        format!(
            ", axial advance {ratio:.2} ± {:.2} of the pitch per turn",
            K * u
        )
    });
    slope + &advance
}
