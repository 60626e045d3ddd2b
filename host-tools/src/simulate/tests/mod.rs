use nalgebra::{Vector3, Vector6};

use super::arm::{Joints, Model};
use super::readings::Readings;
use super::thread::Thread;
use super::*;

fn quiet(mut s: Scenario) -> Scenario {
    let zero = [0.0; JOINTS];
    s.arm = Arm {
        torque_noise_nm: zero,
        torque_quantum_nm: zero,
        coulomb_nm: zero,
        viscous_nm_s_per_rad: zero,
        ripple_nm: zero,
        bias_nm: 0.0,
        drift_nm_per_min: 0.0,
        mass_error: 0.0,
        centre_error_m: 0.0,
        position_quantum_rad: 0.0,
        velocity_noise_rad_s: 0.0,
        ..s.arm
    };
    s.sampling.gaps_per_s = 0.0;
    s.sampling.jitter_s = 0.0;
    s
}

fn spindle() -> Scenario {
    Scenario {
        mode: Mode::spindle(),
        ..Scenario::default()
    }
}

fn reseating() -> Scenario {
    let mode = Mode::WristStrokes {
        stroke_deg: 240.0,
        back: Return::LiftAndReseat {
            lift_mm: 12.0,
            seat_deg: 60.0,
        },
        speed_deg_s: 60.0,
        clamp_speed_deg_s: 20.0,
        return_speed_deg_s: 70.0,
    };
    Scenario {
        mode,
        ..Scenario::default()
    }
}

fn each_way() -> [Scenario; 3] {
    [Scenario::default(), spindle(), reseating()]
}

fn std(values: impl Iterator<Item = f64> + Clone) -> f64 {
    let n = values.clone().count() as f64;
    let mean = values.clone().sum::<f64>() / n;
    (values.map(|x| (x - mean) * (x - mean)).sum::<f64>() / (n - 1.0)).sqrt()
}

#[test]
fn urdf_is_read_by_a_general_library() {
    let robot = urdf_rs::read_from_string(URDF).unwrap();
    let turning = robot
        .joints
        .iter()
        .filter(|j| j.joint_type == urdf_rs::JointType::Revolute);
    assert_eq!(turning.count(), JOINTS);
    assert!(robot.links.iter().any(|l| l.name == "tool_flange"));
}

/// Figures of pinocchio 4.1.0 (a general rigid-body library) for the same URDF with the default tool
/// appended: `rnea`, and the Jacobian moved to the socket.
#[test]
fn arm_agrees_with_a_general_library() {
    let model = Model::nominal(&Tool::default());
    let frames = model.frames(&Joints::from(POSE_DOWN));
    let at = frames.socket.translation.vector;
    assert!((at - Vector3::new(0.52151494, 0.22188241, 0.29817442)).amax() < 1e-7);
    let dq = Joints::from([0.3, -0.2, 0.4, 0.1, -0.5, 0.6, -0.7]);
    let ddq = Joints::from([1.0, -2.0, 1.5, 0.5, -1.0, 2.0, 3.0]);
    let tau = Joints::from([
        3.2924897,
        -48.06033414,
        5.21351906,
        -19.58570977,
        -0.01952051,
        0.00170183,
        0.00207398,
    ]);
    assert!((model.inverse_dynamics(&frames, &dq, &ddq) - tau).amax() < 1e-6);
    let wrench = Vector6::new(3.0, -4.0, 5.0, 0.6, -0.7, 0.8);
    let load = Joints::from([
        -1.95170699,
        -3.63116537,
        -1.14242358,
        -3.0279066,
        -1.32320742,
        -1.18747351,
        -0.75875262,
    ]);
    assert!((model.jacobian(&frames).transpose() * wrench - load).amax() < 1e-6);
}

#[test]
fn gravity_torque_is_the_gradient_of_potential_energy() {
    let model = Model::nominal(&Tool::default());
    let energy = |q: &Joints| model.potential(&model.frames(q));
    let q = Joints::from(POSE_DOWN);
    let tau = model.inverse_dynamics(&model.frames(&q), &Joints::zeros(), &Joints::zeros());
    for i in 0..JOINTS {
        let step = Joints::from_fn(|j, _| if i == j { 1e-5 } else { 0.0 });
        let slope = (energy(&(q + step)) - energy(&(q - step))) / 2e-5;
        assert!(
            (slope - tau[i]).abs() < 1e-6,
            "joint {}: {slope} against {}",
            i + 1,
            tau[i]
        );
    }
}

#[test]
fn power_of_the_joints_is_the_change_of_energy() {
    let model = Model::nominal(&Tool::default());
    let path =
        |t: f64| Joints::from_fn(|i, _| POSE_DOWN[i] + 0.4 * (t * (1.0 + 0.3 * i as f64)).sin());
    let h = 1e-4;
    let speed = |t: f64| (path(t + h) - path(t - h)) / (2.0 * h);
    let frames = |t: f64| model.frames(&path(t));
    let energy = |t: f64| {
        let dq = speed(t);
        // Without gravity and with acceleration for velocity, inverse dynamics gives M(q) dq.
        let still = model.inverse_dynamics(&frames(t), &Joints::zeros(), &Joints::zeros());
        let momentum = model.inverse_dynamics(&frames(t), &Joints::zeros(), &dq) - still;
        0.5 * momentum.dot(&dq) + model.potential(&frames(t))
    };
    for t in [0.3, 1.1, 2.7] {
        let ddq = (path(t + h) - 2.0 * path(t) + path(t - h)) / (h * h);
        let power = model
            .inverse_dynamics(&frames(t), &speed(t), &ddq)
            .dot(&speed(t));
        let change = (energy(t + 1e-3) - energy(t - 1e-3)) / 2e-3;
        assert!(
            (power - change).abs() < 1e-3 * (1.0 + power.abs()),
            "{power} against {change}"
        );
    }
}

#[test]
fn same_scenario_gives_the_same_run() {
    for index in [0, 5] {
        let s = campaign(3, index);
        assert_eq!(s, campaign(3, index));
        assert_eq!(simulate(&s), simulate(&s));
        let other = Scenario {
            seed: s.seed ^ 1,
            ..s.clone()
        };
        assert_ne!(simulate(&s).rows, simulate(&other).rows);
    }
}

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
    let thread = Thread::new(&s.bolt, &s.fault, &mut stream(1, 1));
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
fn campaign_is_half_sound_and_ends_as_it_should() {
    for index in 0..16 {
        let s = campaign(5, index);
        let run = simulate(&s);
        let t = &run.truth;
        assert_eq!(t.fault == "none", index % 2 == 0);
        assert_eq!(t.onset_time_s.is_some(), index % 2 == 1, "run {index}");
        assert!(t.stop_time_s > 0.0, "run {index} was never stopped");
        assert_eq!(run.rows.len(), t.bolt_torque_nm.len());
        assert!(
            run.rows
                .iter()
                .all(|r| r.tau.iter().chain(&r.q).all(|x| x.is_finite()))
        );
    }
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
