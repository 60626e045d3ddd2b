//! The real firmwares in an emulated Cortex-M4F: job and samples in, frames out.

mod interrupts;
mod misfits;

use std::time::Instant;

use bolting_host::description::Description;
use bolting_host::emulator::{EmulatedRun, Emulator, EmulatorError, firmware_path, job_bytes};
use bolting_host::replay;
use bolting_host::simulate::{self, Bolt, Fault, JOINTS, Mode, Sampling, Scenario, Stated};
use bolting_host::store;
use bolting_monitor::detect::FindingKind;
use bolting_monitor::fastener::{Fastener, Thread};
use bolting_monitor::procedure::{self, BoltJob, Goal, Procedure, Sensing, Tare, Tool};
use bolting_monitor::sample::{JointSample, SpindleReading};
use bolting_monitor::wire::{FromController, JobStatus, LiftStop, Plan, Points, Sample};

const SAMPLES: usize = 2000;

/// An invented M10 bolt on a powered spindle.
fn job() -> Vec<u8> {
    job_named("invented bolt 1")
}

fn job_named(name: &str) -> Vec<u8> {
    let job = BoltJob {
        name: name.try_into().expect("short"),
        fastener: Fastener::new(Thread::metric(10.0, 1.5)),
        goal: Goal::Torque {
            target_nm: 48.0,
            tolerance: 0.1,
        },
        carried_nm: None,
        mode: procedure::Mode::PoweredSpindle,
        rundown_rad: None,
        elastic_rad: None,
        tool: Tool {
            seat_rad: core::f32::consts::FRAC_PI_6,
            axis: [0.0, 0.0, 1.0],
            windup_nm_per_rad: None,
            ratchet_tooth_rad: None,
            socket_play_rad: None,
            length_m: 0.0,
            side_moment_limit_nm: None,
        },
        bolt_axis: None,
        sensing: Sensing {
            spindle_noise_nm: Some(0.05),
            spindle_scale_u: 0.01,
            spindle_zero_u_nm: 0.0,
            spindle_angle_counts_driving: false,
            wrist_force_u_n: 1.0,
            wrist_moment_u_nm: 0.05,
            prior_force_n: 200.0,
            prior_moment_nm: None,
        },
        tare: Tare { duration_s: 0.0 },
    };
    let plan = Plan {
        procedure: Procedure::single(job.goal),
        job,
        arm: None,
    };
    let mut blob = vec![0; 1024];
    let length = plan.to_blob(&mut blob).expect("a sound plan");
    blob.truncate(length);
    blob
}

/// Runs free to 20 rad, rises to 40 N·m over 1 rad, holds for 0.5 rad, then the thread gives way.
fn samples() -> impl Iterator<Item = Sample> + Send {
    (0..SAMPLES).map(|i| {
        let angle_rad = 22.5 * i as f32 / SAMPLES as f32;
        let torque_nm = match angle_rad {
            a if a < 20.0 => 0.5,
            a if a < 21.0 => 0.5 + 39.5 * (a - 20.0),
            a if a < 21.5 => 40.0,
            a => 40.0 - 30.0 * (a - 21.5),
        };
        let mut sample = JointSample::<0>::new(1000 * i as u64, [], []);
        sample.spindle = Some(SpindleReading {
            angle_rad,
            torque_nm,
        });
        Sample::new(&sample).expect("no joints")
    })
}

/// An emulator, or nothing where there cannot be one (but never quietly where CI expects it).
fn emulator() -> Option<Emulator> {
    or_skipped(Emulator::start(&firmware_path()))
}

fn or_skipped(started: Result<Emulator, EmulatorError>) -> Option<Emulator> {
    match started {
        Ok(emulator) => Some(emulator),
        Err(error @ (EmulatorError::NoFirmware(_) | EmulatorError::NoEmulator(_)))
            if std::env::var_os("CI").is_none_or(|ci| ci != "true") =>
        {
            println!("SKIPPED: {error}");
            None
        }
        Err(error) => panic!("{error}"),
    }
}

/// What is kept until acknowledged, without what differs between runs: the id and the run's number.
fn essence(run: &EmulatedRun) -> Vec<FromController> {
    run.messages
        .iter()
        .filter_map(|message| {
            let mut message = message.clone();
            match &mut message {
                FromController::Alarm(m) => (m.id, m.run) = (0, 0),
                FromController::Evidence(m) => (m.id, m.run) = (0, 0),
                FromController::SnugSeen(m) => (m.id, m.run) = (0, 0),
                FromController::Summary(m) => (m.id, m.run) = (0, 0),
                _ => return None,
            }
            Some(message)
        })
        .collect()
}

fn was_permitted(run: &EmulatedRun) -> bool {
    run.messages
        .iter()
        .any(|m| matches!(m, FromController::Heartbeat(beat) if beat.permitted))
}

#[test]
fn a_stop_outlasts_the_run_until_it_is_lifted() {
    let Some(mut emulator) = emulator() else {
        return;
    };
    emulator.load(&job()).expect("a sound job");
    // Free running only: nothing in it stops.
    let free = || samples().take(1500);
    assert!(was_permitted(&emulator.run(free()).expect("a run")));
    emulator.run(samples()).expect("a run that ends in a strip");
    assert!(!was_permitted(&emulator.run(free()).expect("a run")));
    emulator.send(&LiftStop).expect("a sound link");
    assert!(was_permitted(&emulator.run(free()).expect("a run")));
}

#[test]
fn what_cannot_be_followed_is_refused_and_counted() {
    let Some(mut emulator) = emulator() else {
        return;
    };
    let refused = JobStatus::Refused.wire_code();
    match emulator.load(&[0xFF; 300]) {
        Err(EmulatorError::JobRefused(status)) => assert_eq!(status, refused),
        other => panic!("{other:?}"),
    }
    emulator
        .load(&job())
        .expect("a sound job goes through afterwards");
    let outside_a_run = samples().next().expect("one");
    emulator.send(&outside_a_run).expect("a sound link");
    let seven = JointSample::new(0, [0.0; 7], [0.0; 7]);
    let of_other_joints = Sample::new(&seven).expect("at most eight");
    let run = emulator
        .run(samples().take(100).chain([of_other_joints]))
        .expect("a run");
    match run.messages.last() {
        // The job, the sample before the run, the sample of seven joints.
        Some(FromController::Heartbeat(beat)) => assert_eq!(beat.refused, 3),
        other => panic!("a sign of life is the last: {other:?}"),
    }
}

#[test]
fn a_stripping_bolt_is_told_by_the_firmware() {
    let Some(mut emulator) = emulator() else {
        return;
    };
    emulator.load(&job()).expect("a sound job");
    let run = emulator.run(samples()).expect("a run");
    println!("{} bytes, {} messages", run.bytes.len(), run.messages.len());
    assert_eq!((run.counts.garbled, run.counts.lost), (0, 0));

    let hello = run
        .messages
        .iter()
        .rev()
        .find_map(|m| match m {
            FromController::Hello(hello) => Some(hello),
            _ => None,
        })
        .expect("it says who it is");
    assert_eq!(hello.job, "invented bolt 1");
    assert_eq!((hello.run, hello.joints), (1, 0));
    assert_eq!(hello.job_crc, Plan::crc_of(&job()));

    let alarms: Vec<_> = run
        .messages
        .iter()
        .filter_map(|m| match m {
            FromController::Alarm(alarm) => Some(alarm),
            _ => None,
        })
        .collect();
    let strip = alarms
        .iter()
        .find(|alarm| alarm.kind() == Some(FindingKind::Strip))
        .expect("the strip is told");
    assert!((21.5..22.5).contains(&strip.angle_rad), "{strip:?}");

    let points: Vec<_> = run
        .messages
        .iter()
        .flat_map(|m| match m {
            FromController::Points(Points { points }) => points.to_vec(),
            _ => Vec::new(),
        })
        .collect();
    assert!(points.len() > 50, "{}", points.len());
    assert!(points.is_sorted_by(|a, b| a.time_us < b.time_us));

    let summary = run
        .messages
        .iter()
        .find_map(|m| match m {
            FromController::Summary(summary) => Some(summary),
            _ => None,
        })
        .expect("the run is summed up");
    assert_eq!(summary.samples as usize, SAMPLES);
    match run.messages.last() {
        Some(FromController::Heartbeat(beat)) => {
            assert_eq!(beat.samples as usize, SAMPLES);
            assert_eq!((beat.garbled, beat.lost, beat.refused), (0, 0, 0));
        }
        other => panic!("a sign of life is the last: {other:?}"),
    }

    let again = emulator.run(samples()).expect("a second run");
    assert_eq!(essence(&again), essence(&run), "same samples, same answer");
}

/// The same short bolt, sound or not, turned by the wrist or by a spindle: 100 samples a second keep
/// the emulator's share of the test short.
fn seven_joint_runs() -> impl Iterator<Item = (String, Scenario)> {
    let faults = [
        ("none", Fault::None),
        ("strip", Fault::strip()),
        ("cross_thread", Fault::cross_thread()),
    ];
    let modes = [("wrist", Mode::default()), ("spindle", Mode::spindle())];
    modes.into_iter().flat_map(move |(way, mode)| {
        faults.clone().map(|(fault, kind)| {
            let scenario = Scenario {
                bolt: Bolt {
                    rundown_turns: 2.0,
                    ..Bolt::default()
                },
                stated: Stated {
                    rundown_turns: 2.0,
                    ..Stated::default()
                },
                sampling: Sampling {
                    rate_hz: 100.0,
                    ..Sampling::default()
                },
                fault: kind,
                mode: mode.clone(),
                seed: 11,
                ..Scenario::default()
            };
            (format!("{way} {fault}"), scenario)
        })
    })
}

#[test]
fn the_firmware_says_bit_for_bit_what_a_replay_says() {
    if let Some(emulator) = emulator() {
        says_what_a_replay_says(emulator, seven_joint_runs());
    }
}

fn says_what_a_replay_says(mut emulator: Emulator, runs: impl Iterator<Item = (String, Scenario)>) {
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::write(folder.path().join("arm.urdf"), simulate::URDF).expect("written");
    for (name, scenario) in runs {
        let simulated = simulate::simulate(&scenario);
        let text = simulate::description(&name, &scenario, &simulated);
        let description = Description::parse(&text, &folder.path().join("bolt.toml"))
            .unwrap_or_else(|e| panic!("{e}"));
        let samples: Vec<_> = simulated.rows.iter().map(simulate::Row::sample).collect();

        // What the run before may have left.
        emulator.send(&LiftStop).expect("a sound link");
        emulator
            .load(&job_bytes(&description).expect("plain data"))
            .expect("a sound job");
        let started = Instant::now();
        let run = emulator
            .run(
                samples
                    .clone()
                    .into_iter()
                    .map(|s| Sample::new(&s).expect("seven joints")),
            )
            .expect("a run");
        println!(
            "{name}: {} samples, {:.0} a second",
            samples.len(),
            samples.len() as f64 / started.elapsed().as_secs_f64()
        );
        let replayed = replay::run::<JOINTS>(&description, None, samples.into_iter())
            .expect("a sound description");

        let told = store::runs(&run.messages);
        let [told] = told.as_slice() else {
            panic!("{name}: one run is summed up, not {}", told.len());
        };
        // Debug writes the shortest digits that tell each number from its neighbours, and the sign
        // of zero: equal text means equal bits.
        assert_eq!(
            format!("{:?}", told.outcome),
            format!("{replayed:?}"),
            "{name}"
        );
        let expected = simulated.truth.fault.as_str();
        let stop = replayed.stop();
        assert_eq!(stop.map_or("none", |f| f.kind.name()), expected, "{name}");
        assert_eq!(told.hello.joints as usize, JOINTS);
        permit_follows(&run, stop.map(|f| f.time_us), &name);
        if stop.is_none() {
            snug_is_told(&run, &replayed, &name);
        }
    }
}

/// The pin, as the firmware reads it back: high from the first sample, low from the stop on.
fn permit_follows(run: &EmulatedRun, stop_us: Option<u64>, name: &str) {
    let beats: Vec<_> = run
        .messages
        .iter()
        .filter_map(|m| match m {
            FromController::Heartbeat(beat) => Some((beat.time_us, beat.permitted)),
            _ => None,
        })
        .collect();
    let (_, during) = beats.split_last().expect("a sign of life at the end");
    for (time_us, permitted) in during {
        let before = stop_us.is_none_or(|stop| *time_us < stop);
        assert_eq!(
            *permitted, before,
            "{name} at {time_us} µs, stop {stop_us:?}"
        );
    }
    assert!(during.iter().any(|(_, permitted)| *permitted), "{name}");
    if let Some(stop) = stop_us {
        assert!(during.contains(&(stop, false)), "{name}: told at once");
    }
}

fn snug_is_told(run: &EmulatedRun, replayed: &replay::Outcome, name: &str) {
    let seen = run
        .messages
        .iter()
        .any(|m| matches!(m, FromController::SnugSeen(_)));
    assert!(seen, "{name}: the snug event");
    let angles: Vec<_> = run
        .messages
        .iter()
        .filter_map(|m| match m {
            FromController::SnugAngle(s) => Some((s.angle_rad, s.angle_u_rad, s.torque_nm)),
            _ => None,
        })
        .collect();
    let snug = replayed.summary.snug.expect("a sound bolt is snug");
    assert!(angles.len() > 1, "{name}: at the target, and at the end");
    assert_eq!(
        angles.last(),
        Some(&(snug.angle_rad, snug.angle_u_rad, snug.torque_nm)),
        "{name}"
    );
}
