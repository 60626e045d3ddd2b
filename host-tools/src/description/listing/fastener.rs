//! The fastener: every figure of bolt, mating part, joint and locking feature.

use bolting_monitor::fastener::{Band, Fastener, Joint, Locking, Material};

use super::{DEFAULT, Listing, UNKNOWN, number, with_unit};
use crate::description::origin::{self, MaterialOrigin, STATED};

impl Listing<'_> {
    /// A figure of a standard, or one that the file states.
    fn told(&mut self, key: &str, value: String, origin: &'static str) {
        self.push(key, value, (origin != STATED).then_some(origin));
    }

    fn unknown(&mut self, key: &str) {
        self.push(key, UNKNOWN.to_owned(), Some(DEFAULT));
    }

    pub fn fastener(&mut self, fastener: &Fastener) {
        match &fastener.bolt {
            Some(bolt) => self.material("bolt", bolt),
            None => self.unknown("bolt.class"),
        }
        let friction = fastener.friction.unwrap_or_default();
        for (key, band) in [
            ("bolt.thread_friction", friction.thread),
            ("bolt.head_friction", friction.head),
        ] {
            let origin = origin::friction(key, fastener, self.stated);
            self.told(key, ends(band), origin);
        }
        self.told(
            "bolt.bearing_mm",
            with_unit(fastener.torque_preload().bearing_mm, "mm"),
            origin::bearing(fastener),
        );
        match fastener.rundown_mm {
            Some(mm) => self.told("bolt.rundown_mm", with_unit(mm, "mm"), STATED),
            None => self.unknown("bolt.rundown_mm"),
        }
        match &fastener.mating {
            Some(mating) => {
                let engagement = with_unit(mating.engagement_mm, "mm");
                self.told("mating.engagement_mm", engagement, STATED);
                self.material("mating", &mating.material);
            }
            None => self.unknown("mating"),
        }
        match &fastener.joint {
            Some(joint) => self.joint(joint),
            None => self.unknown("joint"),
        }
        match fastener.locking {
            Some(Locking::Free) => self.told("locking.feature", "none".to_owned(), STATED),
            Some(Locking::Standard { reused }) => {
                self.told("locking.feature", "standard".to_owned(), STATED);
                self.add("locking.reused", reused.to_string(), DEFAULT);
            }
            // The band itself stands under its own key.
            Some(Locking::Stated(_)) => {}
            None => self.unknown("locking.feature"),
        }
    }

    fn material(&mut self, table: &str, material: &Material) {
        let origin = MaterialOrigin::of(table, self.stated);
        let class = self.stated.words(&format!("{table}.class"));
        let prefix = match class {
            Some(class) => {
                self.told(&format!("{table}.class"), class.to_owned(), STATED);
                table.to_owned()
            }
            None => format!("{table}.material"),
        };
        let figures = [
            (
                "yield_mpa",
                Some(material.yield_mpa),
                "MPa",
                origin.yielding,
            ),
            (
                "tensile_mpa",
                Some(material.tensile_mpa),
                "MPa",
                origin.tensile,
            ),
            ("proof_mpa", material.proof_mpa, "MPa", origin.yielding),
            (
                "modulus_gpa",
                Some(material.modulus_gpa),
                "GPa",
                origin.modulus,
            ),
            ("shear_part", Some(material.shear_part), "", origin.shear),
        ];
        for (key, value, unit, origin) in figures {
            if let Some(value) = value {
                let value = with_unit(value, unit).trim_end().to_owned();
                self.told(&format!("{prefix}.{key}"), value, origin);
            }
        }
    }

    fn joint(&mut self, joint: &Joint) {
        match joint {
            Joint::Class(class) => {
                let degrees = class.angle_rad().times(1_f32.to_degrees());
                let words = format!("{class:?}, {}° from snug to target", ends(degrees));
                self.told("joint.class", words.to_lowercase(), origin::joint(joint));
            }
            Joint::Stiffness {
                bolt_n_per_m,
                parts_n_per_m,
            } => {
                for (key, value) in [
                    ("joint.bolt_n_per_m", *bolt_n_per_m),
                    ("joint.parts_n_per_m", *parts_n_per_m),
                ] {
                    self.told(key, with_unit(value, "N/m"), STATED);
                }
            }
            Joint::Clamp(clamp) => {
                self.add("joint.length_mm", with_unit(clamp.length_mm, "mm"), DEFAULT);
                self.add("joint.shank_mm", with_unit(clamp.shank_mm, "mm"), DEFAULT);
                self.add(
                    "joint.parts_gpa",
                    with_unit(clamp.parts_gpa, "GPa"),
                    DEFAULT,
                );
                self.add("joint.nut", clamp.nut.to_string(), DEFAULT);
            }
        }
    }
}

fn ends(band: Band) -> String {
    if band.min == band.max {
        return number(band.min);
    }
    format!("{} to {}", number(band.min), number(band.max))
}
