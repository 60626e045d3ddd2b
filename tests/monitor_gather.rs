//! Samples that come faster than the bolt does anything are gathered, and a block of them walks the street
//! in stages: what a run comes to may not depend on it.

mod rig;

use bolting_monitor::monitor::{Stage, Update};
use bolting_monitor::procedure::{Direction, RunSummary};
use bolting_monitor::sample::JointSample;
use proptest::prelude::*;

use rig::{BoltMonitor, N, NOISE_NM, POSE_RAD, RANGE_NM, Rig, arm, job};

/// What the bolt asks for at an angle, degrees: N·m.
type Bolt = fn(f32) -> f32;

/// A turn and a half of rundown, then a target of 30 N·m passed within 57°.
fn passes_the_target(deg: f32) -> f32 {
    1.5 + 0.7 * (deg - 540.0).max(0.0)
}

/// As far as 20 N·m, then the thread goes.
fn strips(deg: f32) -> f32 {
    passes_the_target(deg.min(568.0)) - 0.6 * (deg - 568.0).clamp(0.0, 30.0)
}

/// Against something a third of a turn down.
fn stands_early(deg: f32) -> f32 {
    1.5 + 0.7 * (deg - 120.0).max(0.0)
}

const BOLTS: [(Bolt, f32); 3] = [
    (passes_the_target, 592.0),
    (strips, 610.0),
    (stands_early, 165.0),
];

/// The hand turns at 60° a second.
const DEG_PER_S: f32 = 60.0;
const TARE_S: f32 = 0.4;

/// Samples of one bolt `step_us` apart, the hand turning after the tare.
fn samples(bolt: Bolt, until_deg: f32, step_us: u64) -> Vec<JointSample<N>> {
    let mut rig = Rig::untared(&job(Direction::Tighten));
    let last_us = ((TARE_S + until_deg / DEG_PER_S) * 1e6) as u64;
    (0..last_us / step_us)
        .map(|i| {
            let time_us = i * step_us;
            let deg = ((time_us as f32 * 1e-6 - TARE_S) * DEG_PER_S).max(0.0);
            rig.time_us = 1_000_000 + time_us;
            rig.position_rad = POSE_RAD;
            rig.position_rad[N - 1] += deg.to_radians();
            rig.sample(if deg > 0.0 { bolt(deg) } else { 0.0 })
        })
        .collect()
}

/// All that a run said.
struct Said {
    findings: Vec<(&'static str, f32)>,
    snug_deg: Vec<f32>,
    points: Vec<Update>,
    last: Update,
    summary: RunSummary,
}

fn play<'a>(samples: impl IntoIterator<Item = &'a JointSample<N>>) -> Said {
    let mut monitor =
        BoltMonitor::try_new(&job(Direction::Tighten), Some(&arm())).expect("sound descriptions");
    let (mut findings, mut snug_deg, mut points, mut last) = (vec![], vec![], vec![], None);
    for sample in samples {
        let update = monitor.update(sample);
        let deg = update.angle_rad.to_degrees();
        findings.extend(update.finding.map(|f| (f.kind.name(), deg)));
        snug_deg.extend(update.snug_seen.then_some(deg));
        points.extend(update.curve_point.then_some(update));
        last = Some(update);
    }
    Said {
        findings,
        snug_deg,
        points,
        last: last.expect("some samples"),
        summary: monitor.summary(),
    }
}

fn names(said: &Said) -> Vec<&'static str> {
    said.findings.iter().map(|(name, _)| *name).collect()
}

/// At 4 kHz, and at the 1 kHz that every fourth sample makes of it, a run comes to the same.
#[test]
fn a_run_at_4_khz_comes_to_what_its_1_khz_reading_does() {
    for (bolt, until_deg) in BOLTS {
        let all = samples(bolt, until_deg, 250);
        let (fast, slow) = (play(&all), play(all.iter().step_by(4)));
        assert_eq!(names(&fast), names(&slow));
        assert!(!fast.findings.is_empty());
        for ((name, fast), (_, slow)) in fast.findings.iter().zip(&slow.findings) {
            // A step is half a degree, and a block lags by a tenth.
            assert!((fast - slow).abs() < 1.3, "{name}: {fast} for {slow}");
        }
        assert_eq!(fast.snug_deg.len(), slow.snug_deg.len());
        let (f, s) = (&fast.summary, &slow.summary);
        assert_eq!((f.verdict, f.gaps), (s.verdict, 0));
        assert_eq!(f.samples as usize, all.len());
        // Up to the last two milliseconds are not in it, at 0.06° a millisecond.
        let angle_deg = (f.final_angle_rad - s.final_angle_rad).to_degrees();
        assert!(angle_deg.abs() < 0.15, "{angle_deg}");
        let torque_nm = f.final_torque_nm - s.final_torque_nm;
        assert!(
            torque_nm.abs() < 0.1 + 2.0 * s.final_torque_u_nm.min(f.final_torque_u_nm),
            "{torque_nm} of {}",
            s.final_torque_nm
        );
    }
}

/// The mean of four has half the noise, and the stated uncertainty is less by as much: what does not average
/// out is the same at any rate.
#[test]
fn noise_is_stated_as_it_is_at_any_rate() {
    let mut alone_u_square = None;
    for (step_us, samples_of_block) in [(1000, 1.0), (500, 2.0), (250, 4.0), (100, 10.0)] {
        let all = samples(|_| 1.5, 60.0, step_us);
        let mut monitor =
            BoltMonitor::try_new(&job(Direction::Tighten), Some(&arm())).expect("sound");
        let (mut told, mut u_nm, mut last_us) = (Vec::new(), 0.0, 0);
        for sample in &all {
            let update = monitor.update(sample);
            if update.time_us > last_us && update.angle_rad > 0.2 {
                told.push(f64::from(update.torque_nm));
                u_nm = f64::from(update.torque_u_nm);
            }
            last_us = update.time_us;
        }
        // The last joint alone reads the axial moment here.
        let differences = told.windows(2).map(|pair| (pair[1] - pair[0]).powi(2));
        let noise_nm = (differences.sum::<f64>() / (2.0 * (told.len() - 1) as f64)).sqrt();
        let due_nm = f64::from(NOISE_NM) / f64::sqrt(samples_of_block);
        // A thousand blocks: their spread is known to a few percent.
        assert!(
            (noise_nm / due_nm - 1.0).abs() < 0.12,
            "{noise_nm} for {due_nm} at {step_us} µs"
        );
        let alone = *alone_u_square.get_or_insert(u_nm * u_nm);
        let stated = (alone - u_nm * u_nm) / f64::from(NOISE_NM).powi(2);
        // The bias from the tare is known better, too: by a 400th of the noise.
        assert!(
            (stated - (1.0 - 1.0 / samples_of_block)).abs() < 0.02,
            "{stated} of the noise's square less at {step_us} µs"
        );
    }
}

/// Up to 1.5 kHz, however much the samples jitter, each is a block of itself: the update is of that sample.
#[test]
fn at_1_khz_every_sample_is_told_at_once() {
    let mut seed = 7_u64;
    let mut all = samples(passes_the_target, 200.0, 1000);
    for sample in &mut all {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
        // Either way by up to two fifths of a step.
        sample.time_us += 400 + (seed >> 40) % 800 - 400;
    }
    let mut monitor = BoltMonitor::try_new(&job(Direction::Tighten), Some(&arm())).expect("sound");
    for sample in &all {
        assert_eq!(monitor.update(sample).time_us, sample.time_us);
        assert_eq!(monitor.due(), Stage::Explain);
    }
}

/// At 4 kHz every stage has a sample of its own, and a block of every four comes to its end.
#[test]
fn at_4_khz_a_sample_bears_one_stage() {
    let all = samples(passes_the_target, 200.0, 250);
    let mut monitor = BoltMonitor::try_new(&job(Direction::Tighten), Some(&arm())).expect("sound");
    let mut blocks = 0;
    for (i, sample) in all.iter().enumerate() {
        let due = monitor.due();
        let told_us = monitor.update(sample).time_us;
        if i < 2000 {
            continue;
        }
        let next = match due {
            Stage::Explain => Stage::Weigh,
            Stage::Weigh => Stage::Turn,
            Stage::Turn => Stage::Tell,
            Stage::Tell => Stage::Explain,
        };
        assert_eq!(monitor.due(), next, "sample {i}");
        if due == Stage::Tell {
            blocks += 1;
            // The mean of four, told with the third after the last of them.
            assert_eq!(sample.time_us - told_us, 375 + 3 * 250);
        }
    }
    assert_eq!(blocks, (all.len() - 2000) / 4);
}

/// One clipped reading of four makes the mean a bound, not a torque.
#[test]
fn one_clipped_reading_of_a_block_is_not_averaged_away() {
    let mut all = samples(|_| 1.5, 60.0, 250);
    let at = all.len() - 1000;
    for sample in all[at..].iter_mut().step_by(4) {
        sample.torque_nm[1] = RANGE_NM;
    }
    let said = play(&all);
    assert_eq!(names(&said)[0], "sensor_saturated");
    assert!(!said.last.torque_observable);
}

/// A sensor that stands still is found at 4 kHz as at 1 kHz, after a quarter of a second.
#[test]
fn a_frozen_sensor_is_found_in_gathered_samples() {
    let mut all = samples(|deg| 1.5 + 0.01 * deg, 120.0, 250);
    let at = all.len() - 4000;
    let stuck_nm = all[at].torque_nm[2];
    let stuck_us = all[at].time_us;
    for sample in &mut all[at..] {
        sample.torque_nm[2] = stuck_nm;
    }
    let mut monitor = BoltMonitor::try_new(&job(Direction::Tighten), Some(&arm())).expect("sound");
    let found = (all.iter()).find_map(|sample| monitor.update(sample).finding);
    let found = found.expect("a finding");
    assert_eq!(found.kind.name(), "sensor_frozen");
    let after_ms = (found.time_us - stuck_us) / 1000;
    assert!((249..260).contains(&after_ms), "{after_ms} ms");
}

/// What ends blocks early: a switch that nothing here depends on, and gaps of up to 15 ms.
#[derive(Clone, Copy, Debug)]
struct Break {
    /// Samples after the break before.
    after: usize,
    flip: bool,
    lost: usize,
}

fn breaks() -> impl Strategy<Value = Vec<Break>> {
    let one = (300_usize..3000, any::<bool>(), 0_usize..30);
    let one = one.prop_map(|(after, flip, lost)| Break { after, flip, lost });
    proptest::collection::vec(one, 0..60)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// Wherever blocks end early, the same is found, in the same order, once; and every step of the curve
    /// comes as a point, its angles and times in order.
    #[test]
    fn nothing_is_lost_or_said_twice_where_blocks_end_early(
        bolt in 0..BOLTS.len(),
        step_us in prop::sample::select(vec![100_u64, 250, 300, 500]),
        breaks in breaks(),
    ) {
        let (bolt, until_deg) = BOLTS[bolt];
        let whole = samples(bolt, until_deg, step_us);
        let mut powered = true;
        let mut broken = whole.clone();
        // Not in the tare.
        let mut at = 5000;
        for one in breaks {
            at += one.after;
            if at + one.lost >= broken.len() {
                break;
            }
            broken.drain(at..at + one.lost);
            powered ^= one.flip;
            for sample in &mut broken[at..] {
                sample.context.tool_powered = powered;
            }
        }
        let (broken, whole) = (play(&broken), play(&whole));
        prop_assert_eq!(names(&broken), names(&whole));
        prop_assert_eq!(broken.snug_deg.len(), whole.snug_deg.len());
        for pair in broken.points.windows(2) {
            prop_assert!(pair[0].time_us < pair[1].time_us);
            prop_assert!(pair[0].angle_rad < pair[1].angle_rad);
            // A step is half a degree; a gap of 15 ms adds nine tenths.
            prop_assert!(pair[1].angle_rad - pair[0].angle_rad < 1.6_f32.to_radians(), "{:?}", pair);
        }
        let angle_rad = broken.summary.final_angle_rad - whole.summary.final_angle_rad;
        prop_assert!(angle_rad.abs() < 0.2_f32.to_radians() + 1e-3, "{}", angle_rad.to_degrees());
    }

    /// Whatever comes when, in whichever shape: no figure that is none, no permit after a stop.
    #[test]
    fn any_pace_and_any_shape_is_taken(
        stretches in proptest::collection::vec(
            (0_u64..3000, 1_usize..60, any::<u8>(), any::<u32>()),
            1..60,
        ),
    ) {
        let mut monitor = BoltMonitor::try_new(&job(Direction::Tighten), Some(&arm())).expect("sound");
        let all = samples(stands_early, 165.0, 250);
        let mut from = all.iter().cycle();
        let mut time_us = 0;
        let mut stopped = false;
        for (step_us, count, shape, bits) in stretches {
            for i in 0..count {
                let mut sample = *from.next().expect("without end");
                time_us += step_us;
                sample.time_us = time_us;
                sample.context.tool_held = shape & 1 == 0;
                sample.context.arm_enabled = shape & 2 == 0;
                sample.velocity_rad_s = (shape & 4 == 0).then_some([0.1; N]);
                sample.wrist = (shape & 8 != 0).then_some(bolting_monitor::sample::WristReading {
                    force_n: [1.0; 3],
                    moment_nm: [0.1; 3],
                });
                sample.spindle = (shape & 16 != 0).then_some(bolting_monitor::sample::SpindleReading {
                    angle_rad: 0.01 * i as f32,
                    torque_nm: 1.0,
                });
                if i == 0 {
                    sample.torque_nm[usize::from(shape) % N] = f32::from_bits(bits);
                }
                let update = monitor.update(&sample);
                prop_assert!(update.torque_nm.is_finite() && update.angle_rad.is_finite());
                prop_assert!(update.torque_u_nm >= 0.0 && update.time_us <= time_us);
                stopped |= update.finding.is_some_and(|finding| finding.stops());
                prop_assert!(!(stopped && update.permitted));
            }
        }
        let _ = (monitor.summary(), monitor.finish());
    }
}
