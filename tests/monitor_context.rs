//! Switches and loads that change during a run, at the level of the whole monitor.

mod rig;

use bolting_monitor::detect::FindingKind;
use bolting_monitor::monitor::Monitor;
use bolting_monitor::phase::Phase;
use bolting_monitor::procedure::{AxisLine, Direction, Mode};
use bolting_monitor::sample::{Context, JointSample, SpindleReading, WristReading};
use proptest::prelude::*;

use rig::{BoltMonitor, N, Rig, arm, job};

fn tightening() -> Rig {
    Rig::tared(&job(Direction::Tighten))
}

fn degrees(rad: f32) -> f32 {
    rad.to_degrees()
}

/// A bolt that resists by 1.5 N·m, below the limit of its rundown.
fn rundown(_: f32) -> f32 {
    1.5
}

#[test]
fn a_locked_arm_that_creeps_turns_no_bolt() {
    let mut rig = tightening();
    let before = degrees(rig.turn(90.0, rundown).angle_rad);
    assert!((before - 90.0).abs() < 3.0, "{before}");
    rig.context.arm_enabled = false;
    let locked = rig.turn(4.0, rundown);
    assert_eq!(degrees(locked.angle_rad), before);
    assert!(!locked.turning);
    rig.context.arm_enabled = true;
    let after = rig.turn(30.0, rundown);
    let gained = degrees(after.angle_rad) - before;
    assert!((gained - 30.0).abs() < 0.5, "{gained}");
    // The creep may have been a turn after all: that stands in the uncertainty.
    assert!(degrees(after.angle_u_rad) >= 4.0);
    assert_eq!(rig.findings(), [""; 0]);
}

/// The operator locks the arm with the torque let off, the tool goes back a little, and takes the
/// same way forward again.
#[test]
fn what_a_locked_arm_lost_is_not_counted_twice() {
    let mut rig = tightening();
    let before = degrees(rig.turn(90.0, rundown).angle_rad);
    rig.context.arm_enabled = false;
    rig.turn(-8.0, |_| 0.0);
    rig.rest(0.5, 0.0);
    rig.context.arm_enabled = true;
    let after = rig.turn(38.0, |travel| if travel > 8.0 { 1.5 } else { 0.0 });
    let gained = degrees(after.angle_rad) - before;
    assert!((gained - 30.0).abs() < 1.5, "{gained}");
    assert_eq!(rig.findings(), [""; 0]);
}

#[test]
fn a_tool_let_go_and_gripped_anew_counts_on_from_the_new_grip() {
    let mut rig = tightening();
    let before = degrees(rig.turn(90.0, rundown).angle_rad);
    rig.context.tool_held = false;
    rig.carried.0 = false;
    let away = rig.turn(-60.0, |_| 0.0);
    assert_eq!(degrees(away.angle_rad), before);
    assert!(!away.torque_observable && away.side_moment.is_none());
    // Without the tool in its gripper the arm carries nothing that is not explained.
    assert!(away.torque_nm.abs() < 0.3, "{}", away.torque_nm);
    rig.context.tool_held = true;
    rig.carried.0 = true;
    rig.rest(0.2, 0.0);
    let after = rig.turn(40.0, rundown);
    let gained = degrees(after.angle_rad) - before;
    // A tool that is not held is no pose in which the torque cannot be told.
    assert_eq!(rig.findings(), [""; 0]);
    // The grip leaves the play of the socket open, 1.1°.
    assert!((gained - 40.0).abs() < 2.0, "{gained}");
    assert!(after.torque_observable);
    assert!((after.torque_nm - 1.5).abs() < 0.3, "{}", after.torque_nm);
}

#[test]
fn a_payload_taken_mid_run_is_carried_by_the_gravity_model() {
    let mut rig = tightening();
    rig.turn(90.0, rundown);
    let first = rig.updates.len();
    rig.context.payload_held = true;
    rig.carried.1 = true;
    let after = rig.turn(40.0, rundown);
    // 50 ms at 1 kHz are not judged; the torque is told before and after.
    let told: Vec<_> = rig.updates[first..]
        .iter()
        .map(|u| u.torque_observable)
        .collect();
    assert!(told[..49].iter().all(|t| !t) && told[52..].iter().all(|t| *t));
    assert!(
        rig.updates[first + 52..]
            .iter()
            .all(|u| (u.torque_nm - 1.5).abs() < 4.0 * u.torque_u_nm)
    );
    assert!((degrees(after.angle_rad) - 130.0).abs() < 3.0);
    assert_eq!(rig.findings(), [""; 0]);

    // The switch matters: a payload that the sample does not tell of shows as side load.
    let moment = |rig: &mut Rig| {
        // Weights and the moment across are taken in turns, within a score of samples.
        let side = rig.turn(3.0, rundown).side_moment.expect("an arm");
        (side.size_nm(), side.u_nm)
    };
    let (told_nm, u_nm) = moment(&mut rig);
    rig.context.payload_held = false;
    let (untold_nm, _) = moment(&mut rig);
    assert!(
        untold_nm > told_nm + 5.0 * u_nm,
        "{told_nm} {untold_nm} {u_nm}"
    );
}

#[test]
fn an_unpowered_spindle_on_a_locked_arm_turns_no_bolt() {
    let mut job = job(Direction::Tighten);
    job.mode = Mode::PoweredSpindle;
    job.tare.duration_s = 0.0;
    job.tool.socket_play_rad = None;
    let mut monitor = Monitor::<0, 64>::try_new(&job, None).expect("sound job");
    let mut turn = |from: u64, context: Context| {
        (from..from + 500)
            .map(|i| {
                let mut sample = JointSample::<0>::new(i * 1000, [], []);
                sample.context = context;
                sample.spindle = Some(SpindleReading {
                    angle_rad: i as f32 * 1e-3,
                    torque_nm: 1.5,
                });
                monitor.update(&sample)
            })
            .last()
            .expect("samples")
            .angle_rad
    };
    let powered = turn(0, Context::new());
    assert!((powered - 0.5).abs() < 0.02, "{powered}");
    let unpowered = Context {
        tool_powered: false,
        arm_enabled: false,
        ..Context::new()
    };
    assert_eq!(turn(500, unpowered), powered);
    // A spindle that stands still in its drive is a wrench for an arm that moves.
    let by_arm = Context {
        arm_enabled: true,
        ..unpowered
    };
    assert!((turn(1000, by_arm) - powered - 0.5).abs() < 0.02);
}

#[test]
fn phases_follow_a_run_in_either_direction() {
    let seen = |rig: &Rig| {
        let mut phases: Vec<Phase> = rig.updates.iter().map(|u| u.phase).collect();
        phases.dedup();
        phases
    };
    let mut rig = tightening();
    rig.turn(540.0, rundown);
    rig.turn(60.0, |travel| 1.5 + 0.5 * travel);
    assert_eq!(
        seen(&rig),
        [
            Phase::Approach,
            Phase::ThreadStart,
            Phase::Rundown,
            Phase::Snugging,
            Phase::Clamping
        ]
    );

    let mut rig = Rig::tared(&job(Direction::Undo));
    rig.rest(0.1, -20.0);
    rig.turn(-60.0, |travel| (-25.0 - 0.5 * travel).min(-1.0));
    rig.turn(-300.0, |_| -1.0);
    assert_eq!(
        seen(&rig),
        [
            Phase::Approach,
            Phase::Breakaway,
            Phase::Loosening,
            Phase::RunOut
        ]
    );
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(32))]

    /// Whatever the operator sets the ratio to, and whenever: the same updates, bit for bit.
    #[test]
    fn the_force_ratio_moves_no_estimate(
        seed in 1_u32..1000,
        ratios in prop::collection::vec(any::<u32>().prop_map(f32::from_bits), 40),
    ) {
        let mut rig = tightening();
        let mut other = BoltMonitor::try_new(&job(Direction::Tighten), Some(&arm())).unwrap();
        // The tare of the rig was made at ratio 1; this one's is made by the same samples.
        other.adopt_tare(&rig.monitor);
        let mut same = other.clone();
        for (i, ratio) in ratios.iter().cycle().take(2000).enumerate() {
            rig.time_us += 1000;
            rig.position_rad[N - 1] += 1e-3 * (1.0 + (seed % 7) as f32 * 0.2);
            let sample = rig.sample(1.0 + (i as f32 * 0.01).min(20.0));
            let mut felt = sample;
            felt.context.force_ratio = *ratio;
            let (a, b) = (same.update(&sample), other.update(&felt));
            prop_assert_eq!(format!("{a:?}"), format!("{b:?}"));
        }
        prop_assert_eq!(same.summary(), other.summary());
        prop_assert!(same.summary().final_angle_rad > 1.0);
    }
}

#[test]
fn no_switch_is_a_finding() {
    let mut rig = tightening();
    let contexts = [
        (false, true, true),
        (true, false, true),
        (true, true, false),
        (true, true, true),
    ];
    for (arm_enabled, tool_powered, tool_held) in contexts {
        rig.context = Context {
            arm_enabled,
            tool_powered,
            tool_held,
            ..Context::new()
        };
        rig.carried.0 = tool_held;
        rig.rest(0.15, 0.0);
    }
    assert!(!rig.findings().contains(&FindingKind::JointsDisagree.name()));
    assert_eq!(rig.findings(), [""; 0]);
}

/// Tool and payload on a wrist sensor, before a horizontal axis, without contact: taking the payload is no
/// torque on the bolt, and letting go of the tool none either.
#[test]
fn what_hangs_on_a_wrist_sensor_is_no_torque_on_the_bolt() {
    let mut carrier = arm();
    carrier.joints.clear();
    let mut across = job(Direction::Tighten);
    across.mode = Mode::PoweredSpindle;
    across.bolt_axis = Some(AxisLine {
        point_m: [0.0; 3],
        direction: [1.0, 0.0, 0.0],
    });
    let reading = |held: [bool; 2]| {
        let mut read = WristReading {
            force_n: [0.0; 3],
            moment_nm: [0.0; 3],
        };
        for (body, held) in [carrier.tool, carrier.payload].iter().zip(held) {
            if held {
                let weight_n = body.mass_kg * 9.81;
                read.force_n[2] += weight_n;
                read.moment_nm[0] += body.com_m[1] * weight_n;
                read.moment_nm[1] -= body.com_m[0] * weight_n;
            }
        }
        read
    };
    for held in [[true, true], [false, false]] {
        let mut monitor = Monitor::<0, 64>::try_new(&across, Some(&carrier)).expect("sound");
        let updates: Vec<_> = (0..2000)
            .map(|i| {
                let held = if i < 1000 { [true, false] } else { held };
                let mut sample = JointSample::<0>::new(1000 * i, [], []);
                sample.wrist = Some(reading(held));
                sample.context.tool_held = held[0];
                sample.context.payload_held = held[1];
                monitor.update(&sample)
            })
            .collect();
        assert!(updates[900].torque_nm.abs() < 0.01, "{:?}", updates[900]);
        let after = updates[1999];
        assert!(
            after.torque_nm.abs() < 0.01,
            "{held:?}: {}",
            after.torque_nm
        );
    }
}
