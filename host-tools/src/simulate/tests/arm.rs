//! The arm, against general libraries and against itself.

use nalgebra::{Vector3, Vector6};

use super::super::arm::{Joints, Model};
use super::*;

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

/// The monitor's inertial torques, which take bodies for points, against the whole inertia: what is
/// left out is within its stated share of the largest torque there is.
#[test]
fn points_at_the_centres_of_mass_stand_for_the_bodies() {
    let tool = Tool::default();
    let text = description(
        "inertia",
        &Scenario::default(),
        &simulate(&Scenario::default()),
    );
    let dir = std::env::temp_dir().join(format!("bolting-inertia-{}", std::process::id()));
    std::fs::create_dir_all(&dir).unwrap();
    std::fs::write(dir.join("arm.urdf"), URDF).unwrap();
    let described = crate::description::Description::parse(&text, &dir.join("run.toml")).unwrap();
    std::fs::remove_dir_all(dir).unwrap();
    let ours = bolting_monitor::arm::ArmModel::<JOINTS>::try_new(&described.arm.unwrap()).unwrap();
    let model = Model::nominal(&tool);
    let still = Joints::zeros();
    for pose in [POSE_DOWN, POSE_FORWARD] {
        let frames = model.frames(&Joints::from(pose));
        let at_rest = model.inverse_dynamics(&frames, &still, &still);
        let at = ours.pose(&pose.map(|x| x as f32), true, false);
        for joint in 0..JOINTS {
            let ddq = Joints::from_fn(|i, _| if i == joint { 2.0 } else { 0.0 });
            let whole = model.inverse_dynamics(&frames, &still, &ddq) - at_rest;
            let points = ours
                .inertia(&at, true, false)
                .torque_nm(&ddq.map(|x| x as f32).into());
            let points = Joints::from(points.map(f64::from));
            let off = (points - whole).amax();
            assert!(
                off < 0.02 + f64::from(bolting_monitor::arm::INERTIA_U) * whole.amax(),
                "joint {}: {points} against {whole}",
                joint + 1
            );
        }
    }
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

/// The tool of the built-in arm, as a description states it.
fn mounting() -> Mounting {
    Mounting {
        axis: [0.0, 0.0, 1.0],
        length_m: 0.20,
        mass_kg: 1.2,
        centre_m: [0.0, 0.0, 0.08],
    }
}

const DOWN: [f64; 3] = [0.0, 0.0, -9.81];

fn machine(urdf: &str) -> Machine {
    Machine::read(urdf, None, "tool_flange", &mounting(), DOWN).unwrap()
}

/// An arm that is read like any other is the built-in one, to which a general library was held.
#[test]
fn an_arm_read_from_its_file_is_the_one_that_is_built_in() {
    let (read, own) = (machine(URDF), Model::nominal(&Tool::default()));
    let q = Joints::from(POSE_DOWN);
    let (ours, theirs) = (own.frames(&q), read.model().frames(&q));
    let off = ours.socket.translation.vector - theirs.socket.translation.vector;
    assert!(off.amax() < 1e-12);
    assert!((own.jacobian(&ours) - read.model().jacobian(&theirs)).amax() < 1e-12);
    let still = Joints::zeros();
    let weighs = |model: &Model| model.inverse_dynamics(&model.frames(&q), &still, &still);
    assert!((weighs(&own) - weighs(read.model())).amax() < 1e-9);
    assert!(read.wrist_turns && read.joints() == JOINTS);
}

#[test]
fn the_arm_stands_with_its_socket_on_the_bolt_within_its_limits() {
    let fixed = URDF.replace(
        "name=\"joint3\" type=\"revolute\"",
        "name=\"joint3\" type=\"fixed\"",
    );
    for (urdf, joints) in [(URDF, 7), (&fixed, 6)] {
        let arm = machine(urdf);
        assert_eq!(arm.joints(), joints);
        for (point, direction) in [
            ([0.55, 0.0, 0.30], [0.0, 0.0, -1.0]),
            ([0.60, 0.1, 0.55], [1.0, 0.2, 0.0]),
        ] {
            let stood = arm.stand(Some((point, direction)), Some(33.0)).unwrap();
            let frames = arm.model().frames(&Joints::from(stood.pose_rad));
            let along = Vector3::from(direction).normalize();
            let off =
                Vector3::from(point) + along * stood.along_m - frames.socket.translation.vector;
            assert!(off.amax() < 1e-5, "{off}");
            let axis = frames.socket.rotation * Vector3::z();
            assert!((axis - along).amax() < 1e-5, "{axis}");
            assert!(stood.pose_rad.iter().all(|q| q.abs() <= 2.9));
            assert!(stood.stroke_deg >= 33.0);
        }
        let far = arm.stand(Some(([3.0, 0.0, 0.3], [0.0, 0.0, -1.0])), None);
        assert!(matches!(far, Err(MachineError::Unreached { .. })));
    }
}

/// A left-hand bolt is done up by the mirrored motion: the torque on the spindle has the other sign.
#[test]
fn a_left_hand_bolt_turns_the_other_way() {
    let spun = |left_hand| {
        let mut s = Scenario {
            mode: Mode::spindle(),
            ..Scenario::default()
        };
        s.bolt.left_hand = left_hand;
        simulate(&s)
    };
    let (right, left) = (spun(false), spun(true));
    assert_eq!(right.truth.final_torque_nm, left.truth.final_torque_nm);
    let most = |run: &SimulatedRun| {
        let torques = run.rows.iter().filter_map(|r| Some(r.spindle?[1]));
        torques.max_by(|a, b| a.abs().total_cmp(&b.abs())).unwrap()
    };
    assert!(most(&right) > 45.0 && most(&left) < -45.0);
}

/// A clamped bolt stands until its torque is reached, then takes what is left of the elastic angle.
#[test]
fn a_bolt_that_carries_a_torque_goes_on_from_it() {
    let mut s = Scenario {
        mode: Mode::spindle(),
        ..Scenario::default()
    };
    s.bolt.carried_nm = 24.0;
    let truth = simulate(&s).truth;
    let moved = truth.bolt_angle_rad.iter().position(|a| *a > 1e-3).unwrap();
    assert!(truth.bolt_torque_nm[..moved].iter().all(|t| *t < 26.0));
    // Half of the torque is half of 60°.
    let turned = truth.final_angle_rad.to_degrees();
    assert!((turned - 30.0).abs() < 3.0, "{turned}");
    assert_eq!(truth.snug_angle_rad, None);
}

#[test]
fn a_scenario_file_from_before_is_read_as_it_was_meant() {
    let printed = toml::to_string(&Scenario::default()).unwrap();
    for new in ["carried_nm", "left_hand", "until", "each"] {
        assert!(!printed.contains(new), "{new} in {printed}");
    }
    let read: Scenario = toml::from_str(&printed).unwrap();
    assert_eq!(read, Scenario::default());
}
