//! What is read of the joints.

use nalgebra::Vector3;

use super::super::arm::{Joints, Model};
use super::super::readings::Readings;
use super::*;

#[test]
fn readings_are_rigid_body_plus_the_wrench_when_nothing_is_wrong() {
    let run = simulate(&quiet(Scenario::default()));
    let model = Model::nominal(&Tool::default());
    let still = |i: usize| run.rows[i].dq.iter().all(|v| v.abs() < 1e-5);
    let mut seen = 0;
    for i in (0..run.rows.len()).filter(|i| still(*i)) {
        let row = &run.rows[i];
        let frames = model.frames(&Joints::from(row.q));
        let gravity = model.inverse_dynamics(&frames, &Joints::zeros(), &Joints::zeros());
        if row.time_s < run.truth.contact_time_s - 0.7 {
            assert!((Joints::from(row.tau) - gravity).amax() < 0.01);
            seen += 1;
        }
    }
    assert!(seen > 300);
    // With the tool along the last joint, that joint reads the bolt torque but for the tilt.
    let peak = run
        .rows
        .iter()
        .position(|r| r.time_s >= run.truth.peak_time_s)
        .unwrap();
    let row = &run.rows[peak];
    let frames = model.frames(&Joints::from(row.q));
    let gravity = model.inverse_dynamics(&frames, &Joints::zeros(), &Joints::zeros());
    let read = row.tau[6] - gravity[6];
    assert!(
        (read - run.truth.bolt_torque_nm[peak]).abs() < 0.5,
        "{read}"
    );
}

#[test]
fn noise_is_as_strong_as_asked() {
    let mut s = quiet(Scenario::default());
    s.arm.torque_noise_nm = [0.05; JOINTS];
    s.operator.free_s = 3.0;
    let run = simulate(&s);
    let free = run.rows.iter().filter(|r| r.time_s < 2.9);
    for j in 0..JOINTS {
        let found = std(free.clone().map(|r| r.tau[j]));
        // 2,900 samples: the standard error of a standard deviation is 1.3 %.
        assert!(
            (found / 0.05 - 1.0).abs() < 0.06,
            "joint {}: {found}",
            j + 1
        );
    }
}

#[test]
fn friction_at_rest_lies_anywhere_within_the_band() {
    let mut s = quiet(Scenario::default());
    s.arm.coulomb_nm = [1.0; JOINTS];
    s.arm.friction_error = 0.0;
    s.arm.stribeck = 0.0;
    let gravity = simulate(&quiet(Scenario::default())).rows[100].tau;
    let mut seen = Vec::new();
    for seed in 0..12 {
        s.seed = seed;
        let mut readings = Readings::new(&s.arm, stream(seed, 3));
        readings.advance(&Joints::zeros(), 1e-3);
        let q = Joints::zeros();
        seen.extend(
            readings
                .torques(&Joints::from(gravity), &q, &q)
                .iter()
                .zip(gravity)
                .map(|(t, g)| t - g),
        );
    }
    assert!(seen.iter().all(|f| f.abs() <= 1.0));
    // Uniform in ±1: standard deviation 0.58, here over 84 draws.
    assert!((std(seen.into_iter()) - 0.577).abs() < 0.12);
}

#[test]
fn gaps_come_as_asked_and_time_never_runs_back() {
    let mut s = Scenario::default();
    s.sampling.gaps_per_s = 2.0;
    let run = simulate(&s);
    let steps: Vec<f64> = run
        .rows
        .windows(2)
        .map(|w| w[1].time_s - w[0].time_s)
        .collect();
    assert!(
        steps
            .iter()
            .all(|d| *d > 0.0 && *d < s.sampling.gap_max_s + 1e-3)
    );
    let gaps = steps.iter().filter(|d| **d > 0.0015).count() as f64;
    let expected = 2.0 * run.rows.last().unwrap().time_s;
    assert!(
        (gaps - expected).abs() < 4.0 * expected.sqrt(),
        "{gaps} of {expected}"
    );
}

#[test]
fn start_is_free_of_contact_for_the_tare() {
    for index in 0..8 {
        let run = simulate(&campaign(11, index));
        assert!(run.truth.contact_time_s > 0.5);
        let contact = run
            .truth
            .bolt_torque_nm
            .iter()
            .position(|t| *t != 0.0)
            .unwrap();
        assert!(run.rows[contact].time_s > run.truth.contact_time_s - 0.01);
    }
}

#[test]
fn floor_grows_where_the_joints_cannot_see_the_bolt() {
    let good = simulate(&spindle()).truth;
    assert!(good.torque_floor_nm < 1.0 && good.torque_floor_turning_nm <= good.torque_floor_nm);
    let mut s = spindle();
    s.tool.angle_head = true;
    s.arm.pose_rad = POSE_NEAR_SINGULAR;
    let bad = simulate(&s).truth;
    assert!(
        bad.torque_floor_nm > 5.0 * good.torque_floor_nm,
        "{}",
        bad.torque_floor_nm
    );
}

#[test]
fn measured_positions_carry_the_tool_angle_and_the_advance() {
    let mut s = quiet(Scenario::default());
    s.operator.axial_wander_mm = 0.0;
    let run = simulate(&s);
    let model = Model::nominal(&s.tool);
    let t = &run.truth;
    let axis = Vector3::from(t.axis_direction);
    let socket = |i: usize| model.frames(&Joints::from(run.rows[i].q)).socket;
    let start = run
        .rows
        .iter()
        .position(|r| r.time_s > t.contact_time_s)
        .unwrap();
    let first = socket(start);
    let mut turned = 0.0;
    let mut last = first;
    for i in start..run.rows.len() {
        let now = socket(i);
        turned += (now.rotation * last.rotation.inverse())
            .scaled_axis()
            .dot(&axis);
        last = now;
        if run.rows[i].time_s > t.stop_time_s {
            break;
        }
        // The structure's lag and the tilt of the tool are all that stands between the two.
        let error = turned - (t.tool_angle_rad[i] - t.tool_angle_rad[start]);
        assert!(error.abs() < 2e-3, "row {i}: {error} rad");
        let along = (now.translation.vector - first.translation.vector).dot(&axis);
        // The servos give way under push and hand forces by some tenths of a millimetre.
        let error = along - t.advance_m[i];
        assert!(error.abs() < 1e-3, "row {i}: {error} m");
    }
}
