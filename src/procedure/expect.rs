//! From the description of a bolt to what its run should look like.

use crate::fastener::ExpectedRun;
use crate::math::TAU;

use super::{BoltJob, Goal};

/// Part of the target that a prevailing torque may reach where neither band nor size tell it
/// (the largest ratio of ISO 2320 maximum to a usual 8.8 target, M5 and M6, rounded up).
const UNKNOWN_PREVAILING_PART: f32 = 0.35;
/// Elastic angle of the softest joint reckoned with where none is stated, rad (ISO 5393: 720°).
const SOFTEST_RAD: f32 = 2.0 * TAU;

/// Slope at which yield counts as begun (common practice; a quarter to 70 % is in use, no source).
const YIELD_SLOPE_PART: f32 = 0.5;

impl BoltJob {
    /// Expectations of the run: what was stated, else what the standards say of the fastener.
    pub fn expected_run(&self) -> ExpectedRun {
        let target_nm = self.goal.target_nm();
        let standard = self.thread.prevailing_max_nm();
        let ceiling_nm = self
            .prevailing_nm
            .map(|band| band.max)
            .or(standard)
            .or(target_nm.map(|t| t * UNKNOWN_PREVAILING_PART))
            .unwrap_or(0.0);
        let softest_rad = self
            .elastic_rad
            .map_or(SOFTEST_RAD, |e| e.value + e.tolerance);
        ExpectedRun {
            target_nm,
            carried_nm: self.carried_nm,
            end_nm: self.goal.end_nm(),
            yield_slope_part: match self.goal {
                Goal::Yield { slope_part, .. } => slope_part,
                _ => YIELD_SLOPE_PART,
            },
            ceiling_nm,
            ceiling_stated: self.prevailing_nm.is_some(),
            least_rate_nm_per_rad: target_nm.map_or(0.0, |t| t / softest_rad.max(0.1)),
            earliest_snug_rad: self.rundown_rad.map(|r| r.value - r.tolerance),
            latest_snug_rad: self.rundown_rad.map(|r| r.value + r.tolerance),
            pitch_m: self.thread.pitch_mm * 1e-3,
        }
    }
}
