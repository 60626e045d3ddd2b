//! Bolts that were tight before: checked, passed over again, undone.

use super::super::job::tests::job;
use super::tests::{figure, hold, seen};
use super::*;

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
