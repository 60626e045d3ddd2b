//! The interrupt-driven firmware: control in the highest interrupt, the link behind it.

use bolting_host::emulator::{EmulatedRun, Emulator, interrupts_path};
use bolting_monitor::wire::{Cycle, FromController, Heartbeat};

use super::{
    SAMPLES, essence, job, or_skipped, samples, says_what_a_replay_says, seven_joint_runs,
};

#[test]
fn it_says_bit_for_bit_what_a_replay_says() {
    if let Some(emulator) = or_skipped(Emulator::start(&interrupts_path())) {
        // Real time passes while it runs: one run of each kind of end is enough here.
        let spindle = |(name, _): &(String, _)| name.starts_with("spindle");
        says_what_a_replay_says(emulator, seven_joint_runs().filter(spindle));
    }
}

fn heartbeat(run: &EmulatedRun) -> &Heartbeat {
    match run.messages.last() {
        Some(FromController::Heartbeat(beat)) => beat,
        other => panic!("a sign of life is the last: {other:?}"),
    }
}

fn cycle(run: &EmulatedRun) -> &Cycle {
    let cycles = run.messages.iter().rev().filter_map(|m| match m {
        FromController::Cycle(cycle) => Some(cycle),
        _ => None,
    });
    cycles
        .into_iter()
        .next()
        .expect("control says how it fares")
}

fn thinned(run: &EmulatedRun) -> u32 {
    let told = run.messages.iter().filter_map(|m| match m {
        FromController::Thinned(thinned) => Some(thinned.points),
        _ => None,
    });
    told.max().unwrap_or(0)
}

/// Where in what was said the first alarm stands.
fn first_alarm(run: &EmulatedRun) -> usize {
    let is_alarm = |m: &FromController| matches!(m, FromController::Alarm(_));
    run.messages.iter().position(is_alarm).expect("the alarm")
}

#[test]
fn a_stalled_link_neither_delays_control_nor_loses_the_alarm() {
    let folder = tempfile::tempdir().expect("a folder");
    let started = Emulator::start_narrow(&interrupts_path(), folder.path());
    let Some(mut emulator) = or_skipped(started) else {
        return;
    };
    emulator.load(&job()).expect("a sound job");
    let read = emulator.run(samples()).expect("a run");
    let before = *cycle(&read);
    // Nothing is read until the last sample is sent, and the line holds far fewer samples than the
    // run has: control must have gone on without the link.
    let unread = emulator.run_unread(samples()).expect("a run");
    let after = *cycle(&unread);
    println!("{before:?}, then with the link stalled {after:?}");
    println!(
        "curve points thinned: {} and {}",
        thinned(&read),
        thinned(&unread)
    );

    assert!(
        thinned(&unread) > thinned(&read),
        "the link was not stalled"
    );
    assert_eq!(heartbeat(&read).samples as usize, SAMPLES);
    assert_eq!(heartbeat(&unread).samples as usize, 2 * SAMPLES);
    assert_eq!((after.left_out, heartbeat(&unread).lost), (0, 0));
    // One sample in each cycle that is not idle, and each cycle done within its period.
    assert_eq!((before.cycles - before.idle) as usize, SAMPLES);
    assert_eq!((after.cycles - after.idle) as usize, 2 * SAMPLES);
    assert!(after.worst_us < after.period_us, "{after:?}");
    // What matters came when the link was back, ahead of the curve, and is the same.
    let points = |m: &FromController| matches!(m, FromController::Points(_));
    let curve = unread.messages.iter().rposition(points).expect("a curve");
    assert!(first_alarm(&unread) < curve);
    assert_eq!(essence(&unread), essence(&read));
}
