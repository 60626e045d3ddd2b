//! What stands behind a finding, and what is usually done about it.
//!
//! Next steps are common practice, no source; they are put behind the joint's own procedure wherever
//! they are shown.

use bolting_monitor::detect::{Cause, Finding, FindingKind};

use super::finding_label;

/// What every advice is put behind.
pub const DEFERENCE: &str = "common practice; the joint's procedure decides";

/// Most likely cause, what else the evidence fits, and the usual next step. `earlier` is what was found
/// before in the run: what a ruined bolt does next is no cause of its own.
pub fn advice(finding: &Finding, earlier: &[Finding]) -> String {
    if let Some(ruin) = ruin_before(finding, earlier) {
        return format!(
            "most likely what follows from \u{201c}{}\u{201d} at {:.1}°; usual next step: {} ({DEFERENCE})",
            finding_label(ruin.kind),
            ruin.angle_rad.to_degrees(),
            next_step(ruin)
        );
    }
    let causes = match (finding.likely, finding.runner_up) {
        (Some(likely), Some(other)) => format!(
            "most likely {}, could also be {}; ",
            cause(likely),
            cause(other)
        ),
        (Some(likely), None) => format!("most likely {}; ", cause(likely)),
        (None, Some(other)) => format!("could also be {}; ", cause(other)),
        (None, None) => String::new(),
    };
    format!(
        "{causes}usual next step: {} ({DEFERENCE})",
        next_step(finding)
    )
}

/// What had given way before a finding whose causes are those of a bolt that holds.
fn ruin_before<'a>(finding: &Finding, earlier: &'a [Finding]) -> Option<&'a Finding> {
    let of_a_sound_bolt = matches!(
        finding.kind,
        FindingKind::OverAngle
            | FindingKind::UnderTorque
            | FindingKind::YieldOnset
            | FindingKind::EarlyYield
            | FindingKind::FalseSnug
            | FindingKind::LateSnug
            | FindingKind::Relaxation
    );
    let ruins = |kind| {
        matches!(
            kind,
            FindingKind::CrossThread
                | FindingKind::Strip
                | FindingKind::Fracture
                | FindingKind::DriveStripped
        )
    };
    earlier
        .iter()
        .find(|told| of_a_sound_bolt && ruins(told.kind))
}

/// Usual next step. The torque of a head that has come off is that of a bolt that came loose.
pub fn next_step(finding: &Finding) -> &'static str {
    match (finding.kind, finding.runner_up) {
        (FindingKind::Breakaway, Some(Cause::BrokenBolt)) => {
            "go on, and see that the bolt comes out as it turns: a head that does not has broken off; \
             compare with the recorded tightening torque"
        }
        (FindingKind::ThreadFree, Some(Cause::BrokenBolt)) => {
            "hold the bolt in the socket before moving away, and look whether all of it is there"
        }
        (kind, _) => usual_step(kind),
    }
}

/// A cause in plain words, with its article.
pub fn cause(cause: Cause) -> &'static str {
    match cause {
        Cause::CrossedThread => "a thread started crossed",
        Cause::StrippingThread => "a thread shearing",
        Cause::YieldingBolt => "a bolt yielding",
        Cause::BrokenBolt => "a broken bolt",
        Cause::SlippingSocket => "a socket slipping on the head",
        Cause::Debris => "debris or a burr between the parts",
        Cause::Bottoming => "a bolt bottoming in its hole, or too long for it",
        Cause::MissingPart => "a missing washer or part, or a bolt too long",
        Cause::GallingThread => "a thread galling or seizing",
        Cause::LockingFeature => "a locking feature that is wrong, worn or missing",
        Cause::AlreadyTight => "a bolt that was tight already",
        Cause::TurningTogether => "a bolt turning with its nut or insert",
        Cause::WrongPart => "a wrong part or thread",
        Cause::SoftJoint => "a joint softer than described",
        Cause::SensorFault => "a faulty sensor",
        Cause::ContactElsewhere => "contact elsewhere on the arm",
        Cause::ToolLifting => "a tool coming off the head",
        Cause::DriftingSensor => "a sensor that drifted since the tare",
        Cause::WornDrive => "a head whose drive is worn out",
        Cause::NotCaught => "a thread that has not caught",
        _ => "a cause that this version has no words for",
    }
}

/// Usual next step on a kind of finding.
pub fn usual_step(kind: FindingKind) -> &'static str {
    match kind {
        FindingKind::CrossThread => {
            "stop, turn back until the thread lets go, look at the thread start and begin anew at low torque"
        }
        FindingKind::Strip => {
            "stop and do not retorque: the thread no longer holds, have bolt and thread judged"
        }
        FindingKind::TorqueNotObservable => {
            "take another pose, or turn with the powered spindle, before relying on a torque"
        }
        FindingKind::JointsDisagree => {
            "look for contact elsewhere on the arm; if there is none, check the sensors in free air"
        }
        FindingKind::NotStarted => {
            "bring the bolt square to the hole, turn back until it drops, and start again"
        }
        FindingKind::EarlySnug => {
            "stop, back off, clear the face and the hole, and check bolt length and parts"
        }
        FindingKind::LateSnug => {
            "check that all parts are there and that the bolt is the right one before going on"
        }
        FindingKind::FalseSnug => "watch the next rise; check the joint face for what gave way",
        FindingKind::Galling => {
            "stop, let it cool, back off slowly if it still moves, and have the lubrication judged"
        }
        FindingKind::PrevailingHigh => {
            "check thread, locking feature and lubrication before going to the target"
        }
        FindingKind::PrevailingLow => "check that the locking feature is there and not worn out",
        FindingKind::AlreadyTight => {
            "do not turn on: check the record of this bolt, loosen and begin anew if it is unknown"
        }
        FindingKind::YieldOnset => {
            "end the run if yield was not the aim; judge bolt and joint by the procedure"
        }
        FindingKind::EarlyYield => {
            "stop and do not retorque: bolt, thread or joint gives way below the torque that was wanted"
        }
        FindingKind::Fracture => {
            "stop, keep the tool square so that nothing drops, and plan how to take out the rest"
        }
        FindingKind::SocketSlip => {
            "stop, seat the socket anew and square, and check size and head before more torque"
        }
        FindingKind::StickSlip => "turn more slowly and evenly; lubrication may be missing",
        FindingKind::UnderTorque => "finish the tightening, or have the bolt judged",
        FindingKind::OverTorque => "stop; have the bolt judged before it is used",
        FindingKind::OverAngle => "stop; the joint is softer than described or something gives way",
        FindingKind::Relaxation => {
            "check again after a while; gaskets and coatings settle, as the procedure allows"
        }
        FindingKind::ToolLifting => {
            "press on along the bolt axis and seat the tool before going on"
        }
        FindingKind::Breakaway => "go on; compare with the recorded tightening torque",
        FindingKind::TurningTogether => "stop and hold the nut or insert, or plan another way out",
        FindingKind::Seized => {
            "stop at the limit; penetrant, heat or a cutting tool, as the procedure says"
        }
        FindingKind::ThreadFree => "hold the bolt in the socket before moving away",
        FindingKind::SensorSaturated => {
            "keep the load below the joint's range, or take another pose"
        }
        FindingKind::SensorFrozen => "stop relying on this joint: restart or replace its sensor",
        FindingKind::SensorDrift => "tare anew in free air, free of contact",
        FindingKind::SamplesStale => {
            "check controller load and link; torque and angle of the gap are unknown"
        }
        FindingKind::SideLoad => "move the tip as told until tool and bolt stand in line",
        FindingKind::DriveStripped => {
            "stop, clean and seat the socket anew; a worn head needs another way out"
        }
        _ => "look at the curve before going on",
    }
}
