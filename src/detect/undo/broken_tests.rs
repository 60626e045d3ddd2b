//! Bolts that break, and bolts that turn with their nut.

extern crate std;
use std::vec::Vec;

use super::tests::{EXPECTED, KNOWN, Run, comes_out, sound, stands};
use super::*;
use crate::detect::{Cause, FindingKind};

#[test]
fn torque_that_goes_faster_than_the_joint_can_give_it_back_is_a_fracture() {
    let broken = |deg: f32| match deg {
        ..20.0 => 50.0 * deg / 20.0,
        20.0..30.0 => 50.0 - 4.95 * (deg - 20.0),
        _ => 0.5,
    };
    let run = |torque_nm, elastic_deg: f32| {
        Run {
            known: UndoExpected {
                quickest_rad: Some(elastic_deg.to_radians()),
                ..KNOWN
            },
            torque_nm,
            ..Run::default()
        }
        .found()
    };
    let found = run(broken as fn(f32) -> f32, 60.0);
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!(found[0].0.kind, FindingKind::Fracture);
    assert!(found[0].1 < 35.0, "{found:?}");
    // Sound: 30° of torque given back over 30°, also where twice as many were stated.
    for elastic_deg in [30.0, 50.0] {
        let kinds: Vec<_> = run(sound, elastic_deg)
            .iter()
            .map(|(d, _)| d.kind)
            .collect();
        assert_eq!(kinds, [FindingKind::Breakaway], "{elastic_deg}");
    }
    // Too little torque to twist off a bolt that took 48 N·m.
    let weak = run(|deg| if deg < 20.0 { deg } else { 0.1 }, 60.0);
    assert_ne!(weak[0].0.kind, FindingKind::Fracture);
}

#[test]
fn a_bolt_that_twists_off_is_told_before_all_of_its_torque_is_gone() {
    // Twists by 5° under 55 N·m, then gives way over 15° as a smooth step.
    let twists_off = |deg: f32| {
        let x = ((deg - 5.0) / 15.0).clamp(0.0, 1.0);
        55.0 * (1.0 - x * x * (3.0 - 2.0 * x)) + 0.2
    };
    let known = UndoExpected {
        quickest_rad: Some(60.0_f32.to_radians()),
        ..KNOWN
    };
    let run = |torque_nm| Run {
        known,
        torque_nm,
        ..Run::default()
    };
    let found = run(twists_off as fn(f32) -> f32).found();
    assert_eq!(found[0].0.kind, FindingKind::Fracture);
    assert!((13.0..16.0).contains(&found[0].1), "{found:?}");
    // A sound one that jerks by a fifth between sticking and slipping, every 6°, gives it back over 60°.
    let jerks = |deg: f32| {
        let swing = if deg % 6.0 < 3.0 { 1.2 } else { 0.8 };
        0.5 + 34.0 * (1.0 - deg / 60.0).max(0.0) * swing
    };
    let said = run(jerks).kinds();
    assert!(!said.contains(&FindingKind::Fracture), "{said:?}");
}

#[test]
fn without_elastic_angle_a_sudden_fall_is_a_fracture_only_where_no_thread_remains() {
    let sudden = |deg: f32| if deg < 20.0 { 34.0 * deg / 20.0 } else { 0.1 };
    let run = |out_turns, least_drag_nm| {
        Run {
            known: UndoExpected {
                least_drag_nm,
                ..KNOWN
            },
            torque_nm: sudden,
            out_turns,
            ..Run::default()
        }
        .kinds()
    };
    let no_arm: fn(f32) -> Option<f32> = |_| None;
    assert_eq!(run(comes_out, 0.0), [FindingKind::Breakaway]);
    assert_eq!(run(no_arm, 0.0), [FindingKind::Breakaway]);
    assert_eq!(
        run(stands, 0.0),
        [FindingKind::Breakaway, FindingKind::Fracture]
    );
    assert_eq!(run(no_arm, 1.0), [FindingKind::Fracture]);
}

#[test]
fn level_drag_without_way_out_is_a_bolt_that_turns_with_its_nut() {
    let drag = |deg: f32| (34.0 * deg / 15.0).min(28.0);
    for out_turns in [stands as fn(f32) -> Option<f32>, |_| None] {
        let kinds = Run {
            torque_nm: drag,
            out_turns,
            ..Run::default()
        }
        .kinds();
        assert_eq!(kinds, [FindingKind::TurningTogether]);
    }
    // The same drag on a bolt that comes out, and drag that a locking thread may have.
    let out = Run {
        torque_nm: drag,
        out_turns: comes_out,
        ..Run::default()
    };
    assert_eq!(out.kinds(), []);
    let locking = Run {
        torque_nm: |_| 8.0,
        ..Run::default()
    };
    assert_eq!(locking.kinds(), []);
}

#[test]
fn a_torque_that_holds_and_then_goes_in_less_is_a_bolt_that_twists_off() {
    // Nothing is stated of the joint. 30 N·m over 20°, gone within 10°.
    let yields = |deg: f32| match deg {
        d if d < 5.0 => 6.0 * d,
        d if d < 25.0 => 30.0,
        d => (30.0 * (1.0 - (d - 25.0) / 10.0)).max(0.2),
    };
    let run = Run {
        torque_nm: yields,
        ..Run::default()
    };
    let found = run.found();
    assert_eq!(found[0].0.kind, FindingKind::Fracture);
    // A worn drive would have gripped again within 90°.
    assert!(found[0].1 < 35.0 + 92.0, "{found:?}");
    // The hardest joint gives its torque back from the first degree on, however fast.
    let hard = Run {
        torque_nm: |deg: f32| match deg {
            d if d < 2.0 => 15.0 * d,
            d => (30.0 * (1.0 - (d - 2.0) / 14.0)).max(0.2),
        },
        ..Run::default()
    };
    assert!(!hard.kinds().contains(&FindingKind::Fracture));
}

#[test]
fn drag_beyond_a_turn_and_the_joint_is_a_bolt_that_turns_with_its_nut_however_hard_it_broke_loose()
{
    let stated = ExpectedRun {
        ceiling_nm: 2.0,
        ceiling_stated: true,
        ..EXPECTED
    };
    let run = |drag_nm: fn(f32) -> f32| {
        Run {
            expected: stated,
            torque_nm: drag_nm,
            ..Run::default()
        }
        .kinds()
    };
    // 34 N·m to break loose, then 8 for ever; a wrong locking feature takes no more than 4.
    let turns = |deg: f32| (34.0 - 0.8 * deg).max(8.0);
    assert!(run(turns).contains(&FindingKind::TurningTogether));
    let wrong = |deg: f32| (34.0 - 0.8 * deg).max(3.8);
    assert!(!run(wrong).contains(&FindingKind::TurningTogether));
}

#[test]
fn what_lies_between_two_grips_has_not_held() {
    // The socket slips once, is set on 60° further, and the bolt then comes loose as a sound one.
    let slipped = |deg: f32| match deg {
        d if d < 4.2 => 9.5 * d,
        d if d < 60.0 => 0.5,
        d if d < 64.0 => 10.0 * (d - 60.0),
        d => (40.0 * (1.0 - (d - 64.0) / 30.0)).max(0.8),
    };
    let run = Run {
        torque_nm: slipped,
        ..Run::default()
    };
    assert!(!run.kinds().contains(&FindingKind::Fracture));
}

/// 30 N·m held over `held` degrees, gone evenly within `gone`.
fn holds_and_goes(deg: f32, held: f32, gone: f32) -> f32 {
    match deg - 5.0 {
        d if d < 0.0 => 6.0 * deg,
        d if d < held => 30.0,
        d => (30.0 * (1.0 - (d - held) / gone)).max(0.2),
    }
}

#[test]
fn how_long_a_torque_held_counts_against_the_angle_in_which_it_went_as_far_as_steps_resolve_it() {
    let broken = |step_deg, torque_nm| {
        Run {
            step_deg,
            torque_nm,
            ..Run::default()
        }
        .kinds()
        .contains(&FindingKind::Fracture)
    };
    assert!(broken(0.5, |deg| holds_and_goes(deg, 5.0, 10.0)));
    // Half as long is what a strongly curved release may show.
    assert!(!broken(0.5, |deg| holds_and_goes(deg, 2.0, 10.0)));
    // Steps of 5.3° do not tell 5° from nothing.
    assert!(!broken(5.3, |deg| holds_and_goes(deg, 5.0, 10.0)));
    // A nut that runs out of its locking feature over a third of a turn.
    assert!(!broken(0.5, |deg| holds_and_goes(deg, 700.0, 120.0)));
}

#[test]
fn a_bolt_that_turns_without_coming_out_has_not_left_its_thread_whatever_turns_were_stated() {
    let run = |out_turns| {
        Run {
            known: UndoExpected {
                free_rad: Some(2.0 * TAU),
                ..KNOWN
            },
            out_turns,
            ..Run::default()
        }
        .found()
    };
    let kinds = |out_turns| {
        run(out_turns)
            .iter()
            .map(|(d, _)| d.kind)
            .collect::<Vec<_>>()
    };
    assert_eq!(kinds(stands), [FindingKind::Breakaway]);
    let found = run(|_| None);
    assert_eq!(found.len(), 2, "{found:?}");
    // Nothing but torque: that it may be broken is said with both.
    for (detection, _) in found {
        assert_eq!(
            detection.runner_up,
            Some(Cause::BrokenBolt),
            "{detection:?}"
        );
    }
    // Seen to come out when the last thread leaves; no arm can see that at the breakaway yet.
    let doubts: Vec<_> = (run(comes_out).iter()).map(|(d, _)| d.runner_up).collect();
    assert_eq!(doubts, [Some(Cause::BrokenBolt), None]);
    // A thread that is felt to drag is there.
    let drags = Run {
        torque_nm: |deg| sound(deg).max(4.0),
        ..Run::default()
    };
    assert_eq!(drags.found()[0].0.runner_up, None);
}
