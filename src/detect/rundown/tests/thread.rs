//! What the thread does: not caught, crossed, galling, its locking feature wrong.

use super::*;
use crate::detect::Cause;

fn locking() -> ExpectedRun {
    ExpectedRun {
        floor_nm: 4.0,
        ceiling_nm: 10.5,
        band_max_nm: Some(10.5),
        ..expected()
    }
}

#[test]
fn a_locking_feature_that_enters_within_its_band_is_none_of_these() {
    for torque_nm in [
        |t| 7.0 * ramp(t, 0.3, 0.6) + clamp(t, SNUG),
        |t| 7.0 * ramp(t, 2.0, 2.5) + clamp(t, SNUG),
        |t| 7.0 * ramp(t, 3.8, 4.2) + clamp(t, SNUG),
    ] {
        let run = Run {
            expected: locking(),
            torque_nm,
            ..Run::default()
        };
        assert_eq!(run.kinds(), []);
    }
}

#[test]
fn a_crossed_thread_is_told_within_a_sixth_of_a_turn_and_a_third_of_the_target() {
    // Grows to the target within a turn and a half from a third of a turn on.
    let run = Run {
        torque_nm: |t| TARGET_NM * (t - 0.33).max(0.0) / 1.5,
        advance: |t| t.min(0.33) + 0.5 * (t - 0.33).max(0.0),
        ..Run::default()
    };
    let (found, turns) = run.only();
    assert_eq!(found.kind, FindingKind::CrossThread);
    assert_eq!(found.runner_up, Some(Cause::Debris));
    assert!(turns < 0.33 + 1.0 / 6.0, "{turns}");
}

#[test]
fn without_turns_stated_a_crossed_thread_is_told_by_its_advance_alone() {
    let unstated = ExpectedRun {
        earliest_snug_rad: None,
        latest_snug_rad: None,
        ..expected()
    };
    let straight = Run {
        expected: unstated,
        // Slowly: the advance takes about a turn to tell, and beyond a third of the target the head
        // may have seated.
        torque_nm: |t| TARGET_NM * (t - 0.5).max(0.0) / 4.0,
        ..Run::default()
    };
    assert!(!straight.kinds().contains(&FindingKind::CrossThread));
    let crossed = Run {
        advance: |t| t.min(0.5) + 0.2 * (t - 0.5).max(0.0),
        ..straight
    };
    assert!(crossed.kinds().contains(&FindingKind::CrossThread));
}

#[test]
fn nearer_to_the_seat_than_to_the_start_the_advance_tells_a_crossed_thread_from_debris() {
    let short = ExpectedRun {
        earliest_snug_rad: Some(2.0 * TAU),
        latest_snug_rad: Some(3.0 * TAU),
        ..expected()
    };
    // The target in 0.6 turns: as steep as debris, not as steep as what only clamps.
    let rise: fn(f32) -> f32 = |t| TARGET_NM * (t - 1.2).max(0.0) / 0.6;
    let first = |expected, advance| {
        Run {
            expected,
            torque_nm: rise,
            advance,
        }
        .found()[0]
            .0
            .kind
    };
    assert_eq!(first(short, |t| t), FindingKind::EarlySnug);
    assert_eq!(
        first(short, |t| t.min(0.9) + 0.3 * (t - 0.9).max(0.0)),
        FindingKind::CrossThread
    );
    // Far from the seat nothing is there to be clamped.
    assert_eq!(first(expected(), |t| t), FindingKind::CrossThread);
}

#[test]
fn a_locking_feature_that_is_wrong_is_no_crossed_thread_however_early_it_enters() {
    // 0.12 of the target, within 0.6 turns.
    let run = Run {
        torque_nm: |t| 6.0 * ramp(t, 0.2, 0.8) + clamp(t, SNUG),
        ..Run::default()
    };
    let (found, turns) = run.only();
    assert_eq!(found.kind, FindingKind::PrevailingHigh);
    assert!(turns < 1.5, "{turns}");
}

#[test]
fn a_stated_band_holds_below_what_a_free_thread_may_take_as_well() {
    let run = Run {
        expected: ExpectedRun {
            band_max_nm: Some(1.2),
            ..expected()
        },
        torque_nm: |t| 0.9 * ramp(t, 2.0, 2.5) + clamp(t, SNUG),
        ..Run::default()
    };
    let (found, _) = run.only();
    assert_eq!(found.kind, FindingKind::PrevailingHigh);
    assert!((found.value - 1.9).abs() < 0.15, "{}", found.value);
}

#[test]
fn a_thread_that_has_not_caught_is_told_by_the_advance_that_is_missing() {
    let run = Run {
        torque_nm: |_| -0.5,
        advance: |_| 0.0,
        ..Run::default()
    };
    let first = run.found()[0];
    assert_eq!(first.0.kind, FindingKind::NotStarted);
    assert!(first.1 > 1.2 && first.1 < 1.4, "{}", first.1);
}

#[test]
fn where_strokes_hide_the_advance_of_half_a_turn_that_of_the_run_tells_whether_it_has_caught() {
    // A socket that sits anew with every stroke of 130°, higher or lower by a third of a pitch.
    fn seated(t: f32) -> f32 {
        0.33 * (2.8 * t * TAU).sin().signum()
    }
    let run = |advance| Run {
        torque_nm: |_| -0.9,
        advance,
        ..Run::default()
    };
    let first = run(seated).found()[0];
    assert_eq!(first.0.kind, FindingKind::NotStarted);
    assert!(first.1 < SNUG - 0.5, "{}", first.1);
    assert!(first.0.value.abs() < 0.25, "{}", first.0.value);
    // A thread that was sought for a turn, and a head that does not seat.
    let late = run(|t| (t - 1.0).max(0.0) + seated(t)).kinds();
    assert_eq!(late, [FindingKind::LateSnug]);
}

#[test]
fn galling_grows_and_grows_and_stops_while_a_wrong_locking_feature_is_level() {
    // Beginning after two turns and a half: 0.6 of the target in a turn and a half.
    let galling = Run {
        torque_nm: |t| 0.6 * TARGET_NM * ((t - 2.5).max(0.0) / 1.5).powf(1.5),
        ..Run::default()
    };
    let (found, turns) = galling.only();
    assert_eq!(found.kind, FindingKind::Galling);
    assert!(turns < 3.5, "{turns}");

    let wrong = Run {
        torque_nm: |t| 6.0 * ramp(t, 2.0, 2.4) + clamp(t, SNUG),
        ..Run::default()
    };
    let (found, turns) = wrong.only();
    assert_eq!(found.kind, FindingKind::PrevailingHigh);
    assert_eq!(found.likely, Some(Cause::LockingFeature));
    assert!(turns < 3.5, "{turns}");
}

#[test]
fn a_thread_that_galls_as_the_head_may_seat_is_told_by_growing_less_than_any_joint() {
    // From a third of a turn before the earliest seat on: a third of the target in a turn.
    let run = Run {
        torque_nm: |t| TARGET_NM / 3.0 * (t - 4.17).max(0.0).powf(1.5),
        ..Run::default()
    };
    let (found, turns) = run.only();
    assert_eq!(found.kind, FindingKind::Galling);
    assert!(turns > SNUG - 0.5 && turns < 5.2, "{turns}");
}

#[test]
fn a_locking_feature_that_is_missing_is_said_once_the_head_seats_and_not_before() {
    let run = Run {
        expected: locking(),
        ..Run::default()
    };
    let (found, turns) = run.only();
    assert_eq!(found.kind, FindingKind::PrevailingLow);
    assert!(turns > SNUG && (found.value - 1.0).abs() < 0.1);
}
