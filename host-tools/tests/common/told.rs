//! What a controller may tell of an invented bolt.

use bolting_monitor::detect::{Finding, FindingKind, Quantity};
use bolting_monitor::procedure::{Reason, RunSummary, Verdict};

/// Time of the first sample of every run, µs.
pub const START_US: u64 = 5_000_000;

/// A finding of 21 N·m against 3, at 10 rad.
pub fn finding(kind: FindingKind, time_us: u64) -> Finding {
    Finding {
        kind,
        time_us,
        angle_rad: 10.0,
        torque_nm: 21.0,
        torque_u_nm: 0.25,
        slope_nm_per_rad: 0.0,
        slope_u_nm_per_rad: 0.0,
        advance_ratio: None,
        quantity: Quantity::TorqueNm,
        value: 21.0,
        limit: 3.0,
        place: None,
        likely: None,
        runner_up: None,
    }
}

/// A run of 12 rad that ended at 24.5 N·m.
pub fn summary(verdict: Verdict, reasons: &[Reason]) -> RunSummary {
    RunSummary {
        verdict,
        reasons: heapless::Vec::from_slice(reasons).expect("room"),
        final_torque_nm: 24.5,
        final_torque_u_nm: 0.25,
        final_angle_rad: 12.0,
        final_angle_u_rad: 0.01,
        snug: None,
        samples: 100,
        gaps: 0,
        unusable_samples: 0,
    }
}
