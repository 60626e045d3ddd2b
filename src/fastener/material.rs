//! Strength and stiffness of bolts and of the parts they are screwed into.

use serde::{Deserialize, Serialize};

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
