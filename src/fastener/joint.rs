//! How stiff bolt and clamped parts are, and how fast torque therefore rises with angle.

use serde::{Deserialize, Serialize};

use super::bearing::face_and_hole_mm;
use super::{Band, Fault, Friction, Material, Thread, TorquePreload};
use crate::math::{PI, TAN_30, TAU, ln};

/// What is known of the joint's stiffness.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Joint {
    /// Only how it feels.
    Class(JointClass),
    /// Both stiffnesses.
    Stiffness {
        /// Of the bolt, N/m.
        bolt_n_per_m: f32,
        /// Of the clamped parts, N/m.
        parts_n_per_m: f32,
    },
    /// What is clamped, from which both stiffnesses follow.
    Clamp(Clamp),
}

/// Hardness of a joint by the bolt angle from snug to target.
///
/// ISO 5393 (as quoted by trade pages): hard, 10 % to 100 % of the target within 27°, that is at
/// most 30° in all. Soft: at least 324° of 10 % to 100 % in the 2017 edition, 650° in that of 1994,
/// that is 360° and 720° in all. The 2017 edition is followed as to where soft begins, as it is in
/// force, although it was read on one page only; 720° is where soft ends here. The least angle of
/// a hard joint, 5°, is this library's own.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum JointClass {
    /// 5° to 30°.
    Hard,
    /// 30° to 360°.
    Medium,
    /// 360° to 720°.
    Soft,
}

impl JointClass {
    /// Bolt angle from snug (zero torque on the elastic line) to target, rad.
    pub fn angle_rad(self) -> Band {
        match self {
            Self::Hard => Band::new(TAU / 72.0, TAU / 12.0),
            Self::Medium => Band::new(TAU / 12.0, TAU),
            Self::Soft => Band::new(TAU, 2.0 * TAU),
        }
    }
}

/// Clamped parts of one material under a hexagon head.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Clamp {
    /// Clamped length, mm.
    pub length_mm: f32,
    /// How much of it the plain shank fills, mm; the rest is free thread.
    pub shank_mm: f32,
    /// Young's modulus of the parts, GPa.
    pub parts_gpa: f32,
    /// Whether the bolt has a nut; otherwise it sits in a tapped hole.
    pub nut: bool,
}

/// Least bearing face, in diameters of its hole: a ring of no width would bear nothing (no source).
const LEAST_FACE: f32 = 1.05;

impl Clamp {
    /// Compliance of the bolt in m/N after VDI 2230 (lengths from memory): head 0.5·d and nut
    /// 0.4·d (tapped hole 0.33·d) at the nominal area, shank at the nominal area, free and engaged
    /// thread (0.5·d) at the area of `d3`. The mated thread counts as of the bolt's modulus.
    pub fn bolt_m_per_n(&self, thread: &Thread, modulus_gpa: f32) -> f32 {
        let d = thread.diameter_mm;
        let mated = if self.nut { 0.4 } else { 0.33 };
        let nominal_mm = self.shank_mm + (0.5 + mated) * d;
        let core_mm = self.length_mm - self.shank_mm + 0.5 * d;
        let area = |diameter: f32| PI / 4.0 * diameter * diameter;
        // mm / (mm²·GPa) is 1e-6 m/N.
        1e-6 / modulus_gpa * (nominal_mm / area(d) + core_mm / area(thread.root_diameter_mm()))
    }

    /// Compliance of the parts in m/N: two cones of 30° from bearing face to middle (Shigley,
    /// 9th ed., eq. 8-20; VDI 2230 uses an angle that hangs on the joint's own size). A tapped hole
    /// has one cone of the whole length. The parts are taken as wide as the cones: narrower ones
    /// are softer. A ring of another mean diameter than usual is a wider or narrower face on the same
    /// hole, or on one of the bolt's diameter where it lies within that hole.
    pub fn parts_m_per_n(&self, geometry: &TorquePreload) -> f32 {
        let (_, usual) = face_and_hole_mm(&geometry.thread);
        let bearing = geometry.bearing_mm;
        let hole = if bearing > usual {
            usual
        } else {
            geometry.thread.diameter_mm
        };
        let face = (2.0 * bearing - hole).max(LEAST_FACE * hole);
        let cones = if self.nut { 2.0 } else { 1.0 };
        let base = face + 2.0 * TAN_30 * self.length_mm / cones;
        let ratio = ((base - hole) * (face + hole)) / ((base + hole) * (face - hole));
        cones * 1e-6 * ln(ratio) / (PI * TAN_30 * self.parts_gpa * hole)
    }
}

impl Joint {
    /// Compliance of bolt and parts together in m/N; `None` where only a class is known. A bolt
    /// whose material is not stated counts as steel of 205 GPa.
    pub fn compliance_m_per_n(
        &self,
        geometry: &TorquePreload,
        bolt: Option<&Material>,
    ) -> Option<f32> {
        match self {
            Self::Class(_) => None,
            Self::Stiffness {
                bolt_n_per_m,
                parts_n_per_m,
            } => Some(1.0 / bolt_n_per_m + 1.0 / parts_n_per_m),
            Self::Clamp(clamp) => Some(
                clamp.bolt_m_per_n(&geometry.thread, bolt.map_or(205.0, |m| m.modulus_gpa))
                    + clamp.parts_m_per_n(geometry),
            ),
        }
    }

    /// Elastic rate in N·m/rad, `dT/dθ = (T/F)·(P/2π)/(δS + δP)`, over the friction intervals; of a
    /// class the rates that reach `clamping_nm` within its angles, hence `None` without them.
    pub fn rate_nm_per_rad(
        &self,
        geometry: &TorquePreload,
        friction: &Friction,
        bolt: Option<&Material>,
        clamping_nm: Option<Band>,
    ) -> Option<Band> {
        if let Self::Class(class) = self {
            let angle = class.angle_rad();
            return clamping_nm.map(|t| Band::new(t.min / angle.max, t.max / angle.min));
        }
        let compliance = self.compliance_m_per_n(geometry, bolt)?;
        let advance_m = 1e-3 * geometry.thread.pitch_mm / TAU;
        Some(
            geometry
                .lever_band_mm(friction)
                .times(1e-3 * advance_m / compliance),
        )
    }

    /// Bolt angle from snug to a preload in rad, `F·(δS + δP)·2π/P`, friction apart from what it did
    /// to the preload; of a class its own angles, whatever the preload.
    pub fn angle_rad(
        &self,
        geometry: &TorquePreload,
        bolt: Option<&Material>,
        preload_n: Option<Band>,
    ) -> Option<Band> {
        if let Self::Class(class) = self {
            return Some(class.angle_rad());
        }
        let compliance = self.compliance_m_per_n(geometry, bolt)?;
        preload_n.map(|f| f.times(1e3 * compliance * TAU / geometry.thread.pitch_mm))
    }

    /// Every figure that is no stiffness or length.
    pub(super) fn faults(&self) -> impl Iterator<Item = Fault> + use<> {
        let part = "joint";
        let positive = |key, value| Fault::not_positive(part, key, value);
        match *self {
            Self::Class(_) => [None; 4],
            Self::Stiffness {
                bolt_n_per_m,
                parts_n_per_m,
            } => [
                positive("bolt_n_per_m", bolt_n_per_m),
                positive("parts_n_per_m", parts_n_per_m),
                None,
                None,
            ],
            Self::Clamp(c) => [
                positive("length_mm", c.length_mm),
                positive("parts_gpa", c.parts_gpa),
                Fault::below(part, "shank_mm", c.shank_mm, 0.0),
                Fault::above(part, "shank_mm", c.shank_mm, c.length_mm)
                    .map(|f| f.worded("not above the clamped length of")),
            ],
        }
        .into_iter()
        .flatten()
    }
}
