//! Each goal, each shortfall.

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
        highest_nm: None,
        yield_nm: None,
        breakaway_nm: None,
        free_rad: None,
        stopped: false,
        adverse: false,
        sensing_in_doubt: false,
        joints_disagree: false,
        yield_in_doubt: false,
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
        (
            Verdict::Accepted,
            &[
                Reason::TorqueInWindow,
                Reason::SnugInWindow,
                Reason::ElasticAngleInWindow
            ][..]
        )
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
fn a_bolt_is_not_accepted_over_a_finding_that_did_not_stop_it() {
    let (v, r) = answer(|s| s.adverse = true);
    assert_eq!(v, Verdict::Rejected);
    assert!(r.contains(&Reason::FindingAgainst));
    let (v, r) = answer(|s| s.sensing_in_doubt = true);
    assert_eq!(v, Verdict::NotAssessable);
    assert!(r.contains(&Reason::SensingInDoubt));
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
    fn held(s: &mut Seen) {
        s.final_angle_rad = Figure {
            value: 0.01,
            u: 0.005,
        };
        s.mark_rad = figure(0.008, 0.005);
        s.highest_nm = figure(48.5, 1.0);
    }
    hold(
        goal,
        &[
            (held, Verdict::Accepted, Reason::HeldStill),
            (
                |s| {
                    held(s);
                    s.mark_rad = figure(0.2, 0.005);
                },
                Verdict::Rejected,
                Reason::MovedBeforeTorque,
            ),
            // It held the check torque, and was turned on beyond it.
            (
                |s| {
                    held(s);
                    s.final_angle_rad.value = 1.0;
                },
                Verdict::Rejected,
                Reason::MovedBeforeTorque,
            ),
            // More than the most, but not surely.
            (
                |s| {
                    held(s);
                    s.final_angle_rad = Figure {
                        value: 0.04,
                        u: 0.01,
                    };
                },
                Verdict::NotAssessable,
                Reason::AngleUncertaintyTooLarge,
            ),
            (
                |s| {
                    held(s);
                    s.highest_nm = figure(48.5, 5.0);
                },
                Verdict::NotAssessable,
                Reason::UncertaintyTooLarge,
            ),
            (
                |s| {
                    held(s);
                    s.mark_rad = None;
                },
                Verdict::NotAssessable,
                Reason::CheckTorqueNotReached,
            ),
            (|_| (), Verdict::Rejected, Reason::MovedBeforeTorque),
        ],
    );
}

#[test]
fn a_bolt_that_holds_in_a_later_pass_has_what_it_needs() {
    let mut carried = job();
    carried.carried_nm = Some(48.0);
    let answer = |highest_nm: Option<Figure>| {
        let seen = Seen {
            final_torque_nm: None,
            final_angle_rad: Figure {
                value: 0.0,
                u: 0.005,
            },
            snug: None,
            highest_nm,
            ..seen()
        };
        judge(&carried, &seen)
    };
    let (v, r) = answer(figure(48.5, 0.5));
    assert_eq!(v, Verdict::Accepted);
    assert!(r.contains(&Reason::HeldStill) && r.contains(&Reason::TorqueInWindow));
    assert_eq!(answer(figure(40.0, 0.5)).0, Verdict::Rejected);
    assert_eq!(answer(None).0, Verdict::NotAssessable);
    // A loose bolt that did not turn tells nothing.
    let (v, r) = judge(
        &job(),
        &Seen {
            final_torque_nm: None,
            ..seen()
        },
    );
    assert_eq!(
        (v, r.as_slice()),
        (Verdict::NotAssessable, &[Reason::NeverTurned][..])
    );
}

#[test]
fn what_is_surely_outside_is_rejected_however_unsure_it_is() {
    let (v, r) = answer(|s| {
        s.final_torque_nm = Some(20.0);
        s.final_torque_u_nm = 4.0;
    });
    assert_eq!(v, Verdict::Rejected);
    assert!(r.contains(&Reason::TorqueBelowWindow));
}

#[test]
fn snug_is_asked_for_only_where_something_needs_it() {
    let mut bare = job();
    (bare.rundown_rad, bare.elastic_rad) = (None, None);
    let without = Seen {
        snug: None,
        ..seen()
    };
    assert_eq!(judge(&bare, &without).0, Verdict::Accepted);
    assert_eq!(judge(&job(), &without).0, Verdict::NotAssessable);
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
                Verdict::NotAssessable,
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
