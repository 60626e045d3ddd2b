//! What is said of a fault that went through.

use bolting_monitor::procedure::Goal;

use super::Options;
use super::conclude::window_key;
use super::draw::Rehearsed;
use super::faults::Ill;
use super::report::Part;
use super::trial::Trial;

/// What became of the bolts with a fault, where more of them went through than is allowed.
pub fn of_ill(at: &Rehearsed<'_>, ill: Ill, with: &[&Trial], options: &Options) -> Option<String> {
    let through = Part::of(with, |t| t.let_through());
    // One alone may be chance.
    if through.count < 2 || through.share_percent() <= options.allow_percent {
        return None;
    }
    let unsaid = with.iter().filter(|t| !t.told()).count();
    let unstopped = through.count - unsaid;
    let how = match (unsaid, unstopped) {
        (0, n) => format!("{n} turned on until the hand stopped by itself"),
        (n, 0) => format!("{n} accepted with nothing said"),
        (n, m) => format!(
            "{n} accepted with nothing said, {m} turned on until the hand stopped by itself"
        ),
    };
    Some(format!(
        "{}: {through} went through, {how}; {}",
        ill.words(),
        remedy(at, ill)
    ))
}

/// What is not stated or not there that would tell a fault, where that is known without counting.
fn remedy(at: &Rehearsed<'_>, ill: Ill) -> String {
    use crate::simulate::FaultKind as F;
    let job = at.job;
    let Ill::Fault(kind) = ill else {
        return "check at a torque nearer to what the bolt was given, or allow less angle"
            .to_owned();
    };
    match kind {
        F::CrossThread | F::NotStarted | F::ToolLifting if at.site.is_none() => {
            "without an arm the advance along the thread is not seen".to_owned()
        }
        F::UnderTorque | F::OverTorque => {
            format!("{} is wide", window_key(&job.goal))
        }
        _ if matches!(
            job.goal,
            Goal::Loosen {
                breakaway_nm: None,
                ..
            }
        ) =>
        {
            "breakaway_torque_nm is not stated".to_owned()
        }
        _ => "see to it by other means, unless a key above tells it".to_owned(),
    }
}
