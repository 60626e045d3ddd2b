//! Bolts that are undone.

use super::super::joint::moment_arms;
use super::*;

fn undo(fault: Fault) -> Truth {
    simulate(&undoing(fault)).truth
}

fn undoing(fault: Fault) -> Scenario {
    let mut s = Scenario {
        direction: Direction::Undo,
        ..bad(fault)
    };
    if let Mode::PoweredSpindle { steps, .. } = &mut s.mode {
        steps.truncate(1);
        steps[0].rpm = 5.0;
    }
    s
}

/// M8, undoing over tightening torque: worked out from the long form of the torque-preload relation
/// (ISO 16047), as in `../shared/references/bolting-check-values.md`, section 6.
#[test]
fn breakaway_over_tightening_torque_is_that_of_the_long_form() {
    for (friction, expected) in [(0.10, 0.65), (0.12, 0.70), (0.14, 0.74)] {
        let mut s = undoing(Fault::None);
        s.bolt.friction = friction;
        s.bolt.breakaway = 0.0;
        s.bolt.clamp_grain = 0.0;
        s.bolt.running_nm = 0.01;
        s.bolt.diameter_mm = 8.0;
        s.bolt.pitch_mm = 1.25;
        let ratio = simulate(&s).truth.breakaway_ratio.unwrap();
        assert!((ratio - expected).abs() < 0.01, "{ratio} at {friction}");
        // On less off torque is F P/pi: friction cancels.
        let preload = s.bolt.target_nm / moment_arms(8.0, 1.25, friction).iter().sum::<f64>();
        let difference = s.bolt.target_nm * (1.0 - ratio);
        let due = preload * 1.25e-3 / std::f64::consts::PI;
        assert!((difference / due - 1.0).abs() < 0.02);
    }
}

#[test]
fn torque_falls_over_the_elastic_angle_runs_out_and_ends_with_the_last_thread() {
    let t = undo(Fault::None);
    assert!(torque_at(&t, 30.0) < -0.6 * t.peak_torque_nm);
    for angle in [80.0, 400.0, 1200.0] {
        let torque = torque_at(&t, angle);
        assert!((0.2..1.2).contains(&torque), "{torque} at {angle}");
    }
    let free = t.free_angle_rad.unwrap().to_degrees();
    assert!((free + 5.0 * 360.0 + 60.0).abs() < 1e-6);
    assert!(torque_at(&t, 1.0 - free) < 1e-3);
    // Five turns of 1.5 mm, and what the parts had been pressed together.
    let out = -1e3 * t.advance_m.last().unwrap();
    assert!((7.5..8.0).contains(&out), "{out} mm");
    assert!(t.free_time_s.unwrap() < t.stop_time_s && t.sound);
}

#[test]
fn readings_of_an_undone_bolt_are_negative() {
    let run = simulate(&quiet(undoing(Fault::None)));
    let [angle, _] = run.rows.last().unwrap().spindle.unwrap();
    assert!(angle < -5.0 * std::f64::consts::TAU);
    let torque = run.rows.iter().map(|r| r.spindle.unwrap()[1]);
    let least = torque.fold(0.0, f64::min);
    assert!((least / run.truth.peak_torque_nm - 1.0).abs() < 0.05);
    // The last joint holds the spindle: it reads the same moment.
    let free = run.rows[100].tau[6];
    let held = run.rows.iter().map(|r| r.tau[6] - free).fold(0.0, f64::min);
    assert!((held / least - 1.0).abs() < 0.1, "{held} against {least}");
}

#[test]
fn a_bolt_with_its_nut_turns_on_at_constant_drag_without_coming_out() {
    let t = undo(Fault::TurningTogether {
        drag_fraction: 0.3,
        stop_turns: 2.0,
    });
    for angle in [10.0, 200.0, 700.0] {
        assert!((torque_at(&t, angle) / 14.4 - 1.0).abs() < 0.25);
    }
    assert!(t.advance_m.iter().all(|a| *a == 0.0) && t.free_angle_rad.is_none());
}

#[test]
fn a_seized_bolt_stands_and_a_broken_one_lets_go_for_good() {
    let t = undo(Fault::Seized {
        limit_fraction: 1.3,
    });
    let most = t.bolt_torque_nm.iter().copied().fold(0.0, f64::min);
    // A spindle of 5 turns a minute winds up on while it stops, some 20 N·m at most.
    let limit = 1.3 * 48.0;
    assert!(-most > 0.95 * limit && -most < limit + 20.0, "{most}");
    assert_eq!(t.final_angle_rad, 0.0);
    let t = undo(Fault::Fracture {
        onset_fraction: 1.0,
        neck_deg: 5.0,
        drop_deg: 10.0,
        carry_on_deg: 90.0,
    });
    assert!(t.peak_torque_nm < -46.0 && t.breakaway_ratio.is_none());
    assert!(torque_at(&t, 16.0) < 1.0 && torque_at(&t, 80.0) < 1.0);
    assert!(t.advance_m.iter().all(|a| *a == 0.0));
}

#[test]
fn a_worn_drive_gives_low_torque_that_repeats_with_the_seats() {
    let t = undo(Fault::DriveStripped {
        grip_fraction: 0.1,
        seat_deg: 60.0,
        carry_on_deg: 300.0,
    });
    assert_eq!(t.final_angle_rad, 0.0);
    let torque = |i: usize| -t.bolt_torque_nm[i];
    assert!((0..t.bolt_torque_nm.len()).all(|i| torque(i) < 0.12 * 48.0));
    let falls: Vec<f64> = (1..t.bolt_torque_nm.len())
        .filter(|&i| torque(i - 1) > 3.5 && torque(i) < 2.0)
        .map(|i| -t.tool_angle_rad[i].to_degrees())
        .collect();
    assert!(falls.len() >= 5, "{falls:?}");
    let mut apart = falls.windows(2).map(|w| w[1] - w[0]);
    assert!(apart.all(|a| (a - 60.0).abs() < 1.5), "{falls:?}");
}

#[test]
fn galling_on_run_out_grows_instead_of_falling() {
    let t = undo(Fault::Galling {
        onset_turns: 1.0,
        seize_turns: 1.5,
        bind_fraction: 0.6,
        roughness: 0.2,
    });
    assert!(torque_at(&t, 300.0) < 1.5);
    assert!(torque_at(&t, 850.0) > 2.0 * torque_at(&t, 600.0));
    assert!(t.free_angle_rad.is_none());
}
