//! Findings in plain words: what was seen, with figures and units. Uncertainties are expanded, k = 2.

use bolting_monitor::detect::{Finding, FindingKind, Place, Quantity};

use super::K;

/// A finding in few words.
pub fn finding_label(kind: FindingKind) -> &'static str {
    match kind {
        FindingKind::CrossThread => "cross-threaded",
        FindingKind::Strip => "stripping",
        FindingKind::TorqueNotObservable => "torque not observable",
        FindingKind::JointsDisagree => "joint torques disagree",
        FindingKind::NotStarted => "thread not caught",
        FindingKind::EarlySnug => "snug too early",
        FindingKind::LateSnug => "snug too late",
        FindingKind::FalseSnug => "false snug cleared",
        FindingKind::Galling => "galling",
        FindingKind::PrevailingHigh => "running torque high",
        FindingKind::PrevailingLow => "running torque low",
        FindingKind::AlreadyTight => "already tight",
        FindingKind::YieldOnset => "yield begins",
        FindingKind::EarlyYield => "yields too early",
        FindingKind::Fracture => "broken",
        FindingKind::SocketSlip => "socket slipping",
        FindingKind::StickSlip => "stick–slip",
        FindingKind::UnderTorque => "torque too low",
        FindingKind::OverTorque => "torque too high",
        FindingKind::OverAngle => "turned too far",
        FindingKind::Relaxation => "relaxing",
        FindingKind::ToolLifting => "tool lifting",
        FindingKind::Breakaway => "broke loose",
        FindingKind::TurningTogether => "turning together",
        FindingKind::Seized => "seized",
        FindingKind::ThreadFree => "thread free",
        FindingKind::SensorSaturated => "sensor saturated",
        FindingKind::SensorFrozen => "sensor frozen",
        FindingKind::SensorDrift => "sensor drift",
        FindingKind::SamplesStale => "samples stale",
        FindingKind::SideLoad => "side load",
        FindingKind::DriveStripped => "drive stripped",
        other => other.name(),
    }
}

/// Name of a quantity in snake case with its unit, as the JSON form writes it.
pub fn quantity_name(quantity: Quantity) -> &'static str {
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

/// Torque of a finding, N·m; `None` where it must not be shown as a value: it was not observable.
pub fn shown_torque_nm(finding: &Finding) -> Option<f32> {
    observable_nm(Some(finding.kind), finding.torque_nm)
}

/// Torque of an alarm of this kind, where the kind is known, as [`shown_torque_nm`].
pub fn observable_nm(kind: Option<FindingKind>, torque_nm: f32) -> Option<f32> {
    // Logs of earlier versions hold a number here.
    let told = kind != Some(FindingKind::TorqueNotObservable) && !torque_nm.is_nan();
    told.then_some(torque_nm)
}

/// Torque of an alarm in words.
pub fn torque_words(kind: Option<FindingKind>, torque_nm: f32) -> String {
    match observable_nm(kind, torque_nm) {
        Some(torque_nm) => format!("{} N·m", figure(torque_nm, 2)),
        None => "not observable".to_owned(),
    }
}

/// What was seen, what decided, and what bears it out.
pub fn seen(finding: &Finding) -> String {
    seen_with(finding, shown_torque_nm(finding))
}

/// As [`seen`], where the caller knows whether the torque may be shown; `None` is not observable.
pub fn seen_with(finding: &Finding, torque_nm: Option<f32>) -> String {
    let torque = match torque_nm {
        Some(torque_nm) => format!(
            "{} ± {} N·m",
            figure(torque_nm, 2),
            figure(K * finding.torque_u_nm, 2)
        ),
        None => "not observable".to_owned(),
    };
    let curve = if finding.stops() {
        curve(finding)
    } else {
        String::new()
    };
    format!(
        "{}: {}{}; torque {torque}{curve}",
        phenomenon(finding.kind),
        decided(finding),
        place(finding)
    )
}

/// Where on the arm it points.
fn place(finding: &Finding) -> String {
    match finding.place {
        Some(Place::Joint(joint)) if finding.kind == FindingKind::JointsDisagree => {
            format!("; joint {joint}, counted from the base, is the outermost that bears it")
        }
        Some(Place::Joint(joint)) => format!("; joint {joint}, counted from the base"),
        Some(Place::Relief(direction)) => {
            let [x, y, z] = direction.map(|along| figure(along, 2));
            format!("; moving the tip by ({x}, {y}, {z}) in its own frame takes it off")
        }
        _ => String::new(),
    }
}

/// A figure; what is none, absurd samples may give it, becomes a dash.
fn figure(x: f32, digits: usize) -> String {
    if x.is_finite() {
        format!("{x:.digits$}")
    } else {
        "—".to_owned()
    }
}

fn phenomenon(kind: FindingKind) -> &'static str {
    match kind {
        FindingKind::CrossThread => "the torque rose where the thread should still run freely",
        FindingKind::Strip => "the torque fell while the bolt turned on",
        FindingKind::TorqueNotObservable => "in this pose the joints cannot tell the bolt torque",
        FindingKind::JointsDisagree => "no force at the socket explains the joint torques",
        FindingKind::NotStarted => "the bolt turned without catching",
        FindingKind::EarlySnug => "the torque rose steadily before snug was due",
        FindingKind::LateSnug => "snug is overdue",
        FindingKind::FalseSnug => "a rise that looked like snug has cleared",
        FindingKind::Galling => "the running torque grew and grew rough",
        FindingKind::PrevailingHigh => "running takes more torque than the stated band allows",
        FindingKind::PrevailingLow => "running takes less torque than the stated band asks for",
        FindingKind::AlreadyTight => "the torque rose from the first degrees",
        FindingKind::YieldOnset => "the slope fell where the bolt may yield",
        FindingKind::EarlyYield => "the slope fell below the torque that was wanted",
        FindingKind::Fracture => "the torque went within a few degrees and stayed away",
        FindingKind::SocketSlip => {
            "the torque broke off while the tool turned on, as over the seats of a head"
        }
        FindingKind::StickSlip => {
            "the bolt turns in jerks, so its torque is read from the lower envelope"
        }
        FindingKind::UnderTorque => "the run ended below its torque window",
        FindingKind::OverTorque => "the torque went above its window",
        FindingKind::OverAngle => "the bolt turned further beyond snug than its window allows",
        FindingKind::Relaxation => "the held bolt lost torque",
        FindingKind::ToolLifting => "the tool is coming off the head",
        FindingKind::Breakaway => "the bolt broke loose",
        FindingKind::TurningTogether => "the bolt drags on without coming loose",
        FindingKind::Seized => "the torque reached its limit and the bolt did not move",
        FindingKind::ThreadFree => "the last thread has most likely left, the bolt may drop",
        FindingKind::SensorSaturated => "a joint torque stands at the end of its range",
        FindingKind::SensorFrozen => "a joint torque has not changed while the arm moved",
        FindingKind::SensorDrift => {
            "the joint torques no longer agree with the tare, though nothing is touched"
        }
        FindingKind::SamplesStale => "no samples came",
        FindingKind::SideLoad => "the tool levers across the bolt axis",
        FindingKind::DriveStripped => "the socket turned on a head that does not grip",
        other => other.name(),
    }
}

/// The quantity that decided, against its limit.
fn decided(finding: &Finding) -> String {
    let against = |factor: f32, digits: usize| {
        [finding.value, finding.limit].map(|x| figure(factor * x, digits))
    };
    match finding.quantity {
        Quantity::TorqueNm => {
            let [value, limit] = against(1.0, 2);
            format!("{value} N·m against {limit} N·m")
        }
        Quantity::DropNm => {
            let [value, limit] = against(1.0, 2);
            format!("it fell by {value} N·m, limit {limit} N·m")
        }
        Quantity::UncertaintyNm => {
            let [value, limit] = against(K, 2);
            format!("known no better than ±{value} N·m, limit ±{limit} N·m")
        }
        Quantity::ResidualRatio => {
            let [value, limit] = against(1.0, 1);
            format!("{value} times the expected, limit {limit}")
        }
        Quantity::AngleRad => {
            let [value, limit] = against(1f32.to_degrees(), 1);
            format!("{value}° against {limit}°")
        }
        Quantity::TorqueRatio => {
            let [value, _] = against(1.0, 2);
            format!("at {value} of the recorded torque")
        }
        Quantity::SlopeRatio => {
            let [value, limit] = against(1.0, 2);
            format!("slope {value} of the expected, limit {limit}")
        }
        Quantity::AmplitudeNm => {
            let [value, limit] = against(1.0, 2);
            format!("it swings by {value} N·m, limit {limit} N·m")
        }
        Quantity::MomentNm => {
            let [value, limit] = against(1.0, 2);
            format!("moment {value} N·m, limit {limit} N·m")
        }
        Quantity::AdvanceRatio => {
            let [value, limit] = against(1.0, 2);
            format!("advance {value} of the pitch per turn, limit {limit}")
        }
        Quantity::DistanceM => {
            let [value, limit] = against(1e3, 1);
            format!("{value} mm, limit {limit} mm")
        }
        Quantity::DurationS => {
            let [value, limit] = against(1.0, 2);
            format!("{value} s, limit {limit} s")
        }
        _ => {
            let [value, limit] = against(1.0, 2);
            format!("{value} against {limit}")
        }
    }
}

/// Slope and advance, as far as they are told.
fn curve(finding: &Finding) -> String {
    let slope = format!(
        "; slope {} ± {} N·m/rad",
        figure(finding.slope_nm_per_rad, 2),
        figure(K * finding.slope_u_nm_per_rad, 2)
    );
    let advance = finding.advance_ratio.map_or(String::new(), |(ratio, u)| {
        format!(
            "; axial advance {} ± {} of the pitch per turn",
            figure(ratio, 2),
            figure(K * u, 2)
        )
    });
    slope + &advance
}
