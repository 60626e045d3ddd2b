//! Judging a bolt that was undone.

use crate::fastener::Band;

use super::{Expected, Grounds, Reason, Seen};

const BREAKAWAY: [Reason; 4] = [
    Reason::BreakawayBelowWindow,
    Reason::BreakawayInWindow,
    Reason::BreakawayAboveWindow,
    Reason::UncertaintyTooLarge,
];
const RUN_OUT: [Reason; 4] = [
    Reason::FreeTooSoon,
    Reason::ThreadFree,
    Reason::FreeTooLate,
    Reason::AngleUncertaintyTooLarge,
];

pub(super) fn undone(
    seen: &Seen,
    breakaway_nm: Option<Band>,
    run_out_rad: Option<Expected>,
    grounds: &mut Grounds,
) {
    if breakaway_nm.is_none() && run_out_rad.is_none() {
        grounds.unknown(Reason::UndoingNotJudged);
    }
    if seen.run_out_in_doubt {
        grounds.unknown(Reason::RunOutInDoubt);
    }
    if let Some(window) = breakaway_nm {
        match seen.breakaway_nm {
            None if !seen.observable => grounds.unknown(Reason::TorqueNotObservable),
            None => grounds.against(Reason::NoBreakaway),
            Some(torque) => grounds.hold(torque, window, BREAKAWAY),
        }
    }
    if let Some(expected) = run_out_rad {
        match seen.free_rad {
            // Only an arm that sees the bolt come out can tell; the stated turns are no witness.
            None => grounds.unknown(Reason::ThreadNotFree),
            Some(angle) => grounds.hold(angle, expected.band(), RUN_OUT),
        }
    }
}
