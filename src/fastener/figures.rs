//! Whether every figure of a description can be reckoned with: all that a controller checks of a
//! fastener where it leaves out the feature `fastener-check` and takes plans that a host has checked.
//!
//! Nothing compares with what is no number: a limit made of it would never be crossed, and its
//! detector be silent. So this much is checked in every build.

use super::{Band, Fastener, Fault, Joint, Locking, Material};

/// What is no length, stress or stiffness is not above this.
const ABOVE_ZERO: Band = Band::new(f32::MIN_POSITIVE, f32::MAX);

/// Keeps the first fault.
struct First(Option<Fault>);

impl First {
    // Once and not at each of its places: 2 kB of flash.
    #[inline(never)]
    fn look(&mut self, part: &'static str, key: &'static str, value: f32, range: Band) {
        if self.0.is_none() && !range.contains(value) {
            self.0 = Fault::outside(part, key, value, &range);
        }
    }

    /// A band that begins at `least` or above and is not upside down.
    fn band(&mut self, part: &'static str, band: Band, least: f32) {
        self.look(part, "min", band.min, Band::new(least, f32::MAX));
        self.look(part, "max", band.max, Band::new(band.min, f32::MAX));
    }

    fn material(&mut self, part: &'static str, material: &Material) {
        let to_tensile = Band::new(f32::MIN_POSITIVE, material.tensile_mpa);
        self.look(part, "tensile_mpa", material.tensile_mpa, ABOVE_ZERO);
        self.look(part, "yield_mpa", material.yield_mpa, to_tensile);
        if let Some(proof_mpa) = material.proof_mpa {
            self.look(part, "proof_mpa", proof_mpa, to_tensile);
        }
        self.look(part, "modulus_gpa", material.modulus_gpa, ABOVE_ZERO);
        self.look(part, "shear_part", material.shear_part, ABOVE_ZERO);
    }
}

impl Fastener {
    /// The first figure that is no number or that no bolt has, such as a negative length. What
    /// physics and practice say beyond that is for [`Fastener::faults`].
    pub fn first_unsound_figure(&self) -> Option<Fault> {
        let mut first = First(None);
        let d_mm = self.thread.diameter_mm;
        first.look("fastener", "thread.diameter_mm", d_mm, ABOVE_ZERO);
        // Steeper than this there is no core left to speak of.
        let cored = Band::new(f32::MIN_POSITIVE, 0.5 * d_mm);
        first.look("fastener", "thread.pitch_mm", self.thread.pitch_mm, cored);
        if let Some(bearing_mm) = self.bearing_mm {
            let over_the_hole = Band::new(d_mm, f32::MAX);
            first.look("fastener", "bearing_mm", bearing_mm, over_the_hole);
        }
        if let Some(rundown_mm) = self.rundown_mm {
            first.look("fastener", "rundown_mm", rundown_mm, ABOVE_ZERO);
        }
        if let Some(bolt) = &self.bolt {
            first.material("bolt", bolt);
        }
        if let Some(mating) = &self.mating {
            first.material("mating", &mating.material);
            first.look("mating", "engagement_mm", mating.engagement_mm, ABOVE_ZERO);
        }
        if let Some(friction) = &self.friction {
            first.band("friction.thread", friction.thread, f32::MIN_POSITIVE);
            first.band("friction.head", friction.head, f32::MIN_POSITIVE);
        }
        match &self.joint {
            Some(Joint::Stiffness {
                bolt_n_per_m,
                parts_n_per_m,
            }) => {
                first.look("joint", "bolt_n_per_m", *bolt_n_per_m, ABOVE_ZERO);
                first.look("joint", "parts_n_per_m", *parts_n_per_m, ABOVE_ZERO);
            }
            Some(Joint::Clamp(clamp)) => {
                let to_length = Band::new(0.0, clamp.length_mm);
                first.look("joint", "length_mm", clamp.length_mm, ABOVE_ZERO);
                first.look("joint", "parts_gpa", clamp.parts_gpa, ABOVE_ZERO);
                first.look("joint", "shank_mm", clamp.shank_mm, to_length);
            }
            Some(Joint::Class(_)) | None => {}
        }
        if let Some(Locking::Stated(band)) = self.locking {
            first.band("locking", band, 0.0);
        }
        first.0
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Clamp, Friction, Mating, PropertyClass, Thread};
    use super::*;

    fn whole() -> Fastener {
        let steel = "8.8".parse::<PropertyClass>().unwrap().material(10.0);
        Fastener {
            bolt: Some(steel),
            mating: Some(Mating {
                material: steel,
                engagement_mm: 15.0,
            }),
            friction: Some(Friction::default()),
            bearing_mm: Some(14.0),
            joint: Some(Joint::Clamp(Clamp {
                length_mm: 30.0,
                shank_mm: 0.0,
                parts_gpa: 205.0,
                nut: true,
            })),
            locking: Some(Locking::Stated(Band::new(0.0, 2.0))),
            rundown_mm: Some(20.0),
            ..Fastener::new(Thread::metric(10.0, 1.5))
        }
    }

    /// Every figure of a fastener, by a door of its own.
    fn doors() -> [fn(&mut Fastener) -> Option<&mut f32>; 22] {
        fn clamp(f: &mut Fastener) -> Option<&mut Clamp> {
            match f.joint.as_mut()? {
                Joint::Clamp(clamp) => Some(clamp),
                _ => None,
            }
        }
        fn locking(f: &mut Fastener) -> Option<&mut Band> {
            match f.locking.as_mut()? {
                Locking::Stated(band) => Some(band),
                _ => None,
            }
        }
        [
            |f| Some(&mut f.thread.diameter_mm),
            |f| Some(&mut f.thread.pitch_mm),
            |f| f.bearing_mm.as_mut(),
            |f| f.rundown_mm.as_mut(),
            |f| Some(&mut f.bolt.as_mut()?.yield_mpa),
            |f| Some(&mut f.bolt.as_mut()?.tensile_mpa),
            |f| f.bolt.as_mut()?.proof_mpa.as_mut(),
            |f| Some(&mut f.bolt.as_mut()?.modulus_gpa),
            |f| Some(&mut f.bolt.as_mut()?.shear_part),
            |f| Some(&mut f.mating.as_mut()?.material.yield_mpa),
            |f| Some(&mut f.mating.as_mut()?.material.tensile_mpa),
            |f| Some(&mut f.mating.as_mut()?.material.modulus_gpa),
            |f| Some(&mut f.mating.as_mut()?.engagement_mm),
            |f| Some(&mut f.friction.as_mut()?.thread.min),
            |f| Some(&mut f.friction.as_mut()?.thread.max),
            |f| Some(&mut f.friction.as_mut()?.head.min),
            |f| Some(&mut f.friction.as_mut()?.head.max),
            |f| Some(&mut clamp(f)?.length_mm),
            |f| Some(&mut clamp(f)?.shank_mm),
            |f| Some(&mut clamp(f)?.parts_gpa),
            |f| Some(&mut locking(f)?.min),
            |f| Some(&mut locking(f)?.max),
        ]
    }

    #[test]
    fn what_no_bolt_has_is_named_and_the_whole_check_refuses_it_as_well() {
        assert_eq!(whole().first_unsound_figure(), None);
        for (i, door) in doors().into_iter().enumerate() {
            for wrong in [f32::NAN, f32::INFINITY, f32::NEG_INFINITY, -1.0] {
                let mut fastener = whole();
                *door(&mut fastener).unwrap() = wrong;
                let fault = fastener.first_unsound_figure();
                assert!(fault.is_some(), "figure {i} is {wrong}");
                assert!(fastener.refused(None).is_some(), "figure {i} is {wrong}");
            }
        }
    }

    #[test]
    fn a_fault_names_part_and_key() {
        let mut fastener = whole();
        fastener.mating.as_mut().unwrap().engagement_mm = f32::NAN;
        let fault = fastener.first_unsound_figure().unwrap();
        assert_eq!((fault.part, fault.key), ("mating", "engagement_mm"));
    }
}
