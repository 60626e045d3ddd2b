//! Where the figures of a fastener come from: the file, or which standard, and how that is known.

use bolting_monitor::fastener::{
    AstmGrade, Fastener, Joint, Locking, PropertyClass, StainlessLevel, SteelClass, Thread,
    ThreadSystem, mean_bearing_mm,
};

use super::Stated;

/// What the file itself says.
pub const STATED: &str = "stated in the file";
/// Coarse pitches that the core knows from memory.
const COARSE_FROM_MEMORY_MM: [f32; 4] = [39.0, 45.0, 52.0, 60.0];

/// Of the pitch.
pub fn pitch(thread: &Thread, stated: &Stated) -> &'static str {
    if stated.has("bolt.pitch_mm") {
        return STATED;
    }
    let coarse = || format!("M{}", thread.diameter_mm).parse::<Thread>().ok();
    match thread.system {
        ThreadSystem::Unified => {
            "ASME B1.1 (UNC and UNF read in reprints, the other series in part from memory)"
        }
        ThreadSystem::Metric if coarse() != Some(*thread) => {
            "ISO 261 and ISO 262, fine pitch (in part from memory)"
        }
        ThreadSystem::Metric if COARSE_FROM_MEMORY_MM.contains(&thread.diameter_mm) => {
            "ISO 261, coarse pitch (from memory)"
        }
        ThreadSystem::Metric => "ISO 261, coarse pitch (read in reprints)",
    }
}

/// Of the mean bearing diameter.
pub fn bearing(fastener: &Fastener) -> &'static str {
    let thread = &fastener.thread;
    let by_rule = (mean_bearing_mm(thread) - 1.25 * thread.diameter_mm).abs() < 1e-3;
    match fastener.bearing_mm {
        Some(_) => STATED,
        None if by_rule => "1.25·d (Shigley, eq. 8-27)",
        None => "hexagon head of ISO 4014 on a medium hole of ISO 273 (from memory)",
    }
}

/// Of the figures of a material.
pub struct MaterialOrigin {
    /// Of tensile strength.
    pub tensile: &'static str,
    /// Of yield strength and proof stress.
    pub yielding: &'static str,
    /// Of Young's modulus.
    pub modulus: &'static str,
    /// Of the shear strength.
    pub shear: &'static str,
}

impl MaterialOrigin {
    /// Of the material in the table `bolt` or `mating`.
    pub fn of(table: &str, stated: &Stated) -> Self {
        let class = stated.words(&format!("{table}.class"));
        match class.and_then(|class| class.parse().ok()) {
            Some(class) => Self::of_class(class),
            None => Self {
                tensile: STATED,
                yielding: STATED,
                modulus: STATED,
                shear: if stated.has(&format!("{table}.material.shear_part")) {
                    STATED
                } else {
                    "0.6 where not stated (common practice for steel, no source)"
                },
            },
        }
    }

    fn of_class(class: PropertyClass) -> Self {
        use SteelClass::{C8_8, C9_8, C10_9, C12_9};
        const TEXTBOOK: &str = "common textbook figure";
        const STEEL: &str = "VDI 2230, steel at room temperature";
        const STAINLESS: &str = "ISO 3506-1, annex";
        let all = |origin, modulus| Self {
            tensile: origin,
            yielding: origin,
            modulus,
            shear: TEXTBOOK,
        };
        match class {
            PropertyClass::Steel(steel) => {
                let origin = match steel {
                    C8_8 | C10_9 | C12_9 => "ISO 898-1:2013, table 3 (read in reprints)",
                    _ => "ISO 898-1:2013, table 3 (from memory)",
                };
                Self {
                    shear: match steel {
                        C8_8 | C9_8 | C10_9 | C12_9 => {
                            "implied by the torsion test of ISO 898-7 (from memory)"
                        }
                        _ => TEXTBOOK,
                    },
                    ..all(origin, STEEL)
                }
            }
            PropertyClass::Stainless(_, level) => Self {
                tensile: match level {
                    StainlessLevel::L70 | StainlessLevel::L80 => {
                        "ISO 3506-1:2020 (read in reprints)"
                    }
                    _ => "ISO 3506-1:2020 (from memory)",
                },
                ..all("ISO 3506-1:2020 (from memory)", STAINLESS)
            },
            PropertyClass::Sae(_) => all("SAE J429 (from memory)", STEEL),
            PropertyClass::Astm(AstmGrade::B7) => all("ASTM A193 (from memory)", STEEL),
            PropertyClass::Astm(_) => all("ASTM A193 (from memory)", STAINLESS),
        }
    }
}

/// Of friction: `key` is `bolt.thread_friction` or `bolt.head_friction`.
pub fn friction(key: &str, fastener: &Fastener, stated: &Stated) -> &'static str {
    match stated.words("bolt.friction_class") {
        Some("E") => {
            "VDI 2230, table A5, class E (read in a reprint; the upper end is this library's own)"
        }
        Some(_) => "VDI 2230, table A5, by class (read in a reprint)",
        None if stated.has(key) => STATED,
        None if fastener.friction.is_some() => "taken as stated for the other of the two",
        None => "not told: class B of VDI 2230, table A5 (read in a reprint) is reckoned with",
    }
}

/// Of the stiffness of the joint.
pub fn joint(joint: &Joint) -> &'static str {
    match joint {
        Joint::Class(_) => {
            "ISO 5393 (as quoted by trade pages; 5° and 720° are this library's own)"
        }
        Joint::Stiffness { .. } => STATED,
        Joint::Clamp(_) => {
            "bolt: VDI 2230 (lengths from memory); parts: cones of 30°, Shigley, eq. 8-20"
        }
    }
}

/// Of the torque that a used locking nut must still take.
pub const REUSE: &str = "metric: ISO 2320:2008, class 04, fifth removal; unified: US Army technical manuals \
    (all read in reprints); where the nut's own rules forbid a second use, they hold";

/// Of the prevailing torque.
pub fn prevailing(locking: Option<Locking>) -> &'static str {
    match locking {
        Some(Locking::Free) => "no locking feature, as stated in the file",
        Some(Locking::Stated(_)) => STATED,
        Some(Locking::Standard { .. }) => {
            "ISO 2320:2008, class 04 (read in reprints); the least is that of removal (common practice, no source)"
        }
        None => "not told: up to the most of ISO 2320 at first assembly, class 04",
    }
}
