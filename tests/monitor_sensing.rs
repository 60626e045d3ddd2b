//! Faults of sensors and samples, and a tool that levers, at the level of the whole monitor.

mod rig;

use bolting_monitor::detect::{Cause, Finding, FindingKind, Place};
use bolting_monitor::procedure::{AxisLine, Direction};
use bolting_monitor::sample::{Context, JointSample};

use proptest::prelude::*;

use rig::{BoltMonitor, N, POSE_RAD, RANGE_NM, Rig, job};

fn tightening() -> Rig {
    let mut rig = Rig::tared(&job(Direction::Tighten));
    rig.turn(90.0, |_| 1.5);
    assert_eq!(rig.findings(), [""; 0]);
    rig
}

/// The joint at this index, as a finding counts it.
fn nth(index: usize) -> Option<Place> {
    Some(Place::Joint(index as u8 + 1))
}

fn found(rig: &Rig, kind: FindingKind) -> Finding {
    rig.updates
        .iter()
        .filter_map(|u| u.finding)
        .find(|f| f.kind == kind)
        .unwrap_or_else(|| panic!("only {:?}", rig.findings()))
}

#[test]
fn a_clipped_joint_is_said_and_the_torque_not_shown() {
    let mut rig = tightening();
    // Weight on the arm: the shoulder reads the end of its range.
    rig.force_n = [0.0, 0.0, 400.0];
    let update = rig.turn(10.0, |_| 1.5);
    assert!(!update.torque_observable);
    let finding = found(&rig, FindingKind::SensorSaturated);
    assert!(finding.value.abs() >= 0.98 * RANGE_NM && finding.limit == 0.98 * RANGE_NM);
    assert_eq!(finding.place, nth(1));
    assert!(!finding.stops());
    rig.force_n = [0.0; 3];
    assert!(rig.turn(10.0, |_| 1.5).torque_observable);
}

#[test]
fn a_joint_that_stands_still_is_said_and_the_torque_not_shown() {
    for joint in 0..N {
        let mut rig = tightening();
        let at = rig.sample(1.5).torque_nm[joint];
        rig.stuck = Some((joint, at));
        let first = rig.updates.len();
        // Torque rises: the stuck joint would read it wrong.
        rig.turn(30.0, |travel| 1.5 + 0.1 * travel);
        let finding = found(&rig, FindingKind::SensorFrozen);
        assert!((0.25..0.27).contains(&finding.value), "{finding:?}");
        assert_eq!(finding.likely, Some(Cause::SensorFault));
        assert_eq!(finding.place, nth(joint));
        assert!(
            rig.updates[first + 270..]
                .iter()
                .all(|u| !u.torque_observable)
        );
        rig.stuck = None;
        assert!(rig.turn(10.0, |_| 1.5).torque_observable, "joint {joint}");
    }
}

/// A bolt already touched while the arm was tared: for a fifth, half and four fifths of the 0.3 s, and with
/// joints clipped by it. What is then read in free air is within its uncertainty, or not shown.
#[test]
fn a_tare_with_contact_in_it_is_not_believed() {
    for range_nm in [150.0, 20.0] {
        for touched in [60, 150, 240] {
            let mut description = rig::arm();
            for joint in description
                .joints
                .iter_mut()
                .filter(|j| j.name != "shoulder")
            {
                joint.torque_range_nm = Some(range_nm);
            }
            let job = job(Direction::Tighten);
            let mut rig = Rig::untared(&job);
            rig.monitor = BoltMonitor::try_new(&job, Some(&description)).expect("sound");
            for i in 0..800 {
                rig.time_us += 1000;
                let mut sample = rig.sample(if i < touched { 40.0 } else { 0.0 });
                for (joint, nm) in sample.torque_nm.iter_mut().enumerate() {
                    let most = if joint == 1 { RANGE_NM } else { range_nm };
                    *nm = nm.clamp(-most, most);
                }
                let update = rig.monitor.update(&sample);
                rig.updates.push(update);
            }
            let end = rig.updates[799];
            let off = end.torque_nm.abs() / end.torque_u_nm;
            assert!(
                off < 2.1,
                "{touched} ms, range {range_nm} N·m: {off} of {}",
                end.torque_u_nm
            );
        }
    }
}

/// Six joints tell six components of the load: whatever it is, and however narrow the stated prior, nothing
/// is left to disagree about.
#[test]
fn six_joints_disagree_with_no_prior() {
    let mut narrow = job(Direction::Tighten);
    narrow.sensing.prior_moment_nm = Some(4.0);
    narrow.sensing.prior_force_n = 20.0;
    let mut rig = Rig::tared(&narrow);
    rig.turn(30.0, |_| 1.5);
    rig.turn(30.0, |travel| 1.5 + travel * 0.5);
    assert!(
        !rig.findings().contains(&"joints_disagree"),
        "{:?}",
        rig.findings()
    );
}

/// Sweeps the arm through free air for 1.5 s.
fn sweep(rig: &mut Rig) {
    for _ in 0..1500 {
        rig.position_rad[0] += 2e-4;
        rig.step(0.0);
    }
}

#[test]
fn a_zero_that_drifted_is_said_in_free_air_only() {
    for joint in 0..N {
        let mut rig = Rig::tared(&job(Direction::Tighten));
        sweep(&mut rig);
        assert_eq!(rig.findings(), [""; 0]);
        rig.zero_nm[joint] = 0.6;
        sweep(&mut rig);
        let finding = found(&rig, FindingKind::SensorDrift);
        // The half second in which it came holds a part of it.
        assert!(
            finding.value > finding.limit && finding.value < 0.65,
            "{finding:?}"
        );
        assert!((0.05..0.3).contains(&finding.limit), "{finding:?}");
        assert_eq!(finding.likely, Some(Cause::DriftingSensor));
        assert_eq!(finding.place, nth(joint));
    }
    // A tip that goes round the bolt axis, as that of a crank, may be on the bolt.
    let mut crank = job(Direction::Tighten);
    crank.bolt_axis = Some(AxisLine {
        point_m: [0.0; 3],
        direction: [0.0, 0.0, -1.0],
    });
    let mut rig = Rig::tared(&crank);
    rig.zero_nm[1] = 0.6;
    sweep(&mut rig);
    assert_eq!(rig.findings(), [""; 0]);
    // On the bolt the same figure is a load.
    let mut rig = tightening();
    rig.force_n = [5.0, 3.0, 0.0];
    rig.turn(90.0, |_| 1.5);
    assert_eq!(rig.findings(), [""; 0]);
}

/// Moves the tool along the bolt axis, slower than only a free tool goes, by turning the shoulder.
fn raise(rig: &mut Rig, by_rad: f32) {
    for _ in 0..1000 {
        rig.position_rad[1] += by_rad / 1000.0;
        rig.step(0.0);
    }
}

#[test]
fn a_zero_that_drifted_is_said_where_the_tool_is_as_far_off_as_at_the_tare() {
    // 11 mm above the bolt: the tool hangs half a metre before the shoulder.
    let clear_rad = -0.02;
    let mut above = POSE_RAD;
    above[1] += clear_rad;
    for joint in 0..N {
        let mut rig = Rig::tared_at(&job(Direction::Tighten), above);
        raise(&mut rig, -clear_rad);
        rig.turn(90.0, |_| 1.5);
        rig.zero_nm[joint] = 0.6;
        rig.turn(30.0, |_| 1.5);
        let drifted = |rig: &Rig| rig.findings().contains(&"sensor_drift");
        // Half way up it may still be on the head, whatever its torques say.
        raise(&mut rig, 0.5 * clear_rad);
        rig.rest(1.0, 0.0);
        assert!(!drifted(&rig), "joint {joint}");
        raise(&mut rig, 0.5 * clear_rad);
        rig.rest(0.3, 0.0);
        let finding = found(&rig, FindingKind::SensorDrift);
        // The rig has no inertia, so what is taken off for starts and stops is missing.
        assert!((finding.value - 0.6).abs() < 0.15, "{finding:?}");
    }
    // What leans on the arm loads several joints.
    let mut rig = Rig::tared_at(&job(Direction::Tighten), above);
    raise(&mut rig, -clear_rad);
    rig.turn(90.0, |_| 1.5);
    raise(&mut rig, clear_rad);
    rig.force_n = [0.0, 15.0, 10.0];
    rig.rest(1.0, 0.0);
    assert_eq!(rig.findings(), ["joints_disagree"]);
    let finding = found(&rig, FindingKind::JointsDisagree);
    assert_eq!(finding.likely, Some(Cause::ContactElsewhere));
    // Without drift nothing is said there.
    let mut rig = Rig::tared_at(&job(Direction::Tighten), above);
    raise(&mut rig, -clear_rad);
    rig.turn(90.0, |_| 1.5);
    raise(&mut rig, clear_rad);
    rig.rest(1.0, 0.0);
    assert_eq!(rig.findings(), [""; 0]);
}

#[test]
fn samples_that_stop_are_said_to_who_asks_and_with_the_next_one() {
    let mut rig = tightening();
    let last_us = rig.time_us;
    assert_eq!(rig.monitor.silence(last_us), None);
    assert_eq!(rig.monitor.silence(last_us + 99_000), None);
    let silence = rig.monitor.silence(last_us + 101_000).expect("silent");
    assert_eq!(silence.kind, FindingKind::SamplesStale);
    assert!((silence.value - 0.101).abs() < 1e-4 && (silence.limit - 0.1).abs() < 1e-4);
    assert_eq!(silence.time_us, last_us + 101_000);
    // Once per silence.
    assert_eq!(rig.monitor.silence(last_us + 500_000), None);
    rig.time_us += 110_000;
    let update = rig.step(1.5);
    let finding = update.finding.expect("the gap");
    assert_eq!(finding.kind, FindingKind::SamplesStale);
    assert!((finding.value - 0.111).abs() < 1e-4);
    // A clock that runs backwards is no silence, and the next silence is said again.
    assert_eq!(rig.monitor.silence(0), None);
    assert!(rig.monitor.silence(rig.time_us + 101_000).is_some());
}

#[test]
fn gaps_as_real_controllers_have_them_are_no_finding() {
    let mut rig = tightening();
    for i in 0..300_u64 {
        // Up to 9 ms at a nominal 1 kHz, and once 35 ms.
        rig.time_us += (i * 37 % 90) * 100 + if i == 150 { 34_000 } else { 0 };
        rig.position_rad[N - 1] += 1e-3;
        rig.step(1.5);
    }
    assert_eq!(rig.findings(), [""; 0]);
}

/// 24 N·m across a socket that sits 1° off its axis are 0.42 N·m about it: the final torque is no surer.
#[test]
fn a_tool_that_levers_makes_the_final_torque_less_sure() {
    let u_nm = |force_n: f32| {
        let mut rig = tightening();
        rig.force_n = [0.0, force_n, 0.0];
        rig.turn(20.0, |_| 1.5);
        rig.monitor.summary().final_torque_u_nm
    };
    let (square_nm, levering_nm) = (u_nm(0.0), u_nm(120.0));
    let added_nm = (levering_nm * levering_nm - square_nm * square_nm).sqrt();
    assert!((added_nm - 0.42).abs() < 0.05, "{square_nm} {levering_nm}");
}

#[test]
fn a_tool_that_levers_is_said_with_the_way_to_go() {
    let mut rig = tightening();
    // 0.2 m before the socket: 160 N make 32 N·m across, the limit is the target of 30 N·m.
    rig.force_n = [0.0, 160.0, 0.0];
    let mut update = rig.turn(1.0, |_| 1.5);
    while rig.findings().is_empty() && rig.updates.len() < 10_000 {
        update = rig.turn(1.0, |_| 1.5);
    }
    let finding = found(&rig, FindingKind::SideLoad);
    assert!(finding.limit == 30.0 && finding.value > 30.0);
    let side = update.side_moment.expect("an arm");
    assert!((side.size_nm() - 32.0).abs() < 3.0 * side.u_nm, "{side:?}");
    // The relief, turned from the tip into the base, is against the push.
    let model = bolting_monitor::arm::ArmModel::<N>::try_new(&rig::arm()).expect("sound");
    let tip = model.pose(&rig.position_rad, true, false).tip;
    let relief = side.relief(&[1.0, 0.0, 0.0]).expect("a direction");
    let Some(Place::Relief(said)) = finding.place else {
        panic!("{finding:?}")
    };
    for relief in [relief, said] {
        let base = bolting_monitor::math::rotate(&tip.rotation, &relief);
        assert!(base[1] < -0.99, "{base:?}");
    }

    let mut rig = tightening();
    rig.force_n = [0.0, 100.0, 0.0];
    rig.turn(60.0, |_| 1.5);
    assert_eq!(rig.findings(), [""; 0]);
}

fn any_bits() -> impl Strategy<Value = f32> {
    any::<u32>().prop_map(f32::from_bits)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(32))]

    /// Any bits in any order: nothing panics, and a sample that is no sample says nothing new.
    #[test]
    fn no_sample_breaks_the_monitor(
        samples in prop::collection::vec(
            (any::<u32>(), prop::array::uniform6(any_bits()), prop::array::uniform6(any_bits()),
             any::<[bool; 4]>()), 1..100),
    ) {
        let mut monitor: BoltMonitor = tightening().monitor;
        for (time, position_rad, torque_nm, [arm_enabled, tool_powered, tool_held, payload_held]) in samples {
            let time_us = 3_000_000 + u64::from(time);
            let mut sample = JointSample::new(time_us, position_rad, torque_nm);
            sample.context = Context {
                force_ratio: f32::NAN,
                arm_enabled,
                tool_powered,
                tool_held,
                payload_held,
            };
            let update = monitor.update(&sample);
            prop_assert!(update.torque_nm.is_finite() && update.angle_rad.is_finite());
            prop_assert!(update.finding.is_none_or(|f| !f.value.is_nan() && f.limit.is_finite()));
            if !sample.is_usable() {
                prop_assert!(!update.turning && !update.torque_observable);
                let stale = |f: Finding| f.kind == FindingKind::SamplesStale;
                prop_assert!(update.finding.is_none_or(stale));
            }
            prop_assert!(tool_held || !sample.is_usable() || update.time_us != time_us
                || !update.torque_observable);
            let _ = monitor.silence(u64::from(time) * 1000);
        }
    }
}
