//! Limits of size of the medium fit, as far as stripping strength needs them: 6H/6g of ISO 965-1 and
//! 2A/2B of ASME B1.1.
//!
//! ISO 965-1 rounds its formulas to preferred numbers, in places to the neighbour of the nearest, so
//! its tolerances stand here as printed (from memory; the 6g limits and shear areas that follow from
//! them agree with tables as read). Unified limits follow the formulas of ASME B1.1 (from memory)
//! unrounded: printed ones differ by up to 0.000 1 in, minor diameters of nuts by 0.000 5 in.

use super::thread::{INCH_MM, Thread, ThreadSystem};
use super::unified::{self, UnifiedSeries};
use crate::math::{floor, sqrt};

/// Least material of both parts of a thread: what they have at least to bear on.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Limits {
    /// Smallest major diameter of the external thread `d min`, mm.
    pub external_major_min_mm: f32,
    /// Smallest pitch diameter of the external thread `d2 min`, mm.
    pub external_pitch_min_mm: f32,
    /// Largest minor diameter of the internal thread `D1 max`, mm.
    pub internal_minor_max_mm: f32,
    /// Largest pitch diameter of the internal thread `D2 max`, mm.
    pub internal_pitch_max_mm: f32,
}

/// Figures of both parts by which size departs from the basic profile.
struct Tolerance {
    /// Fundamental deviation of the external thread.
    allowance: f32,
    /// Of the major diameter of the external thread.
    external_major: f32,
    /// Of the pitch diameter of the external thread.
    external_pitch: f32,
    /// Of the minor diameter of the internal thread.
    internal_minor: f32,
    /// Of the pitch diameter of the internal thread.
    internal_pitch: f32,
}

impl Thread {
    /// Limits of size for 6H/6g or 2A/2B; `None` for a thread that the tables do not list.
    pub fn limits(&self) -> Option<Limits> {
        let (tolerance, unit_mm) = match self.system {
            ThreadSystem::Metric => (metric_um(self)?, 1e-3),
            ThreadSystem::Unified => (unified_in(self)?, INCH_MM),
        };
        // ISO 724 gives basic diameters in whole µm and ISO 965-1 adds whole µm to them.
        let rounded = |limit_mm: f32| match self.system {
            ThreadSystem::Metric => floor(limit_mm * 1e3 + 0.5) * 1e-3,
            ThreadSystem::Unified => limit_mm,
        };
        let external =
            |basic_mm: f32, part: f32| rounded(basic_mm - (tolerance.allowance + part) * unit_mm);
        let internal = |basic_mm: f32, part: f32| rounded(basic_mm + part * unit_mm);
        let basic_pitch_mm = self.pitch_diameter_mm();
        Some(Limits {
            external_major_min_mm: external(self.diameter_mm, tolerance.external_major),
            external_pitch_min_mm: external(basic_pitch_mm, tolerance.external_pitch),
            internal_minor_max_mm: internal(self.minor_diameter_mm(), tolerance.internal_minor),
            internal_pitch_max_mm: internal(basic_pitch_mm, tolerance.internal_pitch),
        })
    }
}

/// By pitch in mm: deviation g, tolerance `Td` of grade 6, tolerance `TD1` of grade 6, all in µm.
const BY_PITCH: [(f32, [f32; 3]); 19] = [
    (0.35, [19.0, 85.0, 100.0]),
    (0.5, [20.0, 106.0, 140.0]),
    (0.6, [21.0, 125.0, 160.0]),
    (0.7, [22.0, 140.0, 180.0]),
    (0.75, [22.0, 140.0, 190.0]),
    (0.8, [24.0, 150.0, 200.0]),
    (1.0, [26.0, 180.0, 236.0]),
    (1.25, [28.0, 212.0, 265.0]),
    (1.5, [32.0, 236.0, 300.0]),
    (1.75, [34.0, 265.0, 335.0]),
    (2.0, [38.0, 280.0, 375.0]),
    (2.5, [42.0, 335.0, 450.0]),
    (3.0, [48.0, 375.0, 500.0]),
    (3.5, [53.0, 425.0, 560.0]),
    (4.0, [60.0, 475.0, 600.0]),
    (4.5, [63.0, 500.0, 670.0]),
    (5.0, [71.0, 530.0, 710.0]),
    (5.5, [75.0, 560.0, 750.0]),
    (6.0, [80.0, 600.0, 800.0]),
];

/// Pitch in mm, then `Td2` and `TD2` of grade 6 in µm.
type PitchTolerance = (f32, [f32; 2]);

/// By range of diameters, each up to and with the one given in mm.
const BY_DIAMETER: [(f32, &[PitchTolerance]); 5] = [
    (
        5.6,
        &[
            (0.35, [67.0, 90.0]),
            (0.5, [75.0, 100.0]),
            (0.6, [85.0, 112.0]),
            (0.7, [90.0, 118.0]),
            (0.75, [90.0, 118.0]),
            (0.8, [95.0, 125.0]),
        ],
    ),
    (
        11.2,
        &[
            (0.75, [100.0, 132.0]),
            (1.0, [112.0, 150.0]),
            (1.25, [118.0, 160.0]),
            (1.5, [132.0, 180.0]),
        ],
    ),
    (
        22.4,
        &[
            (1.0, [118.0, 160.0]),
            (1.25, [132.0, 180.0]),
            (1.5, [140.0, 190.0]),
            (1.75, [150.0, 200.0]),
            (2.0, [160.0, 212.0]),
            (2.5, [170.0, 224.0]),
        ],
    ),
    (
        45.0,
        &[
            (1.0, [125.0, 170.0]),
            (1.5, [150.0, 200.0]),
            (2.0, [170.0, 224.0]),
            (3.0, [200.0, 265.0]),
            (3.5, [212.0, 280.0]),
            (4.0, [224.0, 300.0]),
            (4.5, [236.0, 315.0]),
        ],
    ),
    (
        90.0,
        &[
            (1.5, [160.0, 212.0]),
            (2.0, [180.0, 236.0]),
            (3.0, [212.0, 280.0]),
            (4.0, [236.0, 315.0]),
            (5.0, [250.0, 335.0]),
            (5.5, [265.0, 355.0]),
            (6.0, [280.0, 375.0]),
        ],
    ),
];

fn metric_um(thread: &Thread) -> Option<Tolerance> {
    // The tables below also hold pairs of diameter and pitch that no size has.
    if !thread.is_listed() {
        return None;
    }
    let (_, [allowance, external_major, internal_minor]) = *BY_PITCH
        .iter()
        .find(|(pitch_mm, _)| *pitch_mm == thread.pitch_mm)?;
    let (_, row) = BY_DIAMETER
        .iter()
        .find(|(up_to_mm, _)| thread.diameter_mm <= *up_to_mm)?;
    let (_, [external_pitch, internal_pitch]) = *row
        .iter()
        .find(|(pitch_mm, _)| *pitch_mm == thread.pitch_mm)?;
    Some(Tolerance {
        allowance,
        external_major,
        external_pitch,
        internal_minor,
        internal_pitch,
    })
}

fn unified_in(thread: &Thread) -> Option<Tolerance> {
    let (_, _, series) = unified::listed(thread)?;
    let (d, p) = (thread.diameter_mm / INCH_MM, thread.pitch_mm / INCH_MM);
    // Length of engagement that the series is toleranced for.
    let engagement = match series {
        UnifiedSeries::ExtraFine => 9.0 * p,
        UnifiedSeries::Coarse | UnifiedSeries::Fine | UnifiedSeries::Eight => d,
    };
    let p_two_thirds = cube_root(p) * cube_root(p);
    let external_pitch = 0.001_5 * cube_root(d) + 0.001_5 * sqrt(engagement) + 0.015 * p_two_thirds;
    let quarter_inch_and_up = 0.25 * p - 0.4 * p * p;
    let internal_minor = if d < 0.25 {
        (0.05 * p_two_thirds + 0.03 * p / d - 0.002)
            .min(0.394 * p)
            .max(quarter_inch_and_up)
    } else {
        quarter_inch_and_up
    };
    Some(Tolerance {
        allowance: 0.3 * external_pitch,
        external_major: 0.06 * p_two_thirds,
        external_pitch,
        internal_minor,
        internal_pitch: 1.3 * external_pitch,
    })
}

/// Cube root by Newton's method for 0.01 to 2 only, the inches of listed threads: relative error
/// below 1e-6. (The mathematics library takes f64 for it.)
fn cube_root(x: f32) -> f32 {
    (0..8).fold(0.6, |r, _| (2.0 * r + x / (r * r)) / 3.0)
}

#[cfg(test)]
mod tests {
    extern crate std;
    use super::*;

    #[test]
    fn the_cube_root_holds_its_stated_error() {
        for hundredths in 1..=200_u16 {
            let x = f64::from(hundredths) / 100.0;
            let error = f64::from(cube_root(x as f32)) / x.cbrt() - 1.0;
            assert!(error.abs() < 1e-6, "{x}: {error:e}");
        }
    }

    /// ISO 965-1 rounds to the R 40 series, whose steps are 6 %: a slip in copying would be larger.
    #[test]
    fn the_tolerances_are_those_of_the_formulas_within_their_rounding() {
        let near = |name: &str, p: f64, got: f32, formula: f64| {
            let part = f64::from(got) / formula - 1.0;
            assert!(
                part.abs() < 0.06,
                "{name} at pitch {p}: {got}, formula {formula}"
            );
        };
        for (pitch, [deviation, td, td1]) in BY_PITCH {
            let p = f64::from(pitch);
            near("deviation g", p, deviation, 15.0 + 11.0 * p);
            near("Td", p, td, 180.0 * p.powf(2.0 / 3.0) - 3.15 / p.sqrt());
            let td1_formula = if p < 1.0 {
                433.0 * p - 190.0 * p.powf(1.22)
            } else {
                230.0 * p.powf(0.7)
            };
            near("TD1", p, td1, td1_formula);
        }
        for (from_mm, (to_mm, row)) in [2.8, 5.6, 11.2, 22.4, 45.0].iter().zip(BY_DIAMETER) {
            let mean_diameter = (from_mm * f64::from(to_mm)).sqrt();
            for (pitch, [external, internal]) in row {
                let p = f64::from(*pitch);
                let formula = 90.0 * p.powf(0.4) * mean_diameter.powf(0.1);
                near("Td2", p, *external, formula);
                near("TD2", p, *internal, 1.32 * formula);
            }
        }
    }
}
