//! What a controller says. Fields travel in the order of declaration: a type here is never changed,
//! only replaced by a new one under a new number.

use heapless::{String, Vec};
use serde::{Deserialize, Serialize};

use crate::monitor::Update;
use crate::procedure::{Reason, RunSummary, Snug, Turn, Verdict};

/// Who is speaking, and which run this is (kind 12). Sent at boot, at the start of each run, after a
/// broken link and from time to time, so that a log that begins anywhere can be read.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Hello {
    /// Differs from boot to boot.
    pub boot_id: u32,
    /// Number of the run since boot, from 1; 0 before the first.
    pub run: u32,
    /// Time of the first sample of that run, µs in the samples' own time.
    pub run_start_us: u64,
    /// Time unit of this protocol, ticks per second: 1 000 000.
    pub ticks_per_s: u32,
    /// Joints per sample that the controller expects; 0: spindle only.
    pub joints: u8,
    /// Version of the controller's software: major, minor, patch.
    pub software: [u8; 3],
    /// CRC of the job that is loaded, see [`Plan::crc_of`](super::Plan::crc_of); 0 if none is.
    pub job_crc: u32,
    /// Name of that job.
    pub job: String<32>,
    /// Which bolt of which pass this run is.
    pub turn: Turn,
}

/// [`Hello`] as it was said before procedures had passes (kind 1). Still read, no longer said.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[allow(missing_docs, reason = "each field is described in Hello")]
pub struct EarlierHello {
    pub boot_id: u32,
    pub run: u32,
    pub run_start_us: u64,
    pub ticks_per_s: u32,
    pub joints: u8,
    pub software: [u8; 3],
    pub job_crc: u32,
    pub job: String<32>,
}

impl From<EarlierHello> for Hello {
    fn from(h: EarlierHello) -> Self {
        Self {
            boot_id: h.boot_id,
            run: h.run,
            run_start_us: h.run_start_us,
            ticks_per_s: h.ticks_per_s,
            joints: h.joints,
            software: h.software,
            job_crc: h.job_crc,
            job: h.job,
            turn: Turn::default(),
        }
    }
}

/// Microseconds from the start of the run, stopping at 71.6 min.
pub(super) fn since(run_start_us: u64, time_us: u64) -> u32 {
    u32::try_from(time_us.saturating_sub(run_start_us)).unwrap_or(u32::MAX)
}

/// One point of the curve.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Point {
    /// Time since the start of the run, µs, at most `u32::MAX` (71.6 min).
    pub time_us: u32,
    /// Bolt angle since the start of the run, rad.
    pub angle_rad: f32,
    /// Bolt torque, N·m.
    pub torque_nm: f32,
    /// Standard uncertainty of that torque, N·m.
    pub torque_u_nm: f32,
    /// Sum of [`Point::OBSERVABLE`] and [`Point::TURNING`]; other bits are for later versions.
    pub flags: u8,
}

impl Point {
    /// The torque can be told in this pose.
    pub const OBSERVABLE: u8 = 1;
    /// The bolt was turning.
    pub const TURNING: u8 = 2;

    /// The point that an update stands for, in a run that began at `run_start_us`.
    pub fn from_update(update: &Update, run_start_us: u64) -> Self {
        Self {
            time_us: since(run_start_us, update.time_us),
            angle_rad: update.angle_rad,
            torque_nm: update.torque_nm,
            torque_u_nm: update.torque_u_nm,
            flags: u8::from(update.torque_observable) * Self::OBSERVABLE
                + u8::from(update.turning) * Self::TURNING,
        }
    }
}

/// Points of the curve, in order (kind 2).
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Points {
    /// The points.
    pub points: Vec<Point, 12>,
}

/// The snug event (kind 5).
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct SnugSeen {
    /// Names this retained message until it is acknowledged.
    pub id: u8,
    /// Low byte of the run's number.
    pub run: u8,
    /// The point of the curve at which it was seen.
    pub point: Point,
}

/// The refined snug angle (kind 6).
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct SnugAngle {
    /// Names this retained message until it is acknowledged.
    pub id: u8,
    /// Low byte of the run's number.
    pub run: u8,
    /// Bolt angle since the start of the run, rad.
    pub angle_rad: f32,
    /// Its standard uncertainty, rad.
    pub angle_u_rad: f32,
    /// Torque at that point, N·m.
    pub torque_nm: f32,
}

/// The answer for a run (kind 7), fields as in [`RunSummary`].
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[allow(missing_docs, reason = "each field is described in RunSummary")]
pub struct Summary {
    /// Names this retained message until it is acknowledged.
    pub id: u8,
    /// Low byte of the run's number.
    pub run: u8,
    /// Number of the [`Verdict`].
    pub verdict: u8,
    /// Numbers of the [`Reason`]s.
    pub reasons: Vec<u8, 8>,
    pub final_torque_nm: f32,
    pub final_torque_u_nm: f32,
    pub final_angle_rad: f32,
    pub final_angle_u_rad: f32,
    /// Snug angle and its standard uncertainty in rad, torque there in N·m.
    pub snug: Option<(f32, f32, f32)>,
    pub samples: u32,
    pub gaps: u32,
    pub unusable_samples: u32,
}

impl Summary {
    /// The message for a summary.
    pub fn new(summary: &RunSummary, id: u8, run: u32) -> Self {
        let mut reasons = Vec::new();
        for reason in &summary.reasons {
            // Both lists have the same capacity: it fits.
            let _ = reasons.push(reason.wire_code());
        }
        Self {
            id,
            run: run as u8,
            verdict: summary.verdict.wire_code(),
            reasons,
            final_torque_nm: summary.final_torque_nm,
            final_torque_u_nm: summary.final_torque_u_nm,
            final_angle_rad: summary.final_angle_rad,
            final_angle_u_rad: summary.final_angle_u_rad,
            snug: summary
                .snug
                .map(|s| (s.angle_rad, s.angle_u_rad, s.torque_nm)),
            samples: summary.samples,
            gaps: summary.gaps,
            unusable_samples: summary.unusable_samples,
        }
    }

    /// The summary in this message; `None` if this version does not know a number in it.
    pub fn summary(&self) -> Option<RunSummary> {
        let mut reasons = Vec::new();
        for &code in &self.reasons {
            reasons.push(Reason::from_wire_code(code)?).ok()?;
        }
        Some(RunSummary {
            verdict: Verdict::from_wire_code(self.verdict)?,
            reasons,
            final_torque_nm: self.final_torque_nm,
            final_torque_u_nm: self.final_torque_u_nm,
            final_angle_rad: self.final_angle_rad,
            final_angle_u_rad: self.final_angle_u_rad,
            snug: self.snug.map(|(angle_rad, angle_u_rad, torque_nm)| Snug {
                angle_rad,
                angle_u_rad,
                torque_nm,
            }),
            samples: self.samples,
            gaps: self.gaps,
            unusable_samples: self.unusable_samples,
        })
    }
}

/// How many curve points were left out since boot because the link was too slow (kind 8): a total,
/// so that a lost message of this kind loses nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Thinned {
    /// Points left out since boot.
    pub points: u32,
}

/// Sign of life (kind 9).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Heartbeat {
    /// Time of the newest sample, µs.
    pub time_us: u64,
    /// Samples received since boot.
    pub samples: u32,
    /// State of the permit output as read back.
    pub permitted: bool,
    /// Retained messages not yet acknowledged.
    pub retained: u8,
    /// Retained messages given up unacknowledged, since boot.
    pub displaced: u32,
    /// Garbled frames from the host, since boot.
    pub garbled: u32,
    /// Frames of the host that are missing, since boot.
    pub lost: u32,
    /// Requests that could not be followed, since boot: a sample outside a run or of other joints, a
    /// run without a job.
    pub refused: u32,
}

/// How the control loop fares (kind 13), from a controller that takes its samples in an interrupt.
/// Every sample was taken in time if `worst_us` is below `period_us`.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Cycle {
    /// Period of the control loop, µs.
    pub period_us: u32,
    /// Cycles since boot.
    pub cycles: u32,
    /// Cycles that found no sample, since boot.
    pub idle: u32,
    /// Longest time from the beginning of a period until its work was done, since boot, µs.
    pub worst_us: u32,
    /// Reports of the control loop without a finding that found no place on their way to the link,
    /// since boot: each is a sample that [`Heartbeat::samples`] lacks, and may be a curve point.
    pub left_out: u32,
}
