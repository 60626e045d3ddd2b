//! Stripping strength: shear areas of both threads, the engagement that keeps the bolt the weaker, and
//! the preload at which a thread strips (FED-STD-H28/2).

use super::Material;
use super::thread::Thread;
use crate::math::{PI, TAN_30};

/// Alexander's factor of the stronger of two threads, and of both where they are alike; from memory.
const STRONG_SIDE: f32 = 0.897;

/// Areas along which the threads of a joint shear off.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ShearAreas {
    /// `ASs` of the bolt, at the minor diameter of the nut, mm².
    pub external_mm2: f32,
    /// `ASn` of the nut, at the major diameter of the bolt, mm².
    pub internal_mm2: f32,
}

/// Axial load under which each thread strips.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct StripLoad {
    /// Of the bolt's thread, N.
    pub external_n: f32,
    /// Of the nut's or tapped hole's thread, N.
    pub internal_n: f32,
}

impl Thread {
    /// Least shear areas over a length of full engagement, for the limits of size 6H/6g or 2A/2B;
    /// `None` for a thread that the tables do not list or an engagement that is no length above zero.
    pub fn shear_areas(&self, engagement_mm: f32) -> Option<ShearAreas> {
        let limits = self.limits()?;
        if !(engagement_mm > 0.0 && engagement_mm.is_finite()) {
            return None;
        }
        let area = |diameter_mm: f32, overlap_mm: f32| {
            // Half the width of a 60° flank per unit of height.
            let width_mm = self.pitch_mm / 2.0 + TAN_30 * overlap_mm;
            PI * diameter_mm * width_mm * engagement_mm / self.pitch_mm
        };
        Some(ShearAreas {
            external_mm2: area(
                limits.internal_minor_max_mm,
                limits.external_pitch_min_mm - limits.internal_minor_max_mm,
            ),
            internal_mm2: area(
                limits.external_major_min_mm,
                limits.external_major_min_mm - limits.internal_pitch_max_mm,
            ),
        })
    }

    /// Length of full engagement in mm at which the bolt breaks before either thread strips:
    /// `2·As/ASs` per mm, times `J = (ASs·Rm bolt)/(ASn·Rm mating)` where that is above one (factor J
    /// from memory). The rule takes threads to shear at half their tensile strength.
    ///
    /// `None` for a thread that the tables do not list, or strengths that are not above zero.
    pub fn engagement_needed_mm(&self, bolt: &Material, mating: &Material) -> Option<f32> {
        let per_mm = self.shear_areas(1.0)?;
        let (bolt_mpa, mating_mpa) = (bolt.tensile_mpa, mating.tensile_mpa);
        if !(bolt_mpa > 0.0 && mating_mpa > 0.0) {
            return None;
        }
        let j = per_mm.external_mm2 * bolt_mpa / (per_mm.internal_mm2 * mating_mpa);
        let needed_mm = 2.0 * self.stress_area_mm2() / per_mm.external_mm2 * j.max(1.0);
        Some(needed_mm).filter(|mm| mm.is_finite())
    }

    /// Load under which the threads of a bolt and of what it is screwed into strip, each at its shear
    /// strength; `None` where [`Self::shear_areas`] is, or where a strength is not above zero.
    pub fn strip_load(
        &self,
        engagement_mm: f32,
        bolt: &Material,
        mating: &Material,
    ) -> Option<StripLoad> {
        let areas = self.shear_areas(engagement_mm)?;
        let load_n = |material: &Material, area_mm2: f32| {
            let load_n = material.tensile_mpa * material.shear_part * area_mm2;
            let sound = material.tensile_mpa > 0.0 && material.shear_part > 0.0;
            (sound && load_n.is_finite()).then_some(load_n)
        };
        Some(StripLoad {
            external_n: load_n(bolt, areas.external_mm2)?,
            internal_n: load_n(mating, areas.internal_mm2)?,
        })
    }
}

impl StripLoad {
    /// Load at which the first one goes, N.
    pub fn least_n(&self) -> f32 {
        self.external_n.min(self.internal_n)
    }

    /// The same loads with Alexander's factors (SAE 770420, **from memory**, held to no printed
    /// figure): the teeth of the weaker thread bend less the stronger the other one is, and a nut of
    /// little width spreads. `width_ratio` is width across flats over nominal diameter, `None` for a
    /// hole in solid material; it counts from 1.4 to 1.9, the range of the formula.
    ///
    /// An option and not the rule, because of that standing. Without it the load of threads of like
    /// strength is about a tenth too high in solid material, a quarter in hexagon nuts; that of a
    /// thread in a much stronger one is up to a fifth too low.
    #[must_use]
    pub fn with_bending(&self, width_ratio: Option<f32>) -> Self {
        let spreading = match width_ratio {
            Some(w) if w < 1.9 => {
                let w = w.max(1.4);
                -w * w + 3.8 * w - 2.61
            }
            _ => 1.0,
        };
        // Shear strengths stand in for the tensile strengths of the formula.
        let r = self.internal_n / self.external_n;
        let external = if r > 1.0 {
            let r = r.min(2.2);
            5.594 + r * (-13.682 + r * (14.107 + r * (-6.057 + r * 0.935_3)))
        } else {
            STRONG_SIDE
        };
        let internal = if r < 1.0 {
            let r = r.max(0.4);
            0.728 + r * (1.769 + r * (-2.896 + r * 1.296))
        } else {
            STRONG_SIDE
        };
        Self {
            external_n: self.external_n * spreading * external,
            internal_n: self.internal_n * spreading * internal,
        }
    }
}
