//! From what the monitor sees to the events that move a phase.

use super::{Phase, PhaseEvent};
use crate::detect::{FindingKind, SnugChange};
use crate::math::TAU;
use crate::procedure::Direction;

/// The torque that ends snugging, as a multiple of its rise at the snug event.
const CLAMPED_RISE: f32 = 2.0;
/// A bolt that is undone resists once its torque exceeds so many of its standard uncertainties.
const RESISTS_SIGMA: f32 = 5.0;
/// The breakaway peak is passed once the torque has fallen below this part of it ...
const PASSED_PART: f32 = 0.8;
/// ... by so many standard uncertainties.
const PASSED_SIGMA: f32 = 3.0;
/// Bolt angle before which a low torque does not mean that nothing held the bolt, rad (30°).
const BROKEN_LOOSE_RAD: f32 = 0.524;

/// What the monitor saw at one sample; torques and angles in the driving direction.
#[derive(Clone, Copy, Debug, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct PhaseView {
    /// Whether the bolt turned at this sample.
    pub turning: bool,
    /// Bolt angle since the start of the run, rad.
    pub bolt_rad: f32,
    /// Torque, with its standard uncertainty, N·m; `None` where it is not observable.
    pub torque_nm: Option<(f32, f32)>,
    /// Mean torque of an angle step judged at this sample, with its standard uncertainty, N·m.
    pub step_nm: Option<(f32, f32)>,
    /// Level of the rundown, N·m, once there is one.
    pub level_nm: Option<f32>,
    /// Highest torque that running may take, N·m.
    pub ceiling_nm: f32,
    /// What became of the snug event at this sample.
    pub snug: Option<SnugChange>,
    /// Finding made at this sample.
    pub finding: Option<FindingKind>,
}

/// Follows the phase of one run.
#[derive(Clone, Copy, Debug)]
pub struct PhaseTracker {
    direction: Direction,
    phase: Phase,
    rise_at_snug_nm: f32,
    peak_nm: f32,
}

impl PhaseTracker {
    /// A run in the given direction, in approach.
    pub const fn new(direction: Direction) -> Self {
        Self {
            direction,
            phase: Phase::Approach,
            rise_at_snug_nm: 0.0,
            peak_nm: 0.0,
        }
    }

    /// The phase as it stands.
    pub const fn phase(&self) -> Phase {
        self.phase
    }

    /// Takes in one sample. Any figures are allowed; one that is no number moves nothing.
    pub fn update(&mut self, view: &PhaseView) -> Phase {
        let motion = match self.direction {
            Direction::Tighten => self.tightening(view),
            Direction::Undo => self.undoing(view),
        };
        let said = view.finding.and_then(|kind| match kind {
            FindingKind::YieldOnset | FindingKind::EarlyYield => Some(PhaseEvent::SlopeGone),
            FindingKind::Strip | FindingKind::Fracture => Some(PhaseEvent::GaveWay),
            FindingKind::Breakaway => Some(PhaseEvent::PeakPassed),
            FindingKind::ThreadFree => Some(PhaseEvent::ThreadLeft),
            _ => None,
        });
        for event in motion.into_iter().chain([said]).flatten() {
            self.phase = self.phase.next(event);
        }
        self.phase
    }

    fn tightening(&mut self, view: &PhaseView) -> [Option<PhaseEvent>; 4] {
        let rise_nm = view
            .step_nm
            .map(|(torque, _)| torque - view.level_nm.unwrap_or(0.0));
        let snug = view.snug.map(|change| match change {
            SnugChange::Seen => {
                self.rise_at_snug_nm = rise_nm.unwrap_or(0.0);
                PhaseEvent::SnugSeen
            }
            SnugChange::Withdrawn => PhaseEvent::SnugWithdrawn,
        });
        let sustained = self.rise_at_snug_nm > 0.0
            && rise_nm.is_some_and(|rise| rise >= CLAMPED_RISE * self.rise_at_snug_nm);
        [
            view.turning.then_some(PhaseEvent::ThreadTurns),
            (view.bolt_rad >= TAU).then_some(PhaseEvent::FirstTurnDone),
            snug,
            sustained.then_some(PhaseEvent::RiseSustained),
        ]
    }

    fn undoing(&mut self, view: &PhaseView) -> [Option<PhaseEvent>; 4] {
        let resists = view
            .torque_nm
            .is_some_and(|(torque, u)| torque > RESISTS_SIGMA * u);
        let (mut passed, mut prevailing) = (false, false);
        if let Some((torque, u)) = view.step_nm {
            self.peak_nm = self.peak_nm.max(torque);
            passed =
                torque < PASSED_PART * self.peak_nm && self.peak_nm - torque > PASSED_SIGMA * u;
            let broken_loose = self.phase == Phase::Loosening || view.bolt_rad > BROKEN_LOOSE_RAD;
            prevailing = broken_loose && torque <= view.ceiling_nm + u;
        }
        [
            (resists || view.turning).then_some(PhaseEvent::BoltResists),
            passed.then_some(PhaseEvent::PeakPassed),
            prevailing.then_some(PhaseEvent::AtPrevailing),
            None,
        ]
    }
}

#[cfg(test)]
mod tests {
    extern crate std;
    use std::vec::Vec;

    use proptest::prelude::*;

    use super::*;

    fn step(bolt_deg: f32, torque_nm: f32) -> PhaseView {
        PhaseView {
            turning: true,
            bolt_rad: bolt_deg.to_radians(),
            torque_nm: Some((torque_nm, 0.2)),
            step_nm: Some((torque_nm, 0.2)),
            level_nm: Some(0.5),
            ceiling_nm: 1.0,
            ..PhaseView::default()
        }
    }

    fn phases(direction: Direction, views: &[PhaseView]) -> Vec<Phase> {
        let mut tracker = PhaseTracker::new(direction);
        views.iter().map(|v| tracker.update(v)).collect()
    }

    #[test]
    fn a_sound_bolt_is_done_up_phase_by_phase() {
        let snug = |view, change| PhaseView {
            snug: Some(change),
            ..view
        };
        let views = [
            PhaseView::default(),
            step(1.0, 0.5),
            step(361.0, 0.5),
            snug(step(700.0, 2.5), SnugChange::Seen),
            snug(step(705.0, 2.6), SnugChange::Withdrawn),
            snug(step(800.0, 2.5), SnugChange::Seen),
            step(802.0, 4.0),
            step(804.0, 4.6),
            PhaseView {
                finding: Some(FindingKind::YieldOnset),
                ..step(850.0, 30.0)
            },
            PhaseView {
                finding: Some(FindingKind::Fracture),
                ..step(880.0, 1.0)
            },
        ];
        use Phase::*;
        assert_eq!(
            phases(Direction::Tighten, &views),
            [
                Approach,
                ThreadStart,
                Rundown,
                Snugging,
                Rundown,
                Snugging,
                Snugging,
                Clamping,
                Yielding,
                Failed
            ]
        );
    }

    #[test]
    fn a_tight_bolt_is_undone_phase_by_phase() {
        let held = PhaseView {
            torque_nm: Some((20.0, 0.2)),
            ..PhaseView::default()
        };
        let free = PhaseView {
            finding: Some(FindingKind::ThreadFree),
            ..step(1500.0, 0.0)
        };
        let views = [
            PhaseView::default(),
            held,
            step(1.0, 30.0),
            step(5.0, 25.0),
            step(10.0, 20.0),
            step(40.0, 0.9),
            free,
        ];
        use Phase::*;
        assert_eq!(
            phases(Direction::Undo, &views),
            [
                Approach, Breakaway, Breakaway, Breakaway, Loosening, RunOut, Free
            ]
        );
    }

    #[test]
    fn a_loose_bolt_runs_out_without_a_peak() {
        let views = [step(1.0, 0.4), step(20.0, 0.4), step(31.0, 0.4)];
        use Phase::*;
        assert_eq!(
            phases(Direction::Undo, &views),
            [Breakaway, Breakaway, RunOut]
        );
    }

    fn any_number() -> impl Strategy<Value = f32> {
        prop_oneof![any::<u32>().prop_map(f32::from_bits), -50.0_f32..50.0]
    }

    proptest! {
        #[test]
        fn a_direction_never_reaches_the_phases_of_the_other(
            undo: bool,
            views in prop::collection::vec(
                (any::<bool>(), any_number(), any_number(), any_number(), 0_usize..8), 1..60),
        ) {
            use Phase::*;
            let (direction, others) = if undo {
                (Direction::Undo, [ThreadStart, Rundown, Snugging, Clamping, Yielding])
            } else {
                (Direction::Tighten, [Breakaway, Loosening, RunOut, Free, Free])
            };
            let mut tracker = PhaseTracker::new(direction);
            for (turning, bolt_rad, torque, u, what) in views {
                let phase = tracker.update(&PhaseView {
                    turning,
                    bolt_rad,
                    torque_nm: Some((torque, u)),
                    step_nm: (what % 2 == 0).then_some((torque, u)),
                    level_nm: Some(u),
                    ceiling_nm: u,
                    snug: [Some(SnugChange::Seen), Some(SnugChange::Withdrawn), None][what % 3],
                    finding: [None, Some(FindingKind::Strip), Some(FindingKind::ThreadFree),
                        Some(FindingKind::YieldOnset)][what / 2],
                });
                prop_assert!(!others.contains(&phase), "{phase:?}");
            }
        }
    }
}
