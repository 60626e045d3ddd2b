//! Whether a recording is of free motion, as a tare has to be.

use bolting_monitor::arm::ArmDescription;
use bolting_monitor::monitor::{Monitor, MonitorError};
use bolting_monitor::procedure::BoltJob;
use bolting_monitor::sample::JointSample;

/// Samples that are put together, s: a hand that touches something does so for longer.
const STRETCH_S: f64 = 0.1;
/// Torque that moves by more than this many standard uncertainties is touched by something. Both ends
/// of the swing may be off by five of them, which chance does once in a million.
const SWING_U: f32 = 10.0;

/// A torque at the socket that free motion does not have.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Swing {
    /// From its least to its greatest mean over a tenth of a second, N·m.
    pub swing_nm: f32,
    /// The largest standard uncertainty that the torque was stated with, N·m.
    pub u_nm: f32,
}

/// How the torque moves within a recording of free motion, where it moves further than noise, friction
/// and masses explain. In free air nothing else acts on the socket, whatever the joints do. The zero is
/// that of the recording's own first part: one taken from all of it would have the fault in it.
///
/// # Errors
/// When the description does not make a monitor.
pub fn swing<const N: usize>(
    job: &BoltJob,
    arm: Option<&ArmDescription>,
    free: impl Iterator<Item = JointSample<N>>,
) -> Result<Option<Swing>, MonitorError> {
    let mut monitor = Box::new(Monitor::<N>::try_new(job, arm)?);
    let (mut least, mut most, mut u_nm) = (f32::INFINITY, f32::NEG_INFINITY, 0.0_f32);
    let mut stretch: Option<(u64, f64, u32)> = None;
    for sample in free {
        let update = monitor.update(&sample);
        if !(update.torque_observable && update.torque_nm.is_finite()) {
            continue;
        }
        u_nm = u_nm.max(update.torque_u_nm);
        let (start_us, sum_nm, count) = stretch.get_or_insert((sample.time_us, 0.0, 0));
        *sum_nm += f64::from(update.torque_nm);
        *count += 1;
        if sample.time_us.saturating_sub(*start_us) as f64 * 1e-6 >= STRETCH_S {
            let mean_nm = (*sum_nm / f64::from(*count)) as f32;
            (least, most) = (least.min(mean_nm), most.max(mean_nm));
            stretch = None;
        }
    }
    let swing_nm = most - least;
    Ok((swing_nm > SWING_U * u_nm).then_some(Swing { swing_nm, u_nm }))
}
