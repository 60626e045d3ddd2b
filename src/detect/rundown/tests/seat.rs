//! What the head meets: too early, too late, not for good; or tight from the first.

use super::*;
use crate::detect::Cause;

#[test]
fn debris_is_an_early_snug_softer_than_the_joint_and_no_crossed_thread() {
    for (torque_nm, runner_up) in [
        (
            (|t| clamp(t, 1.0) / 1.2) as fn(f32) -> f32,
            Cause::CrossedThread,
        ),
        // The target in 0.45 turns, far from the seat: no crossed thread does.
        (
            |t| TARGET_NM * (t - 1.2).max(0.0) / 0.45,
            Cause::CrossedThread,
        ),
        (|t| clamp(t, 3.0) / 2.0, Cause::GallingThread),
    ] {
        let (found, _) = Run {
            torque_nm,
            ..Run::default()
        }
        .only();
        assert_eq!(found.kind, FindingKind::EarlySnug);
        assert_eq!(found.likely, Some(Cause::Debris));
        assert_eq!(found.runner_up, Some(runner_up));
    }
}

#[test]
fn a_burr_in_the_first_turns_stops_nothing() {
    let run = Run {
        torque_nm: |t| 9.0 * (ramp(t, 0.8, 0.87) - ramp(t, 0.87, 0.93)) + clamp(t, SNUG),
        ..Run::default()
    };
    assert_eq!(run.only().0.kind, FindingKind::FalseSnug);
}

#[test]
fn a_bolt_that_bottoms_softly_is_told_where_it_stops_at_half_the_target() {
    // 48 N·m in ten degrees at first, twice as steep from a fifth on, and no further than a half.
    let run = Run {
        torque_nm: |t| {
            let deg = 360.0 * (t - 3.0).max(0.0);
            let bears_nm = TARGET_NM * (0.1 * deg).max(0.2 * deg - 0.2);
            bears_nm.min(0.5 * TARGET_NM)
        },
        ..Run::default()
    };
    let (found, turns) = run.only();
    assert_eq!(found.kind, FindingKind::EarlySnug);
    assert!(turns < 3.0 + 5.0 / 360.0, "{turns}");
}

#[test]
fn a_bolt_that_bottoms_is_told_before_half_the_target() {
    // The target in one and a half degrees.
    let run = Run {
        torque_nm: |t| TARGET_NM * 240.0 * (t - 3.0).max(0.0),
        ..Run::default()
    };
    let (found, turns) = run.only();
    assert_eq!(found.kind, FindingKind::EarlySnug);
    assert_eq!(found.likely, Some(Cause::Bottoming));
    assert!((run.torque_nm)(turns) < 0.75 * TARGET_NM, "{turns}");
}

#[test]
fn a_burr_that_clears_is_said_and_does_not_stop() {
    for torque_nm in [
        |t| 12.0 * (ramp(t, 4.0, 4.06) - ramp(t, 4.06, 4.1)) + clamp(t, SNUG),
        |t| 12.0 * (ramp(t, 1.0, 1.06) - ramp(t, 1.06, 1.1)) + clamp(t, SNUG),
    ] {
        let run = Run {
            torque_nm,
            ..Run::default()
        };
        let (found, turns) = run.only();
        assert_eq!(found.kind, FindingKind::FalseSnug);
        assert!(turns < 4.2);
    }
}

#[test]
fn a_missing_washer_makes_snug_late_by_its_thickness_over_the_pitch() {
    // 2 mm under a pitch of 1.5 mm.
    let run = Run {
        torque_nm: |t| clamp(t, SNUG + 2.0 / 1.5),
        ..Run::default()
    };
    let (found, turns) = run.only();
    assert_eq!(found.kind, FindingKind::LateSnug);
    assert_eq!(found.likely, Some(Cause::MissingPart));
    assert!(turns > SNUG + 0.5 && turns < SNUG + 0.7, "{turns}");
}

#[test]
fn snug_that_is_barely_late_is_told_from_where_the_elastic_line_begins() {
    let soft = ExpectedRun {
        least_rate_nm_per_rad: TARGET_NM / 12.0,
        ..expected()
    };
    let run = Run {
        expected: soft,
        torque_nm: |t| clamp(t, SNUG + 0.56),
        ..Run::default()
    };
    let (found, _) = run.only();
    assert_eq!(found.kind, FindingKind::LateSnug);
    assert!((found.value - (SNUG + 0.56) * TAU).abs() < 0.035);
}

#[test]
fn a_bolt_that_is_tight_already_is_told_in_its_first_degrees_unless_it_carries_a_torque() {
    let tight = Run {
        torque_nm: |t| 30.0 + clamp(t, 0.0),
        ..Run::default()
    };
    let (found, turns) = tight.only();
    assert_eq!(found.kind, FindingKind::AlreadyTight);
    assert!(turns < 1.0 / 120.0, "{turns}");

    let carries = Run {
        expected: ExpectedRun {
            carried_nm: Some(30.0),
            ..expected()
        },
        ..tight
    };
    assert_eq!(carries.kinds(), []);
}

#[test]
fn without_turns_stated_a_tight_bolt_is_told_from_one_that_was_put_in_by_hand() {
    let unstated = ExpectedRun {
        earliest_snug_rad: None,
        latest_snug_rad: None,
        ..expected()
    };
    let tight = Run {
        expected: unstated,
        torque_nm: |t| 33.0 + clamp(t, 0.0),
        ..Run::default()
    };
    assert!(tight.kinds().contains(&FindingKind::AlreadyTight));
    let by_hand = Run {
        torque_nm: |t| 10.0 + clamp(t, 0.0),
        ..tight
    };
    assert!(!by_hand.kinds().contains(&FindingKind::AlreadyTight));
}
