//! Whatever bits come through the door: an answer, no panic; and for sound ones the crate's own.

mod common;

use bolting_monitor::monitor::Monitor;
use bolting_monitor::sample::{JointSample, SpindleReading};
use bolting_monitor_c::*;
use common::{Memory, blob, create, plan, sample, setup, summary, update};
use proptest::prelude::*;

/// Mostly figures such as an arm gives, now and then any bits.
fn figure() -> impl Strategy<Value = f32> {
    prop_oneof![8 => -100.0_f32..100.0, 2 => any::<u32>().prop_map(f32::from_bits)]
}

prop_compose! {
    fn any_sample()(
        struct_size in prop_oneof![9 => Just(BM_SAMPLE_SIZE as u32), 1 => any::<u32>()],
        flags in prop_oneof![9 => 0_u32..128, 1 => any::<u32>()],
        time_us in prop_oneof![9 => 0_u64..10_000_000, 1 => any::<u64>()],
        joints in prop_oneof![9 => Just(7_u32), 1 => any::<u32>()],
        figures in prop::collection::vec(figure(), 33),
    ) -> Sample {
        let some = |from: usize| core::array::from_fn(|i| figures[from + i]);
        let wrist = |from: usize| core::array::from_fn(|i| figures[from + i]);
        Sample {
            struct_size,
            flags,
            time_us,
            joints,
            position_rad: some(0),
            velocity_rad_s: some(8),
            torque_nm: some(16),
            wrist_force_n: wrist(24),
            wrist_moment_nm: wrist(27),
            spindle_angle_rad: figures[30],
            spindle_torque_nm: figures[31],
            force_ratio: figures[32],
        }
    }
}

fn config() -> ProptestConfig {
    if cfg!(miri) {
        ProptestConfig::with_cases(2)
    } else {
        ProptestConfig::default()
    }
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn any_samples_are_answered(samples in prop::collection::vec(any_sample(), 0..40)) {
        let blob = blob(&plan(7));
        let mut memory = Memory::new();
        let monitor = create(&mut memory, &setup(&blob)).expect("sound");
        let mut taken = 0;
        for s in &samples {
            let sound = s.struct_size as usize == BM_SAMPLE_SIZE && s.flags < 128 && s.joints == 7;
            let answer = update(monitor, s);
            prop_assert_eq!(answer.is_ok(), sound);
            taken += u32::from(sound);
        }
        prop_assert_eq!(summary(monitor).expect("a monitor").samples, taken);
    }

    #[test]
    fn any_bytes_are_no_plan(bytes in prop::collection::vec(any::<u8>(), 1..300)) {
        let mut memory = Memory::new();
        prop_assert_eq!(create(&mut memory, &setup(&bytes)), Err(Status::PlanDamaged));
    }

    // With a sound CRC any bytes reach the reader behind it.
    #[test]
    fn damaged_plans_are_answered(at in any::<prop::sample::Index>(), to in any::<u8>()) {
        let mut bytes = blob(&plan(7));
        let body = bytes.len() - 4;
        bytes[at.index(body)] = to;
        let crc = bolting_monitor::wire::crc32(&bytes[..body]);
        bytes[body..].copy_from_slice(&crc.to_le_bytes());
        let mut memory = Memory::new();
        if let Ok(monitor) = create(&mut memory, &setup(&bytes)) {
            prop_assert!(summary(monitor).is_ok());
        }
    }
}

/// Samples of a run. In Miri a thousand take minutes, and few of them give no finding.
const SAMPLES: u32 = if cfg!(miri) { 50 } else { 1000 };

/// A spindle that runs free, clamps and gives way.
fn spindle(i: u32) -> SpindleReading {
    let angle_rad = 22.5 * i as f32 / SAMPLES as f32;
    let torque_nm = match angle_rad {
        a if a < 20.0 => 0.5,
        a if a < 21.0 => 0.5 + 39.5 * (a - 20.0),
        a if a < 21.5 => 40.0,
        a => 40.0 - 30.0 * (a - 21.5),
    };
    SpindleReading {
        angle_rad,
        torque_nm,
    }
}

#[test]
fn c_is_told_what_rust_is_told() {
    let plan = plan(0);
    let mut own = Monitor::<0>::try_new(&plan.job, None).expect("sound");
    let blob = blob(&plan);
    let mut memory = Memory::new();
    let monitor = create(&mut memory, &setup(&blob)).expect("sound");
    let mut found = 0;
    for i in 0..SAMPLES {
        let reading = spindle(i);
        let mut ours = JointSample::<0>::new(2000 * u64::from(i), [], []);
        ours.spindle = Some(reading);
        let mut theirs = sample(0);
        theirs.flags |= BM_SAMPLE_SPINDLE;
        theirs.time_us = ours.time_us;
        theirs.spindle_angle_rad = reading.angle_rad;
        theirs.spindle_torque_nm = reading.torque_nm;
        let a = own.update(&ours);
        let b = update(monitor, &theirs).expect("a sound sample");
        assert_eq!(
            (
                a.time_us,
                a.torque_nm.to_bits(),
                a.torque_u_nm.to_bits(),
                a.angle_rad.to_bits()
            ),
            (
                b.time_us,
                b.torque_nm.to_bits(),
                b.torque_u_nm.to_bits(),
                b.angle_rad.to_bits()
            )
        );
        assert_eq!(
            (
                a.permitted,
                a.stopped,
                a.turning,
                a.torque_observable,
                a.snug_seen,
                a.curve_point
            ),
            (
                b.permitted,
                b.stopped,
                b.turning,
                b.torque_observable,
                b.snug_seen,
                b.curve_point
            )
        );
        assert_eq!(a.finding.map_or(0, |f| f.kind.wire_code()), b.finding.kind);
        assert_eq!(a.finding.map_or(0.0, |f| f.limit), b.finding.limit);
        found += u32::from(b.has_finding);
    }
    assert!(found > 0 || cfg!(miri), "the thread gave way");
    let (a, b) = (own.summary(), summary(monitor).expect("a monitor"));
    assert_eq!(a.verdict.wire_code(), b.verdict);
    assert_eq!(a.reasons.len(), usize::from(b.reason_count));
    assert_eq!(a.final_torque_nm.to_bits(), b.final_torque_nm.to_bits());
    assert_eq!(a.samples, b.samples);
    // Then no sample comes any more.
    let mut stale = core::mem::MaybeUninit::<Finding>::zeroed();
    let kind = |stale: &mut core::mem::MaybeUninit<Finding>| {
        // SAFETY: the first field, within the struct.
        unsafe {
            stale
                .as_mut_ptr()
                .cast::<u32>()
                .write(BM_FINDING_SIZE as u32)
        };
        // SAFETY: a monitor and a struct of this test's own.
        let status = unsafe { bm_monitor_silence(monitor, 60_000_000, stale.as_mut_ptr()) };
        assert_eq!(status, Status::Ok);
        // SAFETY: zeros are a sound `Finding`, too.
        unsafe { stale.assume_init_ref() }.kind
    };
    assert_eq!(kind(&mut stale), FindingKind::SamplesStale as u8);
    assert_eq!(kind(&mut stale), 0, "once per silence");
}
