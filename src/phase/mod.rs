//! Where the work stands, in the trade's words: a typed state with legal transitions only.
//!
//! Done up, a bolt goes from approach through thread start (the first turn), rundown, snugging
//! (head and parts come together) and clamping (the joint is elastic) perhaps to yielding. Undone,
//! it breaks away, loosens until only the prevailing torque is left, runs out and is free.
//!
//! ```text
//! stateDiagram-v2
//!     Approach --> ThreadStart: ThreadTurns
//!     ThreadStart --> Rundown: FirstTurnDone
//!     ThreadStart --> Snugging: SnugSeen
//!     Rundown --> Snugging: SnugSeen
//!     Snugging --> Rundown: SnugWithdrawn
//!     Clamping --> Rundown: SnugWithdrawn
//!     Snugging --> Clamping: RiseSustained
//!     Snugging --> Yielding: SlopeGone
//!     Clamping --> Yielding: SlopeGone
//!     ThreadStart --> Failed: GaveWay
//!     Rundown --> Failed: GaveWay
//!     Snugging --> Failed: GaveWay
//!     Clamping --> Failed: GaveWay
//!     Yielding --> Failed: GaveWay
//!     Approach --> Breakaway: BoltResists
//!     Breakaway --> Loosening: PeakPassed
//!     Breakaway --> RunOut: AtPrevailing
//!     Loosening --> RunOut: AtPrevailing
//!     Breakaway --> Free: ThreadLeft
//!     Loosening --> Free: ThreadLeft
//!     RunOut --> Free: ThreadLeft
//!     Breakaway --> Failed: GaveWay
//!     Loosening --> Failed: GaveWay
//!     RunOut --> Failed: GaveWay
//! ```
//!
//! The diagram is Mermaid; a test holds it to [`TRANSITIONS`], which alone decides. An event that a
//! phase has no transition for leaves it as it is: a phase is never wrong for having heard too much.

mod tracker;

pub use tracker::{PhaseTracker, PhaseView};

use serde::{Deserialize, Serialize};

/// Phase of the work on one bolt.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum Phase {
    /// The tool has not turned or loaded the bolt yet.
    #[default]
    Approach,
    /// Done up: the first turn, in which a thread catches or crosses.
    ThreadStart,
    /// Done up: the bolt runs down to its seat.
    Rundown,
    /// Done up: the parts come together.
    Snugging,
    /// Done up: torque rises with the elastic joint.
    Clamping,
    /// Done up: the slope has gone, bolt or thread yields.
    Yielding,
    /// Undone: the bolt resists and has not broken loose.
    Breakaway,
    /// Undone: broken loose, the clamp force goes.
    Loosening,
    /// Undone: only the prevailing torque is left.
    RunOut,
    /// Undone: the last thread has left, the bolt is loose in the socket.
    Free,
    /// Thread or bolt gave way.
    Failed,
}

/// What moves the work on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum PhaseEvent {
    /// Done up, the bolt turns for the first time.
    ThreadTurns,
    /// One whole turn of the bolt is done.
    FirstTurnDone,
    /// The snug event was seen, ...
    SnugSeen,
    /// ... or withdrawn.
    SnugWithdrawn,
    /// The torque has risen to twice its height at the snug event.
    RiseSustained,
    /// A finding says that the elastic slope has gone.
    SlopeGone,
    /// A finding says that thread or bolt gave way.
    GaveWay,
    /// Undone, the bolt resists or turns for the first time.
    BoltResists,
    /// The breakaway torque is behind the bolt.
    PeakPassed,
    /// The torque is down to what a prevailing torque may be.
    AtPrevailing,
    /// A finding says that the last thread has left.
    ThreadLeft,
}

/// Every legal transition: from, by, to. Nothing else moves a phase.
pub const TRANSITIONS: &[(Phase, PhaseEvent, Phase)] = {
    use Phase::*;
    use PhaseEvent::*;
    &[
        (Approach, ThreadTurns, ThreadStart),
        (ThreadStart, FirstTurnDone, Rundown),
        (ThreadStart, SnugSeen, Snugging),
        (Rundown, SnugSeen, Snugging),
        (Snugging, SnugWithdrawn, Rundown),
        (Clamping, SnugWithdrawn, Rundown),
        (Snugging, RiseSustained, Clamping),
        (Snugging, SlopeGone, Yielding),
        (Clamping, SlopeGone, Yielding),
        (ThreadStart, GaveWay, Failed),
        (Rundown, GaveWay, Failed),
        (Snugging, GaveWay, Failed),
        (Clamping, GaveWay, Failed),
        (Yielding, GaveWay, Failed),
        (Approach, BoltResists, Breakaway),
        (Breakaway, PeakPassed, Loosening),
        (Breakaway, AtPrevailing, RunOut),
        (Loosening, AtPrevailing, RunOut),
        (Breakaway, ThreadLeft, Free),
        (Loosening, ThreadLeft, Free),
        (RunOut, ThreadLeft, Free),
        (Breakaway, GaveWay, Failed),
        (Loosening, GaveWay, Failed),
        (RunOut, GaveWay, Failed),
    ]
};

impl Phase {
    /// The phase after an event: by [`TRANSITIONS`], else the same.
    #[must_use]
    pub fn next(self, event: PhaseEvent) -> Self {
        TRANSITIONS
            .iter()
            .find(|(from, by, _)| (*from, *by) == (self, event))
            .map_or(self, |(_, _, to)| *to)
    }

    /// Name in snake case, as the host writes it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Approach => "approach",
            Self::ThreadStart => "thread_start",
            Self::Rundown => "rundown",
            Self::Snugging => "snugging",
            Self::Clamping => "clamping",
            Self::Yielding => "yielding",
            Self::Breakaway => "breakaway",
            Self::Loosening => "loosening",
            Self::RunOut => "run_out",
            Self::Free => "free",
            Self::Failed => "failed",
        }
    }
}

#[cfg(test)]
mod tests {
    extern crate std;
    use std::collections::BTreeSet;
    use std::format;
    use std::string::String;
    use std::vec::Vec;

    use proptest::prelude::*;

    use super::*;

    /// The diagram of the module's documentation, line by line: from, to, event.
    fn diagram() -> BTreeSet<(String, String, String)> {
        include_str!("mod.rs")
            .lines()
            .filter_map(|line| line.strip_prefix("//!     ")?.split_once(" --> "))
            .map(|(from, rest)| {
                let (to, event) = rest.split_once(": ").unwrap();
                (from.into(), to.into(), event.into())
            })
            .collect()
    }

    fn edge(from: Phase, event: PhaseEvent, to: Phase) -> (String, String, String) {
        (format!("{from:?}"), format!("{to:?}"), format!("{event:?}"))
    }

    fn all_events() -> Vec<PhaseEvent> {
        let set: std::collections::HashSet<_> = TRANSITIONS.iter().map(|t| t.1).collect();
        set.into_iter().collect()
    }

    #[test]
    fn the_documented_diagram_is_the_table() {
        let table = TRANSITIONS.iter().map(|t| edge(t.0, t.1, t.2)).collect();
        assert_eq!(diagram(), table);
        assert_eq!(
            diagram().len(),
            TRANSITIONS.len(),
            "a transition stands twice"
        );
    }

    #[test]
    fn one_event_leads_from_a_phase_to_one_other() {
        let keys: std::collections::HashSet<_> = TRANSITIONS.iter().map(|t| (t.0, t.1)).collect();
        assert_eq!(keys.len(), TRANSITIONS.len());
        assert!(TRANSITIONS.iter().all(|t| t.0 != t.2));
    }

    proptest! {
        #[test]
        fn any_events_move_only_along_the_documented_diagram(
            events in prop::collection::vec(prop::sample::select(all_events()), 0..40)
        ) {
            let legal = diagram();
            let mut phase = Phase::default();
            for event in events {
                let next = phase.next(event);
                if next == phase {
                    // A documented transition must also be taken.
                    let from = format!("{phase:?}");
                    let by = format!("{event:?}");
                    prop_assert!(!legal.iter().any(|(f, _, e)| *f == from && *e == by));
                } else {
                    prop_assert!(legal.contains(&edge(phase, event, next)));
                }
                phase = next;
            }
        }
    }
}
