//! Counts the instructions of `Monitor::update` and of its stages, sample by sample.
//!
//! Reads `input.bin` (job and samples) and writes `ticks.bin`; `host-tools/examples/cost.rs` makes
//! the one, reads the other and says what the numbers mean.

#![no_std]
#![no_main]

mod board;
mod street;

use core::hint::black_box;

use bolting_monitor::arm::ArmDescription;
use bolting_monitor::monitor::{Monitor, Update};
use bolting_monitor::procedure::{BoltJob, RunSummary};
use bolting_monitor::sample::JointSample;
use bolting_monitor::wire::Plan;

use board::{Counter, File, exit, stack_of};
use street::{BINS, STAGES, Street};

/// Stack that is watched while a monitor is made or asked, and during an update, bytes.
const DEEP: usize = 48 * 1024;
const SHALLOW: usize = 4 * 1024;
/// Room for the job.
const JOB_BYTES: usize = 2048;

#[cfg_attr(target_arch = "arm", cortex_m_rt::entry)]
#[cfg_attr(target_arch = "riscv32", unsafe(no_mangle))]
fn main() -> ! {
    let input = File::open(b"input.bin\0", false);
    let length = u32::from_le_bytes(input.read()) as usize;
    let mut bytes = [0; JOB_BYTES];
    let Some(bytes) = bytes.get_mut(..length) else {
        exit(false)
    };
    input.fill(bytes);
    let Ok(Plan {
        job,
        arm: Some(arm),
        ..
    }) = Plan::from_blob(bytes)
    else {
        exit(false)
    };
    let done = match arm.joints.len() {
        6 => count::<6>(&input, &job, &arm),
        7 => count::<7>(&input, &job, &arm),
        _ => None,
    };
    exit(done.is_some())
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
    output.write(&[
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
        let (t_arm, (pose, friction)) = counter.ticks(|| black_box(street.arm(sample)));
        let (t_wrench, estimate) =
            counter.ticks(|| black_box(street.wrench(sample, &pose, &friction, taring)));
        let torque = &estimate.axial;
        let (t_turn, (motion, advance_m)) =
            counter.ticks(|| black_box(street.turn(&pose, torque, taring)));
        let (t_curve, _) =
            counter.ticks(|| black_box(street.curve(sample, &motion, torque, advance_m)));
        let (stack, (t_whole, told)) = stack_of(SHALLOW, || {
            counter.ticks(|| black_box(update(&mut monitor, sample)))
        });
        stack_update = stack.max(stack_update);
        street.follow(&told);
        let row: [u32; STAGES + 1] = [t_arm, t_wrench, t_turn, t_curve, t_whole];
        output.write(&row);
    }
    let (stack_summary, _) = stack_of(DEEP, || black_box(summary(&monitor)));
    output.write(&[stack_update, stack_summary]);
    Some(())
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
