//! Faults of bolts that are done up: each does what its physics says.

use super::super::arm::{Joints, Model};
use super::*;

fn run(fault: Fault) -> Truth {
    simulate(&bad(fault)).truth
}

fn deg(angle: Option<f64>) -> f64 {
    angle.unwrap().to_degrees()
}

fn slope(t: &Truth, from: f64, to: f64) -> f64 {
    (torque_at(t, to) - torque_at(t, from)) / (to - from).to_radians()
}

#[test]
fn a_thread_that_has_not_caught_neither_advances_nor_resists() {
    let t = run(Fault::NotStarted {
        drag_part: 0.1,
        stop_turns: 2.0,
    });
    assert!(t.final_angle_rad.to_degrees() > 719.0);
    assert!(t.peak_torque_nm < 0.2 && t.advance_m.iter().all(|a| *a == 0.0));
}

#[test]
fn debris_and_bottoming_bear_before_snug_softer_and_harder_than_the_joint() {
    let start = 4.0 * 360.0;
    let soft = run(Fault::Debris {
        early_turns: 1.0,
        slope_ratio: 0.5,
        roughness: 0.0,
    });
    assert!((deg(soft.onset_angle_rad) - start).abs() < 1e-6);
    let ratio = slope(&soft, start + 20.0, start + 60.0) / soft.elastic_rate_nm_per_rad;
    assert!((ratio - 0.5).abs() < 0.03, "{ratio}");
    let hard = run(Fault::Bottoming {
        early_turns: 1.0,
        rate_nm_per_rad: 300.0,
    });
    let found = slope(&hard, start + 5.8, start + 8.0);
    assert!((found / 300.0 - 1.0).abs() < 0.15, "{found}");
    assert!(soft.snug_angle_rad.is_none() && hard.snug_angle_rad.is_none());
}

#[test]
fn a_false_snug_rises_clears_and_leaves_a_sound_bolt() {
    let t = run(Fault::FalseSnug {
        early_turns: 0.5,
        height_fraction: 0.2,
        rise_deg: 20.0,
        clear_deg: 10.0,
    });
    let top = deg(t.onset_angle_rad);
    assert!((top - (4.5 * 360.0 + 20.0)).abs() < 1e-6);
    assert!(torque_at(&t, top) > 9.0 && torque_at(&t, top + 10.0) < 1.2);
    assert!(t.sound && (t.final_torque_nm / 48.48 - 1.0).abs() < 0.03);
}

#[test]
fn a_missing_part_shifts_snug_by_its_thickness_over_the_pitch() {
    let sound = run(Fault::None);
    let late = run(Fault::MissingPart { thickness_mm: 2.0 });
    let shift = deg(late.snug_angle_rad) - deg(sound.snug_angle_rad);
    assert!((shift - 360.0 * 2.0 / 1.5).abs() < 1e-6, "{shift}");
    assert_eq!(late.onset_angle_rad, sound.snug_angle_rad);
}

#[test]
fn galling_grows_over_turns_while_the_thread_advances_and_then_seizes() {
    let s = bad(Fault::Galling {
        onset_turns: 2.0,
        seize_turns: 1.0,
        bind_fraction: 0.5,
        roughness: 0.2,
    });
    let t = simulate(&s).truth;
    let mean = |from: f64| {
        let torques = (0..30).map(|i| torque_at(&t, from + f64::from(i)));
        torques.sum::<f64>() / 30.0
    };
    let (a, b, c) = (mean(750.0), mean(850.0), mean(1000.0));
    assert!(a < b && b < c, "{a}, {b}, {c}");
    assert!(t.final_angle_rad.to_degrees() < 1080.0 + 15.0);
    let pitch = s.bolt.pitch_mm * 1e-3 / std::f64::consts::TAU;
    assert!((t.advance_m.last().unwrap() - pitch * t.final_angle_rad).abs() < 1e-9);
}

#[test]
fn a_wrong_locking_feature_stays_level_out_of_its_band() {
    let t = run(Fault::PrevailingHigh {
        torque_nm: 5.0,
        entry_turns: 1.0,
    });
    let at = |i: i32| torque_at(&t, 360.0 + 150.0 * f64::from(i));
    let levels: Vec<f64> = (1..9).map(at).collect();
    assert!(levels.iter().all(|l| (4.3..7.0).contains(l)), "{levels:?}");
    let mut s = bad(Fault::PrevailingLow { left: 0.1 });
    s.bolt.locking = Some(Locking {
        torque_nm: 5.0,
        entry_turns: 1.0,
        rise_turns: 0.5,
        grain: 0.05,
    });
    let dead = simulate(&s).truth;
    assert!(torque_at(&dead, 3.0 * 360.0) < 1.7);
    assert!((deg(dead.onset_angle_rad) - 540.0).abs() < 1e-6);
}

#[test]
fn a_tight_bolt_stands_until_its_torque_comes_back() {
    let t = run(Fault::AlreadyTight { fraction: 0.8 });
    let first = t.bolt_angle_rad.iter().position(|a| *a > 0.0).unwrap();
    assert!(t.bolt_torque_nm[first] > 0.78 * 48.0);
    assert!(t.final_angle_rad.to_degrees() < 20.0 && t.snug_angle_rad.is_none());
}

#[test]
fn a_yielding_bolt_goes_on_at_a_lower_slope_and_a_breaking_one_lets_go() {
    let t = run(Fault::Yield {
        onset_fraction: 0.5,
        carry_on_deg: 145.0,
    });
    let onset = deg(t.onset_angle_rad);
    let after = slope(&t, onset + 100.0, onset + 140.0) / t.elastic_rate_nm_per_rad;
    assert!(after > 0.0 && after < 0.25, "{after}");
    assert_eq!((t.fault.as_str(), t.sound), ("early_yield", false));

    let t = run(Fault::Fracture {
        onset_fraction: 1.0,
        neck_deg: 20.0,
        drop_deg: 10.0,
        carry_on_deg: 90.0,
    });
    let onset = deg(t.onset_angle_rad);
    assert!(torque_at(&t, onset - 1.0) > 45.0);
    for past in [11.0, 30.0, 80.0] {
        assert!(torque_at(&t, onset + past) < 0.1 * t.peak_torque_nm);
    }
}

#[test]
fn a_slipping_socket_turns_seat_by_seat_while_the_bolt_stands() {
    let t = run(Fault::SocketSlip {
        grip_fraction: 0.5,
        wear: 0.95,
        seat_deg: 60.0,
        carry_on_deg: 300.0,
    });
    let start = t.bolt_torque_nm.iter().position(|x| *x > 23.9).unwrap();
    assert_eq!(Some(t.final_angle_rad), t.onset_angle_rad);
    // The teeth of the saw: where the torque breaks off from near the grip of its seat.
    let falls: Vec<f64> = (start..t.bolt_torque_nm.len())
        .filter(|&i| t.bolt_torque_nm[i - 1] > 15.0 && t.bolt_torque_nm[i] < 8.0)
        .map(|i| t.tool_angle_rad[i].to_degrees())
        .collect();
    assert!(falls.len() >= 5, "{falls:?}");
    let apart = falls.windows(2).map(|w| w[1] - w[0]);
    assert!(
        apart.into_iter().all(|a| (a - 60.0).abs() < 1.5),
        "{falls:?}"
    );
}

#[test]
fn stick_slip_turns_in_steps_and_is_harmless() {
    let t = run(Fault::StickSlip { amplitude: 0.1 });
    let clamped = t.snug_angle_rad.unwrap() + 0.3;
    let rows = || (1..t.bolt_angle_rad.len()).filter(|&i| t.bolt_angle_rad[i - 1] > clamped);
    let turning = rows().filter(|&i| t.bolt_angle_rad[i] > t.bolt_angle_rad[i - 1]);
    let (steps, all) = (turning.count(), rows().count());
    assert!(steps > 20 && 4 * steps < all, "{steps} of {all}");
    assert!(t.sound && t.snug_angle_rad == run(Fault::None).snug_angle_rad);
}

#[test]
fn the_hand_stops_where_it_is_told_to() {
    let under = run(Fault::UnderTorque { stop_fraction: 0.6 });
    assert!((under.final_torque_nm / 48.0 - 0.6).abs() < 0.03);
    let over = run(Fault::OverTorque { stop_fraction: 1.3 });
    assert!((over.final_torque_nm / 48.0 - 1.3).abs() < 0.03);
    assert!((torque_at(&over, deg(over.onset_angle_rad)) / 52.8 - 1.0).abs() < 0.04);
    let soft = run(Fault::OverAngle { soft_ratio: 2.5 });
    assert!((deg(soft.onset_angle_rad) - deg(soft.snug_angle_rad) - 90.0).abs() < 1e-6);
    assert!(soft.final_angle_rad > soft.onset_angle_rad.unwrap());
}

/// By hand: friction holds the head of a tool that stands wound up at what the clamp force bears; it
/// loses 0.4·(1 − e⁻³) of it in three time constants, and the embedding of every joint beside.
#[test]
fn a_relaxing_joint_loses_its_part_under_a_tool_that_stands() {
    let fault = Fault::Relaxation {
        loss: 0.4,
        time_s: 0.5,
    };
    let held = |fault: Fault| {
        let mut s = quiet(bad(fault));
        s.operator.relaxation = 0.0;
        s.bolt.running_nm = 0.01;
        let run = simulate(&s);
        let t = &run.truth;
        let at = |time: f64| run.rows.iter().position(|r| r.time_s >= time).unwrap();
        let (stop, end) = (at(t.stop_time_s), at(t.stop_time_s + 1.49));
        let crept = (t.bolt_angle_rad[end] - t.bolt_angle_rad[stop]).to_degrees();
        // The bolt was turned on with what it had at the stop.
        assert!((t.bolt_torque_nm[stop] / t.final_torque_nm - 1.0).abs() < 0.01);
        (t.bolt_torque_nm[end] / t.bolt_torque_nm[stop], crept)
    };
    let (left, crept) = held(fault);
    let due = 1.0 - 0.4 * (1.0 - (-3f64).exp()) - 0.05 * 16f64.ln() / 1201f64.ln();
    assert!(
        (left - due).abs() < 0.03,
        "{left} against {due}, crept {crept}"
    );
    // It creeps on by the wind-up of what the tool has lost.
    assert!(crept > 0.05 && crept < 2.0, "{crept}");
}

#[test]
fn a_lifting_tool_comes_off_along_the_axis_and_leaves_the_bolt_where_it_is() {
    let mut s = quiet(bad(Fault::ToolLifting {
        onset_turns: 2.0,
        speed_mm_s: 4.0,
        depth_mm: 6.0,
    }));
    s.operator.axial_wander_mm = 0.0;
    let run = simulate(&s);
    let t = &run.truth;
    let model = Model::nominal(&s.tool);
    let axis = nalgebra::Vector3::from(t.axis_direction);
    let along = |row: &Row| {
        let frames = model.frames(&Joints::from(row.q));
        frames.socket.translation.vector.dot(&axis)
    };
    let at = |time: f64| run.rows.iter().position(|r| r.time_s >= time).unwrap();
    let (began, ended) = (at(t.onset_time_s.unwrap()), at(t.stop_time_s));
    let way = t.advance_m[ended] - t.advance_m[began];
    let retreat = along(&run.rows[began]) - along(&run.rows[ended]) + way;
    assert!((retreat - 0.006).abs() < 1.5e-3, "{retreat}");
    assert_eq!(t.bolt_torque_nm[ended], 0.0);
    assert!(t.snug_angle_rad.is_none());
}
