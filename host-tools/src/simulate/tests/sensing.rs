//! Faulty readings, loads that are none of the bolt's, and what happens around it.

use super::super::arm::{Joints, Model};
use super::super::readings::Readings;
use super::*;

/// The run with the fault, and the same without it: all else alike.
fn pair(fault: Fault) -> [SimulatedRun; 2] {
    let s = quiet(bad(fault));
    let sound = Scenario {
        fault: Fault::None,
        ..s.clone()
    };
    [simulate(&s), simulate(&sound)]
}

fn row_at(run: &SimulatedRun, time: f64) -> usize {
    run.rows.iter().position(|r| r.time_s >= time).unwrap()
}

fn change(a: &Row, b: &Row) -> Joints {
    Joints::from(b.tau) - Joints::from(a.tau)
}

#[test]
fn a_saturated_sensor_stands_at_the_end_of_its_range() {
    let [run, sound] = pair(Fault::SensorSaturated {
        joint: 7,
        limit_nm: 20.0,
    });
    let most = |run: &SimulatedRun| run.rows.iter().map(|r| r.tau[6].abs()).fold(0.0, f64::max);
    assert!(most(&run) == 20.0 && most(&sound) > 40.0);
    let before = row_at(&run, run.truth.onset_time_s.unwrap() - 0.01);
    assert!(run.rows[before].tau[6].abs() < 20.0);
}

#[test]
fn a_frozen_sensor_does_not_change_and_a_drifting_one_runs_away() {
    let [run, _] = pair(Fault::SensorFrozen {
        joint: 4,
        onset_turns: 2.0,
    });
    let from = row_at(&run, run.truth.onset_time_s.unwrap()) + 1;
    let mut later = run.rows[from..].iter();
    assert!(later.all(|r| r.tau[3] == run.rows[from].tau[3]));
    let [run, sound] = pair(Fault::SensorDrift {
        joint: 2,
        rate_nm_per_s: 0.2,
    });
    let last = run.rows.len() - 1;
    let away = change(&sound.rows[last], &run.rows[last])[1];
    let due = 0.2 * (run.rows[last].time_s - run.truth.onset_time_s.unwrap());
    assert!((away / due - 1.0).abs() < 0.01, "{away} against {due}");
}

#[test]
fn a_burst_is_as_long_as_asked() {
    let [run, _] = pair(Fault::SamplesStale {
        onset_turns: 2.0,
        gap_s: 0.4,
    });
    let steps = run.rows.windows(2).map(|w| w[1].time_s - w[0].time_s);
    let longest = steps.fold(0.0, f64::max);
    assert!((longest - 0.4).abs() < 3e-3, "{longest}");
}

/// Virtual work: torque times joint motion is force times what the point moves, by differences.
#[test]
fn joints_hold_against_a_force_on_a_link() {
    let model = Model::nominal(&Tool::default());
    let force = nalgebra::Vector3::new(10.0, -20.0, 30.0);
    let point = |q: &Joints| model.link_end(&model.frames(q), 4);
    let q = Joints::from(POSE_DOWN);
    let tau = model.holding(&model.frames(&q), 4, &force);
    for i in 0..JOINTS {
        let step = Joints::from_fn(|j, _| if i == j { 1e-6 } else { 0.0 });
        let moved = (point(&(q + step)) - point(&(q - step))) / 2e-6;
        assert!((tau[i] + force.dot(&moved)).abs() < 1e-5, "joint {}", i + 1);
    }
}

#[test]
fn contact_elsewhere_and_side_load_leave_the_bolt_alone() {
    for fault in [
        Fault::ContactElsewhere {
            link: 4,
            onset_turns: 2.0,
            force_n: [20.0, 20.0, -10.0],
        },
        Fault::SideLoad {
            onset_turns: 2.0,
            moment_nm: 15.0,
            direction_deg: 40.0,
        },
    ] {
        let [run, sound] = pair(fault);
        assert_eq!(run.truth.bolt_torque_nm, sound.truth.bolt_torque_nm);
        let onset = run.truth.onset_time_s.unwrap();
        let at = row_at(&run, onset + 1.0);
        assert!(change(&sound.rows[at], &run.rows[at]).amax() > 2.0);
        let before = row_at(&run, onset - 0.1);
        assert_eq!(run.rows[before].tau, sound.rows[before].tau);
    }
}

#[test]
fn switches_and_payload_are_in_the_rows_and_do_what_they_say() {
    let mut s = quiet(spindle());
    s.events = vec![
        Event::ForceRatio {
            at_turns: 0.5,
            ratio: 4.0,
        },
        Event::Payload { at_turns: 1.0 },
        Event::FootSwitch {
            at_turns: 2.0,
            lasts_s: 1.0,
        },
        Event::Payload { at_turns: 3.0 },
    ];
    let run = simulate(&s);
    let first = |so: fn(&Context) -> bool| run.rows.iter().position(|r| so(&r.context)).unwrap();
    let last = |so: fn(&Context) -> bool| run.rows.iter().rposition(|r| so(&r.context)).unwrap();
    let (off, on) = (first(|c| !c.arm_enabled), last(|c| !c.arm_enabled));
    let away = run.rows[on].time_s - run.rows[off].time_s;
    assert!((away - 1.0).abs() < 0.01, "{away}");
    let angle = &run.truth.bolt_angle_rad;
    assert_eq!(angle[on], angle[on - 300]);
    assert_eq!(run.rows.last().unwrap().context.force_ratio, 4.0);
    // Taking 1 kg up at the flange loads the joints; setting it down unloads them.
    let (take, set) = (first(|c| c.payload_held), last(|c| c.payload_held));
    for [i, j] in [[take - 1, take], [set + 1, set]] {
        let change = change(&run.rows[i], &run.rows[j]).amax();
        assert!((3.0..10.0).contains(&change), "{change}");
    }
    assert!((run.truth.final_torque_nm / 48.48 - 1.0).abs() < 0.03);
}

#[test]
fn friction_warms_up_with_motion() {
    let mut s = quiet(Scenario::default());
    s.arm.coulomb_nm = [1.0; JOINTS];
    s.arm.friction_error = 0.0;
    s.arm.stribeck = 0.0;
    s.arm.cold_friction = 1.3;
    s.arm.warm_friction = 0.7;
    s.arm.warm_up_s = 10.0;
    let mut readings = Readings::new(&s.arm, stream(1, 3));
    let still = Joints::zeros();
    let mut after = |seconds: usize| {
        for _ in 0..seconds * 1000 {
            readings.advance(&Joints::repeat(1e-3), 1e-3);
        }
        readings.torques(&still, &still, &still)[0]
    };
    assert!((after(1) - (0.7 + 0.6 * (-0.1f64).exp())).abs() < 1e-3);
    assert!((after(49) - (0.7 + 0.6 * (-5f64).exp())).abs() < 1e-3);
}
