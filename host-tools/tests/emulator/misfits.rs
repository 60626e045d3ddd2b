//! What does not fit the run under way: samples of other joints, a plan for the next run.

use bolting_host::emulator::{Emulator, interrupts_path};
use bolting_monitor::procedure::Turn;
use bolting_monitor::sample::JointSample;
use bolting_monitor::wire::{FromController, Plan, Sample, StartTurn};

use super::{emulator, job, job_named, or_skipped, samples};

/// A sample of seven joints, where the job has none.
fn of_other_joints(time_us: u64) -> Sample {
    let seven = JointSample::new(time_us, [0.0; 7], [0.0; 7]);
    Sample::new(&seven).expect("at most eight")
}

fn cost_the_permit(mut emulator: Emulator) {
    emulator.load(&job()).expect("a sound job");
    let (misfit_us, fits_us) = (1_000_001, 1_001_000);
    let fitting: Vec<_> = samples().take(1400).collect();
    let run = emulator
        .run(
            (fitting[..1001].iter().cloned())
                .chain([of_other_joints(misfit_us)])
                .chain(fitting[1001..].iter().cloned()),
        )
        .expect("a run");
    let beats: Vec<_> = (run.messages.iter())
        .filter_map(|m| match m {
            FromController::Heartbeat(beat) => Some((beat.time_us, beat.permitted)),
            _ => None,
        })
        .collect();
    assert!(beats.iter().any(|(at, given)| *at < misfit_us && *given));
    // The pin itself, read back: low with the sample, high again with the next that fits.
    assert!(beats.contains(&(misfit_us, false)), "{beats:?}");
    assert!(beats.contains(&(fits_us, true)), "{beats:?}");
}

#[test]
fn a_sample_that_does_not_fit_costs_the_permit_until_one_fits() {
    if let Some(emulator) = emulator() {
        cost_the_permit(emulator);
    }
}

#[test]
fn so_it_does_where_interrupts_drive_control() {
    if let Some(emulator) = or_skipped(Emulator::start(&interrupts_path())) {
        cost_the_permit(emulator);
    }
}

#[test]
fn a_plan_that_comes_during_a_run_is_told_with_the_next() {
    let Some(mut emulator) = emulator() else {
        return;
    };
    let (this, next) = (job(), job_named("invented bolt 2"));
    emulator.load(&this).expect("a sound job");
    let turn = Turn::default();
    emulator.send(&StartTurn { turn }).expect("a sound link");
    let mut run = samples();
    for sample in run.by_ref().take(200) {
        emulator.send(&sample).expect("a sound link");
    }
    emulator.load(&next).expect("it is kept for the next run");
    for sample in run.take(1200) {
        emulator.send(&sample).expect("a sound link");
    }
    // A start sums up the run under way: the first call reads its end, the second that of the next.
    let mut messages = Vec::new();
    for _ in 0..2 {
        messages.extend(emulator.run(samples().take(100)).expect("a run").messages);
    }
    let mut told = [0; 2];
    for message in &messages {
        let FromController::Hello(hello) = message else {
            continue;
        };
        // Before the first run there is a job at most.
        if hello.run == 0 {
            continue;
        }
        let (index, job) = if hello.run == 1 {
            (0, &this)
        } else {
            (1, &next)
        };
        assert_eq!(hello.job_crc, Plan::crc_of(job), "run {}", hello.run);
        told[index] += 1;
    }
    assert!(told[0] > 1 && told[1] > 0, "{told:?}");
}
