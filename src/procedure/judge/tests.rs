//! Each goal, each shortfall.

use super::super::job::tests::job;
use super::*;

pub(super) fn seen() -> Seen {
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
        seat_u_nm: 0.1,
        lost_nm: None,
        run_out_in_doubt: false,
        stopped: false,
        adverse: false,
        sensing_in_doubt: false,
        joints_disagree: false,
        yield_in_doubt: false,
        missing_part: 0.0,
    }
}

pub(super) fn answer(change: impl FnOnce(&mut Seen)) -> (Verdict, Vec<Reason, 8>) {
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

pub(super) const fn figure(value: f32, u: f32) -> Option<Figure> {
    Some(Figure { value, u })
}

pub(super) fn answer_for(goal: Goal, change: impl FnOnce(&mut Seen)) -> (Verdict, Vec<Reason, 8>) {
    let mut j = job();
    j.goal = goal;
    let mut s = seen();
    change(&mut s);
    judge(&j, &s)
}

pub(super) type Case = (fn(&mut Seen), Verdict, Reason);

pub(super) fn hold(goal: Goal, cases: &[Case]) {
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
                |s| {
                    s.mark_rad = figure(32.0, 0.01);
                    s.final_angle_rad.u = 0.06;
                },
                Verdict::NotAssessable,
                Reason::AngleUncertaintyTooLarge,
            ),
            // Strokes were joined before the start torque, none since.
            (
                |s| {
                    s.mark_rad = figure(32.0, 0.06);
                    s.final_angle_rad.u = 0.06;
                },
                Verdict::Accepted,
                Reason::FurtherAngleInWindow,
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
fn joined_strokes_leave_the_way_from_snug_open_once() {
    // 25° about a target of 28.6°: what five joins leave open of the end, 0.06 rad, is in that of snug too.
    let window = Expected {
        value: 0.5,
        tolerance: 0.15,
    };
    let mut bolt = job();
    bolt.rundown_rad = None;
    bolt.elastic_rad = Some(window);
    let mut s = seen();
    s.snug = s.snug.map(|snug| Snug {
        angle_rad: 32.0,
        angle_u_rad: 0.065,
        ..snug
    });
    s.final_angle_rad.u = 0.06;
    let (verdict, reasons) = judge(&bolt, &s);
    assert_eq!(verdict, Verdict::Accepted, "{reasons:?}");
}

#[test]
fn a_slope_that_may_be_yield_leaves_open_what_else_was_met() {
    let (verdict, reasons) = answer(|s| s.yield_in_doubt = true);
    assert_eq!(verdict, Verdict::NotAssessable);
    assert_eq!(reasons.as_slice(), [Reason::YieldInDoubt]);
}
