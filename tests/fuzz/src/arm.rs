//! An arm of six joints that does what the fuzzer says, and reads any bits now and then.
#![no_main]

#[path = "../../rig/mod.rs"]
mod rig;
mod watch;

use arbitrary::Arbitrary;
use bolting_monitor::procedure::Direction;
use bolting_monitor::sample::{JointSample, WristReading};
use libfuzzer_sys::fuzz_target;
use rig::{BoltMonitor, N, POSE_RAD};
use watch::Watch;

/// A stretch of one motion.
#[derive(Arbitrary, Debug)]
struct Stretch {
    samples: u8,
    step_us: u16,
    /// Which joint moves, and by how much per sample, 0.1 mrad.
    joint: u8,
    moved: i16,
    /// Change of the hand's torque per sample, mN·m.
    rise: i16,
    /// Added to the hand's torque for this stretch, 10 mN·m.
    jump: i16,
    switches: u8,
    /// A figure that replaces one of those of its last sample.
    bits: Option<(u8, u32)>,
}

#[derive(Arbitrary, Debug)]
struct Run {
    undo: bool,
    stretches: Vec<Stretch>,
}

fuzz_target!(|run: Run| {
    let job = rig::job(if run.undo {
        Direction::Undo
    } else {
        Direction::Tighten
    });
    let mut monitor = BoltMonitor::try_new(&job, Some(&rig::arm())).expect("sound");
    let mut watch = Watch::new();
    let (mut time_us, mut position_rad, mut torque_nm) = (0_u64, POSE_RAD, [0.0_f32; N]);
    for stretch in run.stretches.iter().take(200) {
        torque_nm[N - 1] += 0.01 * f32::from(stretch.jump);
        for i in 0..=stretch.samples {
            time_us = time_us.wrapping_add(u64::from(stretch.step_us));
            position_rad[usize::from(stretch.joint) % N] += 1e-4 * f32::from(stretch.moved);
            torque_nm[N - 1] += 1e-3 * f32::from(stretch.rise);
            let mut sample = JointSample::<N>::new(time_us, position_rad, torque_nm);
            sample.context.tool_powered = stretch.switches & 1 == 0;
            sample.context.arm_enabled = stretch.switches & 2 == 0;
            sample.context.tool_held = stretch.switches & 4 == 0;
            sample.context.payload_held = stretch.switches & 8 != 0;
            if stretch.switches & 16 != 0 {
                sample.wrist = Some(WristReading {
                    force_n: [0.0; 3],
                    moment_nm: [torque_nm[N - 1], 0.0, 0.0],
                });
            }
            if stretch.switches & 32 != 0 {
                sample.velocity_rad_s = Some([0.0; N]);
            }
            if let Some((place, bits)) = stretch.bits
                && i == stretch.samples
            {
                replace(&mut sample, usize::from(place), f32::from_bits(bits));
            }
            watch.look(&monitor.update(&sample));
        }
        let _ = monitor.silence(time_us.wrapping_add(u64::from(stretch.step_us) * 100));
    }
    watch.finish(&monitor);
});

fn replace(sample: &mut JointSample<N>, place: usize, figure: f32) {
    let wrist = sample.wrist.as_mut();
    let figures = sample
        .position_rad
        .iter_mut()
        .chain(&mut sample.torque_nm)
        .chain(sample.velocity_rad_s.iter_mut().flatten())
        .chain(
            wrist
                .into_iter()
                .flat_map(|w| w.force_n.iter_mut().chain(&mut w.moment_nm)),
        )
        .chain(core::iter::once(&mut sample.context.force_ratio));
    let mut figures: Vec<&mut f32> = figures.collect();
    let count = figures.len();
    *figures[place % count] = figure;
}
