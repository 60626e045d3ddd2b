//! Strength and stiffness of bolts and of the parts they are screwed into.

use serde::{Deserialize, Serialize};

use super::{Band, Fault, Thread};
use crate::math::{PI, TAN_30};

/// What a part is made of: least guaranteed figures.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Material {
    /// Yield strength, or 0.2 % proof strength `Rp0.2`, MPa.
    pub yield_mpa: f32,
    /// Tensile strength `Rm`, MPa.
    pub tensile_mpa: f32,
    /// Stress under proof load `Sp`, MPa, where a standard gives one.
    pub proof_mpa: Option<f32>,
    /// Young's modulus, GPa.
    pub modulus_gpa: f32,
    /// Shear strength as a part of the tensile strength.
    pub shear_part: f32,
}

impl Material {
    /// Proof load `Fp = Sp·As` in N (ISO 898-1, clause 9); `None` where no standard gives a proof
    /// stress.
    pub fn proof_load_n(&self, thread: &Thread) -> Option<f32> {
        Some(self.proof_mpa? * thread.stress_area_mm2())
    }

    /// Least ultimate tensile load `Fm = Rm·As` in N (ISO 898-1, clause 9).
    pub fn ultimate_load_n(&self, thread: &Thread) -> f32 {
        self.tensile_mpa * thread.stress_area_mm2()
    }

    /// Torque in N·m that breaks a shank of `core_mm` diameter in pure torsion:
    /// `MB = τB·π/12·d³`, fully plastic, `τB = shear_part·Rm`.
    ///
    /// With the least minor diameter of the thread this is the minimum breaking torque of
    /// ISO 898-7, which writes the same as `X·Rm·π/16·d³` with `X = 4/3·shear_part`.
    pub fn breaking_torsion_nm(&self, core_mm: f32) -> f32 {
        self.torsion_nm(self.shear_part * self.tensile_mpa, core_mm)
    }

    /// Torque in N·m at which a shank of `core_mm` diameter is plastic throughout in pure torsion:
    /// `τF = Rp0.2/√3` (von Mises), `π/12·τF·d³`.
    pub fn yielding_torsion_nm(&self, core_mm: f32) -> f32 {
        // tan 30° is 1/√3.
        self.torsion_nm(TAN_30 * self.yield_mpa, core_mm)
    }

    fn torsion_nm(&self, shear_mpa: f32, core_mm: f32) -> f32 {
        1e-3 * shear_mpa * PI / 12.0 * core_mm * core_mm * core_mm
    }

    /// Every figure that no engineering material has, so that they can be mended at once. `part`
    /// names the part in the faults.
    ///
    /// The limits are this library's own: moduli from hard polymers' inserts (10 GPa) to a little
    /// above steel (250 GPa), tensile strengths up to 2500 MPa, shear strength 0.4 to 0.8 of it.
    pub fn faults(&self, part: &'static str) -> impl Iterator<Item = Fault> + use<> {
        let proof = self.proof_mpa.unwrap_or(self.yield_mpa);
        let not_above = "not above tensile_mpa, which is";
        [
            Fault::not_positive(part, "yield_mpa", self.yield_mpa),
            Fault::above(part, "yield_mpa", self.yield_mpa, self.tensile_mpa)
                .map(|f| f.worded(not_above)),
            Fault::above(part, "tensile_mpa", self.tensile_mpa, 2500.0),
            Fault::not_positive(part, "proof_mpa", proof).filter(|_| self.proof_mpa.is_some()),
            Fault::above(part, "proof_mpa", proof, self.tensile_mpa)
                .filter(|_| self.proof_mpa.is_some())
                .map(|f| f.worded(not_above)),
            Fault::outside(
                part,
                "modulus_gpa",
                self.modulus_gpa,
                &Band::new(10.0, 250.0),
            ),
            Fault::outside(part, "shear_part", self.shear_part, &Band::new(0.4, 0.8)),
        ]
        .into_iter()
        .flatten()
    }
}
