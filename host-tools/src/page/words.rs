//! The words of the page, and how its figures are written.

use bolting_monitor::detect::{Finding, FindingKind, Quantity};
use bolting_monitor::procedure::{Reason, Verdict};

use super::run::Estimate;

/// Coverage factor of every ± on the page (about 95 %, JCGM 100, 6.2).
const COVERAGE: f64 = 2.0;
const NOT_OBSERVABLE: &str = "not observable";
/// What stands for a figure that is not one.
const NO_FIGURE: &str = "—";

pub fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            // No place in XML, and none in a name.
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

/// Word, and the class that gives it its colour and its shape.
pub fn verdict(verdict: Verdict) -> (&'static str, &'static str) {
    match verdict {
        Verdict::Accepted => ("accepted", "ok"),
        Verdict::Rejected => ("rejected", "bad"),
        Verdict::NotAssessable => ("not assessable", "open"),
    }
}

pub fn reason(reason: Reason) -> &'static str {
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
        Reason::MovedBeforeTorque => "moved before it carried the check torque",
        Reason::CheckTorqueNotReached => "check torque not reached",
        Reason::BreakawayInWindow => "broke loose inside its window",
        Reason::BreakawayBelowWindow => "broke loose below its window",
        Reason::BreakawayAboveWindow => "broke loose above its window",
        Reason::NoBreakaway => "not seen to break loose",
        Reason::ThreadFree => "last thread free where it was expected",
        Reason::FreeTooSoon => "thread free before it was due",
        Reason::FreeTooLate => "thread free later than it was due",
        Reason::ThreadNotFree => "thread not seen to be free",
        _ => "a reason that this version has no words for",
    }
}

pub fn finding(kind: FindingKind) -> &'static str {
    match kind {
        FindingKind::CrossThread => "cross-threaded",
        FindingKind::Strip => "stripping",
        FindingKind::TorqueNotObservable => "torque not observable",
        FindingKind::JointsDisagree => "joint torques disagree",
        FindingKind::DriveStripped => "drive stripped",
        FindingKind::TurningTogether => "bolt turns with its nut",
        FindingKind::Fracture => "broken",
        FindingKind::Galling => "galling",
        FindingKind::Seized => "seized",
        FindingKind::Breakaway => "broken loose",
        FindingKind::ThreadFree => "thread free",
        other => other.name(),
    }
}

/// The sentence behind a finding: where, what was held against which limit, and what bears it out.
pub fn evidence(f: &Finding, torque_nm: Option<Estimate>) -> String {
    let [value, limit] = [f.value, f.limit].map(f64::from);
    let decided = match f.quantity {
        Quantity::TorqueNm if f.kind == FindingKind::Breakaway => {
            format!("the bolt broke loose at {} N·m", number(value, 2))
        }
        Quantity::TorqueRatio if f.kind == FindingKind::Breakaway => format!(
            "the bolt broke loose at {} of its recorded tightening torque",
            number(value, 2)
        ),
        Quantity::TorqueNm => format!(
            "torque {} N·m above the ceiling of {} N·m",
            torque(torque_nm),
            number(limit, 2)
        ),
        Quantity::DropNm => format!(
            "torque fell {} N·m below the highest carried, limit {} N·m, to {} N·m",
            number(value, 2),
            number(limit, 2),
            torque(torque_nm)
        ),
        Quantity::UncertaintyNm => format!(
            "the joints tell the bolt torque no better than ±{} N·m (k\u{a0}=\u{a0}2), limit ±{} N·m",
            number(COVERAGE * value, 1),
            number(COVERAGE * limit, 1)
        ),
        Quantity::ResidualRatio => format!(
            "the joint torques contradict each other {} times as much as expected, limit {}",
            number(value, 1),
            number(limit, 1)
        ),
        _ => format!(
            "{} against the limit {}",
            number(value, 2),
            number(limit, 2)
        ),
    };
    let mut sentence = format!(
        "At {}°: {decided}",
        number(f64::from(f.angle_rad).to_degrees(), 1)
    );
    if f.stops() {
        let per_degree = |x: f32| f64::from(x).to_radians();
        let slope = Estimate {
            value: per_degree(f.slope_nm_per_rad),
            u: per_degree(f.slope_u_nm_per_rad),
        };
        sentence += &format!("; slope {} N·m per degree", with_u(slope, 3));
        if let Some((ratio, u)) = f.advance_ratio {
            let ratio = Estimate {
                value: ratio.into(),
                u: u.into(),
            };
            sentence += &format!("; advance per turn {} of the pitch", with_u(ratio, 2));
        }
    }
    sentence + "."
}

pub fn torque(estimate: Option<Estimate>) -> String {
    estimate.map_or_else(|| NOT_OBSERVABLE.to_owned(), |e| with_u(e, 2))
}

/// The figure with its expanded uncertainty.
pub fn with_u(estimate: Estimate, digits: usize) -> String {
    format!(
        "{} ± {}",
        number(estimate.value, digits),
        number(COVERAGE * estimate.u, digits)
    )
}

pub fn number(value: f64, digits: usize) -> String {
    if !value.is_finite() {
        return NO_FIGURE.to_owned();
    }
    let text = format!("{value:.digits$}");
    // "-0.00" is a rounding, no figure.
    let zero = !text.contains(|c: char| ('1'..='9').contains(&c));
    if zero {
        text.trim_start_matches('-').to_owned()
    } else {
        text.replace('-', "−")
    }
}
