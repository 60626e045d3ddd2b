//! Drives that do not hold and show no clear grips over degrees.

use super::peak::Spikes;
use super::tests::{KNOWN, Run, comes_out, stands};
use super::*;

/// A stiff tool: grips of 9 N·m within a degree, and a scrape between them.
fn spikes(at_deg: &[f32], deg: f32) -> f32 {
    let near = |at: &&f32| (deg - **at).abs() < 0.6;
    if at_deg.iter().any(|at| near(&at)) {
        9.0
    } else {
        0.8
    }
}

#[test]
fn grips_too_short_for_a_mean_tell_by_their_even_distance() {
    let even = |deg: f32| spikes(&[20.0, 80.0, 140.0, 200.0], deg);
    let run = |torque_nm, out_turns| {
        Run {
            torque_nm,
            out_turns,
            ..Run::default()
        }
        .kinds()
    };
    // What lies quiet behind it may be told as well.
    assert_eq!(
        run(even, |_| None).first(),
        Some(&FindingKind::DriveStripped)
    );
    // A bolt that comes out is turned by its drive: grips later than a turn are none.
    let late = |deg: f32| {
        spikes(&[620.0, 680.0, 740.0, 800.0], deg).max(if deg < 40.0 { 9.0 } else { 0.0 })
    };
    assert!(!run(late, comes_out).contains(&FindingKind::DriveStripped));
}

#[test]
fn only_what_comes_again_after_the_same_angle_is_even() {
    let even = |at_deg: &[f32]| {
        let mut spikes = Spikes::default();
        for at in at_deg {
            spikes.follow(false, true, at.to_radians());
            spikes.follow(true, false, (at + 1.0).to_radians());
        }
        spikes.even()
    };
    assert!(even(&[20.0, 80.0, 140.0]));
    // Seats that wear by some degrees; chance; closer than any seats.
    assert!(even(&[20.0, 83.0, 140.0]));
    assert!(!even(&[20.0, 80.0, 180.0, 215.0, 400.0]));
    assert!(!even(&[20.0, 30.0, 40.0, 50.0]));
}

#[test]
fn what_lets_go_for_good_at_too_little_torque_is_the_drive_and_not_the_bolt() {
    /// Up to `peak_nm` in 5°, then nothing.
    fn lets_go(peak_nm: f32, deg: f32) -> f32 {
        if deg < 5.0 { peak_nm * deg / 5.0 } else { 0.05 }
    }
    let kinds = |torque_nm: fn(f32) -> f32| {
        Run {
            known: UndoExpected {
                least_drag_nm: 1.0,
                ..KNOWN
            },
            torque_nm,
            ..Run::default()
        }
        .kinds()
    };
    assert_eq!(
        kinds(|deg| lets_go(40.0, deg)).first(),
        Some(&FindingKind::Fracture)
    );
    assert_eq!(
        kinds(|deg| lets_go(10.0, deg)).first(),
        Some(&FindingKind::DriveStripped)
    );
}

#[test]
fn a_turn_without_torque_on_a_bolt_that_stays_is_a_drive_that_grips_nothing() {
    let nothing = |out_turns| {
        Run {
            torque_nm: |_| 0.02,
            out_turns,
            ..Run::default()
        }
        .kinds()
    };
    assert_eq!(nothing(stands).first(), Some(&FindingKind::DriveStripped));
    // One that was loose already comes out.
    assert!(!nothing(comes_out).contains(&FindingKind::DriveStripped));
    assert_eq!(nothing(|_| None), []);
}
