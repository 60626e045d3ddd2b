//! What the description lets us expect of the run, so that detectors read physics and not bare
//! numbers.

use super::Band;

/// Expectations of one run, all in the driving direction.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ExpectedRun {
    /// Target torque, N·m.
    pub target_nm: Option<f32>,
    /// Torque that the bolt carries from an earlier pass, N·m; it then neither runs down nor gets
    /// snug.
    pub carried_nm: Option<f32>,
    /// Torque at which the run is to end, N·m.
    pub end_nm: Option<Band>,
    /// Slope, as a part of the steepest, at which yield counts as begun.
    pub yield_slope_part: f32,
    /// Least torque that running down must take where a locking feature is stated, N·m.
    pub floor_nm: f32,
    /// Highest torque that running down may take, N·m; at least what a thread without locking feature
    /// may need.
    pub ceiling_nm: f32,
    /// Highest torque that the stated band allows, N·m, however low it is; of a thread that is stated to
    /// run freely, what free ones may take.
    pub band_max_nm: Option<f32>,
    /// Whether that ceiling was stated, rather than taken from the standard.
    pub ceiling_stated: bool,
    /// Least slope of the elastic part, N·m/rad; 0 where no target is known.
    pub least_rate_nm_per_rad: f32,
    /// Largest slope of the elastic part, N·m/rad.
    pub most_rate_nm_per_rad: Option<f32>,
    /// Bolt angle from snug to the target, rad.
    pub elastic_rad: Option<Band>,
    /// Whether that was computed from friction and stiffness, rather than stated.
    pub elastic_computed: bool,
    /// Torque at yield onset, N·m.
    pub yield_nm: Option<Band>,
    /// Torque at which the weaker thread strips, N·m.
    pub strip_nm: Option<Band>,
    /// Torque that breaks the bolt loose, N·m.
    pub breakaway_nm: Option<Band>,
    /// Bolt angle before which no snug is due, rad.
    pub earliest_snug_rad: Option<f32>,
    /// Bolt angle after which snug is overdue, rad.
    pub latest_snug_rad: Option<f32>,
    /// Advance per turn, m.
    pub pitch_m: f32,
}

impl ExpectedRun {
    /// Nothing is expected.
    pub const UNKNOWN: Self = Self {
        target_nm: None,
        carried_nm: None,
        end_nm: None,
        yield_slope_part: 0.5,
        floor_nm: 0.0,
        ceiling_nm: 0.0,
        band_max_nm: None,
        ceiling_stated: false,
        least_rate_nm_per_rad: 0.0,
        most_rate_nm_per_rad: None,
        elastic_rad: None,
        elastic_computed: false,
        yield_nm: None,
        strip_nm: None,
        breakaway_nm: None,
        earliest_snug_rad: None,
        latest_snug_rad: None,
        pitch_m: 0.0,
    };

    /// Whether snug may have come by this bolt angle, rad; where nothing is expected it may always, and a
    /// bolt of a later pass is clamped from its first degree on.
    /// Before that nothing is clamped that could give way.
    pub fn may_be_snug(&self, angle_rad: f32) -> bool {
        self.carried_nm.is_some() || self.earliest_snug_rad.is_none_or(|due| angle_rad >= due)
    }

    /// A part of the target, N·m; 0 where none is known.
    pub fn part_of_target_nm(&self, part: f32) -> f32 {
        self.target_nm.map_or(0.0, |t| t * part)
    }
}
