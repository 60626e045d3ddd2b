//! From the description of a bolt to what its run should look like.

use crate::fastener::ExpectedRun;
use crate::math::TAU;

use super::{BoltJob, Direction};

/// Part of the target that a prevailing torque may reach where neither band nor size tell it
/// (the largest ratio of ISO 2320 maximum to a usual 8.8 target, M5 and M6, rounded up).
const UNKNOWN_PREVAILING_PART: f32 = 0.35;
/// Elastic angle of the softest joint reckoned with where none is stated, rad (ISO 5393: 720°).
const SOFTEST_RAD: f32 = 2.0 * TAU;
/// Part of the target that the moment across the bolt axis may reach where none is stated (common
/// practice, no source: as much bending as torque, and the socket no longer sits square).
const SIDE_PART: f32 = 1.0;

impl BoltJob {
    /// Moment across the bolt axis above which the tool levers, N·m: as stated, else the target
    /// torque. `None` where neither is known: nothing is then said.
    pub fn side_moment_limit_nm(&self) -> Option<f32> {
        self.tool
            .side_moment_limit_nm
            .or(self.target_torque_nm.map(|t| t * SIDE_PART))
    }

    /// Expectations of the run: what was stated, else what the standards say of the fastener.
    pub fn expected_run(&self) -> ExpectedRun {
        let target_nm = match self.direction {
            Direction::Tighten => self.target_torque_nm,
            Direction::Undo => None,
        };
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
            ceiling_nm,
            ceiling_stated: self.prevailing_nm.is_some(),
            least_rate_nm_per_rad: target_nm.map_or(0.0, |t| t / softest_rad.max(0.1)),
            earliest_snug_rad: self.rundown_rad.map(|r| r.value - r.tolerance),
            latest_snug_rad: self.rundown_rad.map(|r| r.value + r.tolerance),
            pitch_m: self.thread.pitch_mm * 1e-3,
        }
    }
}
