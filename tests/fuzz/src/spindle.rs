//! A powered spindle that does what the fuzzer says, and reads any bits now and then.
#![no_main]

#[path = "../../rig/mod.rs"]
mod rig;
mod watch;

use arbitrary::Arbitrary;
use bolting_monitor::monitor::Monitor;
use bolting_monitor::procedure::{Direction, Mode};
use bolting_monitor::sample::{JointSample, SpindleReading};
use libfuzzer_sys::fuzz_target;
use watch::Watch;

/// A stretch of turning.
#[derive(Arbitrary, Debug)]
struct Stretch {
    samples: u8,
    step_us: u16,
    /// Turned per sample, 0.1 mrad.
    turned: i16,
    /// Change of torque per sample, mN·m.
    rise: i16,
    /// Added to the torque for this stretch, 10 mN·m.
    jump: i16,
    switches: u8,
    /// Figures that replace the angle and the torque of its last sample.
    bits: Option<(u32, u32)>,
}

#[derive(Arbitrary, Debug)]
struct Run {
    undo: bool,
    stretches: Vec<Stretch>,
}

fuzz_target!(|run: Run| {
    let mut job = rig::job(if run.undo {
        Direction::Undo
    } else {
        Direction::Tighten
    });
    job.mode = Mode::PoweredSpindle;
    let mut monitor = Monitor::<0, 64>::try_new(&job, None).expect("sound");
    let mut watch = Watch::new();
    let (mut time_us, mut angle_rad, mut torque_nm) = (0_u64, 0.0_f32, 0.0_f32);
    for stretch in run.stretches.iter().take(200) {
        torque_nm += 0.01 * f32::from(stretch.jump);
        for i in 0..=stretch.samples {
            time_us = time_us.wrapping_add(u64::from(stretch.step_us));
            angle_rad += 1e-4 * f32::from(stretch.turned);
            torque_nm += 1e-3 * f32::from(stretch.rise);
            let mut sample = JointSample::<0>::new(time_us, [], []);
            sample.context.tool_powered = stretch.switches & 1 == 0;
            sample.context.arm_enabled = stretch.switches & 2 == 0;
            sample.context.tool_held = stretch.switches & 4 == 0;
            let (angle_rad, torque_nm) = match stretch.bits {
                Some((a, t)) if i == stretch.samples => (f32::from_bits(a), f32::from_bits(t)),
                _ => (angle_rad, torque_nm),
            };
            if stretch.switches & 8 == 0 {
                sample.spindle = Some(SpindleReading {
                    angle_rad,
                    torque_nm,
                });
            }
            watch.look(&monitor.update(&sample));
        }
        let _ = monitor.silence(time_us.wrapping_add(u64::from(stretch.step_us) * 100));
    }
    watch.finish(&monitor);
});
