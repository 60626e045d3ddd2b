//! What several wire tests need.
#![allow(dead_code, reason = "each test binary uses a part")]

use bolting_monitor::detect::{Cause, Finding, FindingKind, Quantity};
use bolting_monitor::monitor::Update;
use bolting_monitor::phase::Phase;
use bolting_monitor::procedure::{Reason, RunSummary, Snug, Verdict};
use bolting_monitor::sample::{Context, JointSample, SpindleReading, WristReading};
use bolting_monitor::wire::{Decoder, FromController, LinkCounts};

pub fn finding() -> Finding {
    Finding {
        kind: FindingKind::Strip,
        time_us: 3_250_000,
        angle_rad: 33.5,
        torque_nm: 41.25,
        torque_u_nm: 0.75,
        slope_nm_per_rad: -6.5,
        slope_u_nm_per_rad: 0.25,
        advance_ratio: Some((0.125, 0.0625)),
        quantity: Quantity::DropNm,
        value: 5.5,
        limit: 3.0,
        likely: Some(Cause::StrippingThread),
        place: None,
        runner_up: Some(Cause::YieldingBolt),
    }
}

pub fn update(time_us: u64) -> Update {
    Update {
        time_us,
        torque_nm: 12.0,
        torque_u_nm: 0.5,
        torque_observable: true,
        angle_rad: 1.5,
        angle_u_rad: 0.01,
        turning: true,
        phase: Phase::Rundown,
        side_moment: None,
        snug_seen: false,
        finding: None,
        permitted: true,
        stopped: false,
        curve_point: false,
    }
}

pub fn summary() -> RunSummary {
    RunSummary {
        verdict: Verdict::Rejected,
        reasons: [Reason::TorqueInWindow, Reason::FindingStands]
            .into_iter()
            .collect(),
        final_torque_nm: 47.5,
        final_torque_u_nm: 0.875,
        final_angle_rad: 33.75,
        final_angle_u_rad: 0.03125,
        snug: Some(Snug {
            angle_rad: 31.5,
            angle_u_rad: 0.125,
            torque_nm: 0.5,
        }),
        samples: 4000,
        gaps: 2,
        unusable_samples: 1,
    }
}

pub fn sample() -> JointSample<7> {
    JointSample {
        velocity_rad_s: Some([-0.5; 7]),
        wrist: Some(WristReading {
            force_n: [1.0, 2.0, 3.0],
            moment_nm: [0.5, 0.25, 0.125],
        }),
        spindle: Some(SpindleReading {
            angle_rad: 6.25,
            torque_nm: 8.5,
        }),
        context: Context {
            payload_held: true,
            ..Context::new()
        },
        ..JointSample::new(
            987_654_321,
            [0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0],
            [7.0, 6.0, 5.0, 4.0, 3.0, 2.0, 1.0],
        )
    }
}

pub fn read(bytes: &[u8]) -> (Vec<FromController>, LinkCounts) {
    let mut decoder = Decoder::new();
    let mut messages = Vec::new();
    for byte in bytes {
        if let Some(frame) = decoder.feed(*byte) {
            messages.push(FromController::decode(&frame).expect("a known message"));
        }
    }
    (messages, decoder.counts())
}
