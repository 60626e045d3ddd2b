//! What can be read but is most likely not what its column says.

use std::f32::consts::TAU;

use bolting_monitor::sample::JointSample;

/// Step between rows from which torque over angle cannot be told, s: a bolt is done up in seconds.
const SLOW_S: f64 = 1.0;
/// Fewest rows from which a usual step is taken.
const FEW_ROWS: usize = 3;
/// More turns than bolts are run in for; common practice, no source. Two turns in degrees are more.
const MOST_TURNS: f32 = 100.0;
/// What an angle that starts anew with every turn may cover more than a turn, rad: its rounding.
const ROUNDING_RAD: f32 = 0.02;
/// How far a row's own turning may take a step from a whole turn, rad: a quarter of one.
const OWN_STEP_RAD: f32 = TAU / 4.0;

/// Says that rows lie so far apart that the time is most likely in another unit.
pub fn slow<const N: usize>(samples: &[JointSample<N>]) -> Option<String> {
    let mut steps_us: Vec<u64> = (samples.windows(2))
        .map(|pair| pair[1].time_us.saturating_sub(pair[0].time_us))
        .collect();
    if samples.len() < FEW_ROWS {
        return None;
    }
    steps_us.sort_unstable();
    let step_s = steps_us[steps_us.len() / 2] as f64 * 1e-6;
    (step_s >= SLOW_S).then(|| {
        format!(
            "the rows are {step_s:.3} s apart: is time_s in milliseconds or microseconds? it is in seconds, and 100 to 4,000 rows a second are expected"
        )
    })
}

/// Says that the spindle turned further than bolts do: its angle is most likely in degrees.
pub fn far<const N: usize>(samples: &[JointSample<N>]) -> Option<String> {
    let covered_rad = covered_rad(samples);
    let turns = covered_rad / TAU;
    (turns > MOST_TURNS).then(|| {
        format!(
            "the spindle turned {covered_rad:.1} rad, {turns:.0} turns: is spindle_angle_rad in degrees? it is in radians"
        )
    })
}

/// Joins a spindle angle that starts anew with every turn, as an encoder of one turn counts, and says
/// so. Only such an angle stays within a turn and steps by about a whole one.
pub fn unwrapped<const N: usize>(samples: &mut [JointSample<N>]) -> Option<String> {
    if covered_rad(samples) > TAU + ROUNDING_RAD {
        return None;
    }
    let (mut turns, mut joined, mut last) = (0.0_f32, 0_u32, None);
    for sample in samples.iter_mut() {
        let Some(spindle) = &mut sample.spindle else {
            continue;
        };
        let step = last.map_or(0.0, |last| spindle.angle_rad - last);
        last = Some(spindle.angle_rad);
        if (step.abs() - TAU).abs() <= OWN_STEP_RAD {
            turns -= step.signum();
            joined += 1;
        }
        spindle.angle_rad += turns * TAU;
    }
    (joined > 0).then(|| {
        format!(
            "spindle_angle_rad starts anew with every turn: joined at {joined} steps of about 2π"
        )
    })
}

/// From the least spindle angle to the greatest, rad; below any where there is none.
fn covered_rad<const N: usize>(samples: &[JointSample<N>]) -> f32 {
    let (least, most) = samples
        .iter()
        .filter_map(|sample| sample.spindle)
        .fold((f32::INFINITY, f32::NEG_INFINITY), |(least, most), s| {
            (least.min(s.angle_rad), most.max(s.angle_rad))
        });
    most - least
}
