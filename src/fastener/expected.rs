//! What the description lets us expect of the run, so that detectors read physics and not bare
//! numbers.

use crate::math::TAU;
use crate::procedure::{BoltJob, Direction};

use super::Thread;

/// Part of the target that a prevailing torque may reach where neither band nor size tell it
/// (the largest ratio of ISO 2320 maximum to a usual 8.8 target, M5 and M6, rounded up).
const UNKNOWN_PREVAILING_PART: f32 = 0.35;
/// Elastic angle of the softest joint reckoned with where none is stated, rad (ISO 5393: 720°).
const SOFTEST_RAD: f32 = 2.0 * TAU;

/// Expectations of one run, all in the driving direction.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ExpectedRun {
    /// Target torque, N·m.
    pub target_nm: Option<f32>,
    /// Highest torque that running down may take, N·m.
    pub ceiling_nm: f32,
    /// Whether that ceiling was stated, rather than taken from the standard.
    pub ceiling_stated: bool,
    /// Least slope of the elastic part, N·m/rad; 0 where no target is known.
    pub least_rate_nm_per_rad: f32,
    /// Bolt angle before which no snug is due, rad.
    pub earliest_snug_rad: Option<f32>,
    /// Bolt angle after which snug is overdue, rad.
    pub latest_snug_rad: Option<f32>,
    /// Advance per turn, m.
    pub pitch_m: f32,
}

impl ExpectedRun {
    /// From the description of the bolt.
    pub fn from_job(job: &BoltJob) -> Self {
        let target_nm = match job.direction {
            Direction::Tighten => job.target_torque_nm,
            Direction::Undo => None,
        };
        let standard = Thread {
            diameter_mm: job.thread_diameter_mm,
            pitch_mm: job.thread_pitch_mm,
        }
        .prevailing_max_nm();
        let ceiling_nm = job
            .prevailing_nm
            .map(|band| band.max)
            .or(standard)
            .or(target_nm.map(|t| t * UNKNOWN_PREVAILING_PART))
            .unwrap_or(0.0);
        let softest_rad = job
            .elastic_rad
            .map_or(SOFTEST_RAD, |e| e.value + e.tolerance);
        Self {
            target_nm,
            ceiling_nm,
            ceiling_stated: job.prevailing_nm.is_some(),
            least_rate_nm_per_rad: target_nm.map_or(0.0, |t| t / softest_rad.max(0.1)),
            earliest_snug_rad: job.rundown_rad.map(|r| r.value - r.tolerance),
            latest_snug_rad: job.rundown_rad.map(|r| r.value + r.tolerance),
            pitch_m: job.thread_pitch_mm * 1e-3,
        }
    }

    /// A part of the target, N·m; 0 where none is known.
    pub fn part_of_target_nm(&self, part: f32) -> f32 {
        self.target_nm.map_or(0.0, |t| t * part)
    }
}
