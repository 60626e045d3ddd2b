//! A thread of the basic 60° profile: its diameters and its stress area.

use serde::{Deserialize, Serialize};

use crate::math::PI;

use super::{metric, unified};

pub(super) const INCH_MM: f32 = 25.4;

/// Which family of standards a thread belongs to. Both have the same basic 60° profile.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum ThreadSystem {
    /// ISO metric (ISO 261, ISO 262, ISO 724).
    Metric,
    /// Unified inch (ASME B1.1).
    Unified,
}

/// A thread of the basic 60° profile (ISO 68-1, ASME B1.1).
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Thread {
    /// Family of standards.
    pub system: ThreadSystem,
    /// Nominal (major) diameter, mm.
    pub diameter_mm: f32,
    /// Pitch, mm.
    pub pitch_mm: f32,
}

impl Thread {
    /// An ISO metric thread, listed or not.
    pub const fn metric(diameter_mm: f32, pitch_mm: f32) -> Self {
        Self {
            system: ThreadSystem::Metric,
            diameter_mm,
            pitch_mm,
        }
    }

    /// A unified thread, listed or not, from its nominal diameter in inches and its threads per inch.
    pub const fn unified(diameter_in: f32, threads_per_inch: f32) -> Self {
        Self {
            system: ThreadSystem::Unified,
            diameter_mm: diameter_in * INCH_MM,
            pitch_mm: INCH_MM / threads_per_inch,
        }
    }

    /// Every thread that a designation can name, metric before unified, small to large.
    pub fn listed() -> impl Iterator<Item = Self> {
        metric::threads().chain(unified::threads())
    }

    /// Whether the tables hold it: only then are limits of size known.
    pub fn is_listed(&self) -> bool {
        match self.system {
            ThreadSystem::Metric => metric::size_of(self.diameter_mm)
                .is_some_and(|size| size.pitches_mm.contains(&self.pitch_mm)),
            ThreadSystem::Unified => unified::listed(self).is_some(),
        }
    }

    /// Pitch diameter `d2 = d − 0.649519·P` in mm (ISO 724).
    pub fn pitch_diameter_mm(&self) -> f32 {
        self.diameter_mm - 0.649_519 * self.pitch_mm
    }

    /// Minor diameter of the external thread `d3 = d − 1.226869·P` in mm (ISO 724).
    pub fn root_diameter_mm(&self) -> f32 {
        self.diameter_mm - 1.226_869 * self.pitch_mm
    }

    /// Minor diameter of the internal thread `D1 = d − 1.082532·P` in mm (ISO 724).
    pub fn minor_diameter_mm(&self) -> f32 {
        self.diameter_mm - 1.082_532 * self.pitch_mm
    }

    /// Stress area in mm²: `π/4·(d − 0.938194·P)²` (ISO 898-1, clause 9) for metric threads,
    /// `π/4·(d − 0.9743·P)²` (ASME B1.1) for unified ones.
    pub fn stress_area_mm2(&self) -> f32 {
        let depth = match self.system {
            ThreadSystem::Metric => 0.938_194,
            ThreadSystem::Unified => 0.974_3,
        };
        let d = self.diameter_mm - depth * self.pitch_mm;
        PI / 4.0 * d * d
    }
}
