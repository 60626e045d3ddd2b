//! From what was seen to accepted, rejected with reasons, or not assessable.
//!
//! Decision rule (JCGM 106, 8.2.1, simple acceptance with a limit on the uncertainty): a figure must
//! lie in its window, and its expanded uncertainty (k = 2) must not exceed the window's half width;
//! otherwise the data cannot tell and the run is not assessable. What was seen to be wrong is never
//! hidden behind what could not be told.

mod loosen;
mod tighten;

use heapless::Vec;

use crate::fastener::Band;

use super::goal::{Direction, Expected, Goal};
use super::job::BoltJob;
use super::verdict::{Reason, Snug, Verdict};

/// A figure with its standard uncertainty, same unit.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Figure {
    /// The figure.
    pub value: f32,
    /// Its standard uncertainty.
    pub u: f32,
}

/// What was seen of a run, tightening positive.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Seen {
    /// Torque where the bolt last turned, N·m; `None` where the bolt never turned.
    pub final_torque_nm: Option<f32>,
    /// Its standard uncertainty, N·m.
    pub final_torque_u_nm: f32,
    /// Whether it was observable.
    pub observable: bool,
    /// Bolt angle at the end, rad.
    pub final_angle_rad: Figure,
    /// The snug point.
    pub snug: Option<Snug>,
    /// Bolt angle at which the torque first reached the goal's mark, rad.
    pub mark_rad: Option<Figure>,
    /// Torque at which the slope fell as at the onset of yield, N·m.
    pub yield_nm: Option<Figure>,
    /// Highest torque before the bolt came loose, N·m, positive.
    pub breakaway_nm: Option<Figure>,
    /// Bolt angle at which the last thread was free, rad, undoing positive.
    pub free_rad: Option<Figure>,
    /// Whether a stopping finding stands.
    pub stopped: bool,
    /// Whether the joint torques contradicted each other.
    pub joints_disagree: bool,
    /// Part of the run, by time or count, for which samples were missing or unusable.
    pub missing_part: f32,
}

/// Missing part above which a run is not assessable (common practice, no source).
const MISSING_PART: f32 = 0.2;

/// Where a figure lies against its window.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Place {
    Below,
    Inside,
    Above,
    Unsure,
}

fn place(figure: Figure, window: Band) -> Place {
    // `!(<=)` holds for what is not a number, too.
    if !(2.0 * figure.u <= 0.5 * (window.max - window.min)) {
        Place::Unsure
    } else if figure.value < window.min {
        Place::Below
    } else if figure.value > window.max {
        Place::Above
    } else {
        Place::Inside
    }
}

/// What speaks for, against and neither for nor against a bolt.
#[derive(Debug, Default)]
struct Grounds {
    met: Vec<Reason, 8>,
    against: Vec<Reason, 8>,
    unknown: Vec<Reason, 8>,
}

impl Grounds {
    // A list that is full already holds more than enough reasons.
    fn met(&mut self, reason: Reason) {
        self.met.push(reason).unwrap_or_default();
    }

    fn against(&mut self, reason: Reason) {
        self.against.push(reason).unwrap_or_default();
    }

    fn unknown(&mut self, reason: Reason) {
        self.unknown.push(reason).unwrap_or_default();
    }

    /// A figure against its window: the reasons for below, inside, above and unsure.
    fn hold(&mut self, figure: Figure, window: Band, reasons: [Reason; 4]) {
        let [below, inside, above, unsure] = reasons;
        match place(figure, window) {
            Place::Below => self.against(below),
            Place::Inside => self.met(inside),
            Place::Above => self.against(above),
            Place::Unsure => self.unknown(unsure),
        }
    }
}

/// The verdict and all its reasons.
pub fn judge(job: &BoltJob, seen: &Seen) -> (Verdict, Vec<Reason, 8>) {
    let mut grounds = Grounds::default();
    if seen.stopped {
        grounds.against(Reason::FindingStands);
    }
    if seen.joints_disagree {
        grounds.unknown(Reason::JointsDisagree);
    }
    if seen.missing_part > MISSING_PART {
        grounds.unknown(Reason::SamplesMissing);
    }
    match job.goal {
        Goal::Watch(Direction::Undo) => grounds.unknown(Reason::UndoingNotJudged),
        Goal::Watch(Direction::Tighten) => grounds.unknown(Reason::NoTarget),
        Goal::Torque { .. } => tighten::to_torque(job, seen, &mut grounds),
        Goal::TorqueThenAngle { angle_rad, .. } => {
            tighten::through_angle(job, seen, &angle_rad, &mut grounds);
        }
        Goal::Yield { onset_nm, .. } => tighten::to_yield(job, seen, onset_nm, &mut grounds),
        Goal::Recheck {
            torque_nm,
            most_rad,
        } => tighten::recheck(seen, torque_nm, most_rad, &mut grounds),
        Goal::Loosen {
            breakaway_nm,
            run_out_rad,
            ..
        } => loosen::undone(seen, breakaway_nm, run_out_rad, &mut grounds),
    }
    if !grounds.against.is_empty() {
        (Verdict::Rejected, grounds.against)
    } else if !grounds.unknown.is_empty() || grounds.met.is_empty() {
        (Verdict::NotAssessable, grounds.unknown)
    } else {
        (Verdict::Accepted, grounds.met)
    }
}

#[cfg(test)]
mod tests {
    use super::super::job::tests::job;
    use super::*;

    fn seen() -> Seen {
        Seen {
            final_torque_nm: Some(48.0),
            final_torque_u_nm: 0.5,
            observable: true,
            final_angle_rad: Figure {
                value: 32.5,
                u: 0.01,
            },
            snug: Some(Snug {
                angle_rad: 31.4,
                angle_u_rad: 0.01,
                torque_nm: 0.5,
            }),
            mark_rad: None,
            yield_nm: None,
            breakaway_nm: None,
            free_rad: None,
            stopped: false,
            joints_disagree: false,
            missing_part: 0.0,
        }
    }

    fn answer(change: impl FnOnce(&mut Seen)) -> (Verdict, Vec<Reason, 8>) {
        let mut s = seen();
        change(&mut s);
        judge(&job(), &s)
    }

    #[test]
    fn a_good_run_is_accepted_for_a_reason() {
        let (v, r) = answer(|_| ());
        assert_eq!(
            (v, r.as_slice()),
            (Verdict::Accepted, &[Reason::TorqueInWindow][..])
        );
    }

    #[test]
    fn each_shortfall_is_named() {
        let cases: [Case; 8] = [
            (
                |s| s.final_torque_nm = Some(40.0),
                Verdict::Rejected,
                Reason::TorqueBelowWindow,
            ),
            (
                |s| s.final_torque_nm = Some(55.0),
                Verdict::Rejected,
                Reason::TorqueAboveWindow,
            ),
            (
                |s| s.final_torque_u_nm = 3.0,
                Verdict::NotAssessable,
                Reason::UncertaintyTooLarge,
            ),
            (
                |s| s.observable = false,
                Verdict::NotAssessable,
                Reason::TorqueNotObservable,
            ),
            (
                |s| s.stopped = true,
                Verdict::Rejected,
                Reason::FindingStands,
            ),
            (|s| s.snug = None, Verdict::NotAssessable, Reason::NoSnug),
            (
                |s| s.missing_part = 0.5,
                Verdict::NotAssessable,
                Reason::SamplesMissing,
            ),
            (
                |s| s.final_angle_rad.value = 36.0,
                Verdict::Rejected,
                Reason::ElasticAngleOutsideWindow,
            ),
        ];
        for (change, verdict, reason) in cases {
            let (v, r) = answer(change);
            assert_eq!(v, verdict, "{reason:?}");
            assert!(r.contains(&reason), "{r:?} lacks {reason:?}");
        }
    }

    #[test]
    fn a_stopping_finding_is_never_hidden_behind_not_assessable() {
        let (v, r) = answer(|s| {
            s.stopped = true;
            s.joints_disagree = true;
        });
        assert_eq!(v, Verdict::Rejected);
        assert!(r.contains(&Reason::FindingStands));
    }

    const fn figure(value: f32, u: f32) -> Option<Figure> {
        Some(Figure { value, u })
    }

    fn answer_for(goal: Goal, change: impl FnOnce(&mut Seen)) -> (Verdict, Vec<Reason, 8>) {
        let mut j = job();
        j.goal = goal;
        let mut s = seen();
        change(&mut s);
        judge(&j, &s)
    }

    type Case = (fn(&mut Seen), Verdict, Reason);

    fn hold(goal: Goal, cases: &[Case]) {
        for (change, verdict, reason) in cases {
            let (v, r) = answer_for(goal, change);
            assert_eq!(v, *verdict, "{reason:?} of {r:?}");
            assert!(r.contains(reason), "{r:?} lacks {reason:?}");
        }
    }

    #[test]
    fn a_further_angle_counts_from_the_start_torque() {
        let goal = Goal::TorqueThenAngle {
            start_nm: 36.0,
            angle_rad: Expected {
                value: 0.5,
                tolerance: 0.1,
            },
            end_nm: Band {
                min: 40.0,
                max: 60.0,
            },
        };
        hold(
            goal,
            &[
                (
                    |s| s.mark_rad = figure(32.0, 0.01),
                    Verdict::Accepted,
                    Reason::FurtherAngleInWindow,
                ),
                (
                    |s| s.mark_rad = figure(32.3, 0.01),
                    Verdict::Rejected,
                    Reason::FurtherAngleBelowWindow,
                ),
                (
                    |s| s.mark_rad = figure(31.8, 0.01),
                    Verdict::Rejected,
                    Reason::FurtherAngleAboveWindow,
                ),
                (
                    |s| s.mark_rad = figure(32.0, 0.06),
                    Verdict::NotAssessable,
                    Reason::AngleUncertaintyTooLarge,
                ),
                (|_| (), Verdict::Rejected, Reason::StartTorqueNotReached),
            ],
        );
    }

    #[test]
    fn yield_must_begin_inside_its_window() {
        let goal = Goal::Yield {
            slope_part: 0.5,
            onset_nm: Band {
                min: 40.0,
                max: 60.0,
            },
        };
        hold(
            goal,
            &[
                (
                    |s| s.yield_nm = figure(50.0, 1.0),
                    Verdict::Accepted,
                    Reason::YieldInWindow,
                ),
                (
                    |s| s.yield_nm = figure(35.0, 1.0),
                    Verdict::Rejected,
                    Reason::YieldBelowWindow,
                ),
                (|_| (), Verdict::Rejected, Reason::NoYield),
                (
                    |s| s.observable = false,
                    Verdict::NotAssessable,
                    Reason::TorqueNotObservable,
                ),
            ],
        );
    }

    #[test]
    fn a_checked_bolt_must_carry_its_torque_without_moving() {
        let goal = Goal::Recheck {
            torque_nm: 48.0,
            most_rad: 0.035,
        };
        hold(
            goal,
            &[
                (
                    |s| s.mark_rad = figure(0.01, 0.005),
                    Verdict::Accepted,
                    Reason::HeldStill,
                ),
                (
                    |s| s.mark_rad = figure(0.2, 0.005),
                    Verdict::Rejected,
                    Reason::MovedBeforeTorque,
                ),
                (
                    |s| s.mark_rad = figure(0.01, 0.05),
                    Verdict::NotAssessable,
                    Reason::AngleUncertaintyTooLarge,
                ),
                (
                    |s| s.final_angle_rad.value = 0.01,
                    Verdict::NotAssessable,
                    Reason::CheckTorqueNotReached,
                ),
                (|_| (), Verdict::Rejected, Reason::MovedBeforeTorque),
            ],
        );
    }

    #[test]
    fn an_undone_bolt_must_break_loose_and_come_free_where_it_should() {
        let goal = Goal::Loosen {
            recorded_nm: Some(48.0),
            breakaway_nm: Some(Band {
                min: 25.0,
                max: 45.0,
            }),
            run_out_rad: Some(Expected {
                value: 40.0,
                tolerance: 3.0,
            }),
        };
        fn sound(s: &mut Seen) {
            s.breakaway_nm = figure(33.0, 1.0);
            s.free_rad = figure(41.0, 0.1);
        }
        hold(
            goal,
            &[
                (sound, Verdict::Accepted, Reason::ThreadFree),
                (sound, Verdict::Accepted, Reason::BreakawayInWindow),
                (
                    |s| {
                        sound(s);
                        s.breakaway_nm = figure(60.0, 1.0);
                    },
                    Verdict::Rejected,
                    Reason::BreakawayAboveWindow,
                ),
                (
                    |s| {
                        sound(s);
                        s.breakaway_nm = None;
                    },
                    Verdict::Rejected,
                    Reason::NoBreakaway,
                ),
                (
                    |s| {
                        sound(s);
                        s.free_rad = figure(30.0, 0.1);
                    },
                    Verdict::Rejected,
                    Reason::FreeTooSoon,
                ),
                (
                    |s| {
                        sound(s);
                        s.free_rad = None;
                    },
                    Verdict::Rejected,
                    Reason::ThreadNotFree,
                ),
            ],
        );
        let bare = Goal::Loosen {
            recorded_nm: None,
            breakaway_nm: None,
            run_out_rad: None,
        };
        hold(
            bare,
            &[(sound, Verdict::NotAssessable, Reason::UndoingNotJudged)],
        );
    }
}
