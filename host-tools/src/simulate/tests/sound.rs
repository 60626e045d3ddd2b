//! Bolt, socket and hand of runs that are done up.

use super::super::thread::Thread;
use super::*;

#[test]
fn sound_bolts_stop_near_the_target_past_snug() {
    for s in each_way() {
        let truth = simulate(&s).truth;
        let wanted = s.bolt.target_nm * (1.0 + s.operator.overshoot);
        assert!(
            (truth.final_torque_nm / wanted - 1.0).abs() < 0.03,
            "{}",
            truth.final_torque_nm
        );
        let past = (truth.final_angle_rad - truth.snug_angle_rad.unwrap()).to_degrees();
        assert!(
            (past - s.bolt.elastic_deg).abs() < 0.06 * s.bolt.elastic_deg,
            "{past}"
        );
    }
}

#[test]
fn elastic_line_meets_the_prevailing_line_at_snug() {
    let mut s = spindle();
    s.bolt.grain = 0.0;
    s.bolt.clamp_grain = 0.0;
    // What a joint loses where the spindle stops moves the line.
    s.bolt.embedding = 0.0;
    let run = simulate(&s);
    let t = &run.truth;
    let points = t.bolt_angle_rad.iter().zip(&t.bolt_torque_nm);
    let clamped: Vec<(f64, f64)> = points
        .filter(|(_, t)| **t > 30.0 && **t < 40.0)
        .map(|(a, t)| (*a, *t))
        .collect();
    let (first, last) = (clamped[0], clamped[clamped.len() / 2]);
    let slope = (last.1 - first.1) / (last.0 - first.0);
    assert!((slope / t.elastic_rate_nm_per_rad - 1.0).abs() < 1e-3);
    let met = first.0 - (first.1 - s.bolt.running_nm) / slope;
    assert!((met - t.snug_angle_rad.unwrap()).abs() < 1e-3);
}

#[test]
fn sound_curve_has_no_step_and_its_slope_never_falls_before_yield() {
    let s = Scenario::default();
    let thread = Thread::new(&s, &mut stream(1, 1));
    let grid = 1e-3;
    let torque = |i: usize| thread.expected(thread.snug - 0.5 + grid * i as f64);
    let mut last = 0.0;
    for i in 0..1500 {
        let slope = (torque(i + 1) - torque(i)) / grid;
        // A quadratic toe over a fifth of 60 degrees: its slope changes by rate / 0.21 rad.
        let most = 1.01 * grid * thread.rate / 0.2094;
        assert!(
            slope - last > -1e-6 && slope - last < most,
            "at {i}: {last} to {slope}"
        );
        last = slope;
    }
    assert!((last / thread.rate - 1.0).abs() < 1e-9);
}

#[test]
fn tool_angle_less_windup_and_play_is_the_bolt_angle() {
    // One offset per run without ratchet: the seat. Taken where the bolt turns, it must be constant.
    let s = spindle();
    let run = simulate(&s);
    let t = &run.truth;
    let offsets: Vec<f64> = (1..run.rows.len())
        .filter(|&i| t.bolt_angle_rad[i] > t.bolt_angle_rad[i - 1])
        .map(|i| {
            t.tool_angle_rad[i]
                - t.bolt_torque_nm[i] / s.tool.windup_nm_per_rad
                - t.bolt_angle_rad[i]
        })
        .collect();
    assert!(offsets.len() > 1000);
    let spread = offsets
        .iter()
        .fold((f64::MAX, f64::MIN), |(a, b), x| (a.min(*x), b.max(*x)));
    assert!(spread.1 - spread.0 < 1e-6, "{spread:?}");
}

#[test]
fn play_is_crossed_without_torque_after_every_stroke() {
    let s = quiet(reseating());
    let t = simulate(&s).truth;
    let mut idle = 0.0f64;
    let mut crossed = 0;
    for i in 1..t.bolt_angle_rad.len() {
        let forward = t.tool_angle_rad[i] - t.tool_angle_rad[i - 1];
        if t.bolt_torque_nm[i].abs() < 1e-9 && forward > 0.0 {
            idle += forward;
        } else if t.bolt_angle_rad[i] > t.bolt_angle_rad[i - 1] {
            crossed += usize::from(idle > 1e-4);
            idle = 0.0;
        }
    }
    assert!(crossed >= 5, "{crossed} strokes of a five-turn rundown");
}

#[test]
fn bolt_stands_still_while_the_wrist_goes_back() {
    for s in [Scenario::default(), reseating()] {
        let t = simulate(&s).truth;
        for i in 1..t.bolt_angle_rad.len() {
            let back = t.tool_angle_rad[i] < t.tool_angle_rad[i - 1] - 1e-6;
            let moved = t.bolt_angle_rad[i] - t.bolt_angle_rad[i - 1];
            assert!(moved >= 0.0 && (!back || moved < 1e-3), "row {i}: {moved}");
        }
    }
}

#[test]
fn straight_thread_advances_by_its_pitch_and_a_crossed_one_does_not() {
    let pitch = Scenario::default().bolt.pitch_mm * 1e-3 / std::f64::consts::TAU;
    for s in each_way() {
        let t = simulate(&s).truth;
        let snug = t.snug_angle_rad.unwrap();
        for (angle, advance) in t
            .bolt_angle_rad
            .iter()
            .zip(&t.advance_m)
            .filter(|(a, _)| **a < snug)
        {
            assert!((advance - pitch * angle).abs() < 1e-12);
        }
    }
    let s = Scenario {
        fault: Fault::cross_thread(),
        ..spindle()
    };
    let t = simulate(&s).truth;
    let past = t.final_angle_rad - t.onset_angle_rad.unwrap();
    let short = pitch * t.final_angle_rad - t.advance_m.last().unwrap();
    assert!((short - 0.5 * pitch * past).abs() < 1e-9);
}

#[test]
fn stripped_thread_falls_from_its_peak_and_advances_no_more() {
    for s in each_way() {
        let s = Scenario {
            fault: Fault::strip(),
            ..s
        };
        let t = simulate(&s).truth;
        let onset = t.onset_angle_rad.unwrap();
        assert!(t.peak_angle_rad >= onset && t.peak_angle_rad < onset + 10f64.to_radians());
        assert!(t.final_torque_nm < 0.5 * t.peak_torque_nm);
        assert!(t.final_angle_rad - onset >= 180f64.to_radians());
        let at_onset = t.bolt_angle_rad.iter().position(|a| *a >= onset).unwrap();
        assert!((t.advance_m.last().unwrap() - t.advance_m[at_onset]).abs() < 1e-9);
    }
}
