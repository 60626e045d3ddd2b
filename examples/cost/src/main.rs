//! Counts the instructions of `Monitor::update` and of its stages, sample by sample.
//!
//! Reads `input.bin` (a zero, plan and samples) and writes `ticks.bin`; `host-tools/examples/cost.rs`
//! makes the one, reads the other and says what the numbers mean. Where the first word is a number of
//! runs, it puts those into frames instead, for `host-tools/tests/bits.rs`.

#![no_std]
#![no_main]

mod board;
mod frames;
#[path = "../../board/src/session.rs"]
mod session;
mod street;

use core::hint::black_box;

use bolting_monitor::arm::ArmDescription;
use bolting_monitor::monitor::{Monitor, Stage, Update};
use bolting_monitor::procedure::{BoltJob, RunSummary};
use bolting_monitor::sample::JointSample;
use bolting_monitor::wire::{Plan, Sample};
use embedded_io::Write;

use board::{Counter, File, exit, stack_of};
use session::PLAN_BYTES;
use street::{BINS, STAGES, Street};

/// Stack that is watched while a monitor is made or asked, and during an update, bytes.
const DEEP: usize = 48 * 1024;
const SHALLOW: usize = 4 * 1024;
#[cfg_attr(target_arch = "arm", cortex_m_rt::entry)]
#[cfg_attr(target_arch = "riscv32", unsafe(no_mangle))]
fn main() -> ! {
    let input = File::open(b"input.bin\0", false);
    let runs = u32::from_le_bytes(input.read());
    let done = match runs {
        0 => count_run(&input),
        _ => frame_runs(&input, runs),
    };
    exit(done.is_some())
}

fn plan(input: &File) -> Option<Plan> {
    let mut bytes = [0; PLAN_BYTES];
    let length = u32::from_le_bytes(input.read()) as usize;
    let bytes = bytes.get_mut(..length)?;
    input.fill(bytes);
    Plan::from_blob(bytes).ok()
}

/// Puts all runs into frames: after each run's frames a zero, which no frame begins with.
#[inline(never)]
fn frame_runs(input: &File, runs: u32) -> Option<()> {
    let mut output = File::open(b"frames.bin\0", true);
    for _ in 0..runs {
        let plan = plan(input)?;
        let samples = u32::from_le_bytes(input.read());
        let samples = (0..samples).map_while(|_| framed(input));
        frames::run(&plan, samples, &mut output)?;
        let _ = output.write(&[0]);
    }
    Some(())
}

/// One sample in the form of the wire, behind its length.
fn framed(input: &File) -> Option<Sample> {
    let mut bytes = [0; u8::MAX as usize];
    let [length] = input.read();
    let bytes = bytes.get_mut(..usize::from(length))?;
    input.fill(bytes);
    postcard::from_bytes(bytes).ok()
}

fn count_run(input: &File) -> Option<()> {
    let plan = plan(input)?;
    let arm = plan.arm.as_ref()?;
    match arm.joints.len() {
        6 => count::<6>(input, &plan.job, arm),
        7 => count::<7>(input, &plan.job, arm),
        _ => None,
    }
}

/// Runs all samples; the rows of the output are the ticks of the stages and of the whole.
#[inline(never)]
fn count<const N: usize>(input: &File, job: &BoltJob, arm: &ArmDescription) -> Option<()> {
    let counter = Counter::start();
    let output = File::open(b"ticks.bin\0", true);
    let [nops, nothing] = counter.calibrate();
    let (stack_new, monitor) = stack_of(DEEP, || Monitor::<N, BINS>::try_new(job, Some(arm)));
    let mut monitor = monitor.ok()?;
    let mut street = Street::<N>::new(job, arm)?;
    output.write_words(&[
        nops,
        nothing,
        size_of::<Monitor<N, BINS>>() as u32,
        stack_new,
    ]);
    let samples = u32::from_le_bytes(input.read());
    let mut stack_update = 0;
    for _ in 0..samples {
        let sample = &read::<N>(input);
        let taring = street.taring(sample);
        let (t_arm, arm) = counter.ticks(|| black_box(street.arm(sample)));
        let (t_wrench, estimate) = counter.ticks(|| black_box(street.wrench(sample, &arm, taring)));
        let torque = &estimate.axial;
        let (t_turn, (motion, advance_m)) =
            counter.ticks(|| black_box(street.turn(&arm.pose, torque, taring)));
        let (t_curve, _) =
            counter.ticks(|| black_box(street.curve(sample, &motion, torque, advance_m)));
        let due = monitor.due();
        let (stack, (t_whole, told)) = stack_of(SHALLOW, || {
            counter.ticks(|| black_box(update(&mut monitor, sample)))
        });
        stack_update = stack.max(stack_update);
        street.follow(&told);
        let bears = bears(due, monitor.due(), told.time_us == sample.time_us);
        let row: [u32; STAGES + 2] = [t_arm, t_wrench, t_turn, t_curve, t_whole, bears];
        output.write_words(&row);
    }
    let (stack_summary, _) = stack_of(DEEP, || black_box(summary(&monitor)));
    output.write_words(&[stack_update, stack_summary]);
    Some(())
}

/// Which part of the monitor's work a sample bore: from the stage that was due before it to the one due
/// after, and whether the update tells of this very sample. Numbered as in `host-tools/examples/cost.rs`.
fn bears(before: Stage, after: Stage, told: bool) -> u32 {
    match (before, after) {
        _ if told => 5,
        (Stage::Explain, Stage::Explain) => 0,
        (Stage::Explain, Stage::Weigh) => 1,
        (Stage::Weigh, Stage::Turn | Stage::Explain) => 2,
        (Stage::Turn, Stage::Tell) => 3,
        (Stage::Tell, Stage::Explain) => 4,
        _ => 5,
    }
}

#[inline(never)]
fn update<const N: usize>(monitor: &mut Monitor<N, BINS>, sample: &JointSample<N>) -> Update {
    monitor.update(sample)
}

#[inline(never)]
fn summary<const N: usize>(monitor: &Monitor<N, BINS>) -> RunSummary {
    monitor.summary()
}

/// One sample: time in µs, then positions, velocities and torques.
fn read<const N: usize>(input: &File) -> JointSample<N> {
    let time_us = u64::from_le_bytes(input.read());
    let joints = || core::array::from_fn(|_| f32::from_le_bytes(input.read()));
    let (position_rad, velocity, torque_nm) = (joints(), joints(), joints());
    let mut sample = JointSample::new(time_us, position_rad, torque_nm);
    sample.velocity_rad_s = Some(velocity);
    sample
}
