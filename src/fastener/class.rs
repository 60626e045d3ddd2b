//! Property classes of bolts: what a marking on a head guarantees.
//!
//! Sources: ISO 898-1:2013 table 3 (8.8, 10.9 and 12.9 as read in reprints, the others from
//! memory); ISO 3506-1:2020 (tensile strengths of levels 70 and 80 as read, the rest from memory);
//! SAE J429 and ASTM A193/A193M (from memory, as textbooks give them).
//!
//! Two choices. The proof stress is the one of ISO 898-1 table 3, not the "nominal" 0.9 × yield of
//! some handbooks: the printed proof loads come out only with the former. The shear strength of
//! 8.8 to 12.9 is what the torsion test of ISO 898-7 implies (¾ of its ratios 0.84, 0.815, 0.79
//! and 0.75, from memory), not the 0.65, 0.62 and 0.60 of VDI 2230: it is a few percent lower, and
//! one figure then serves torsion and stripping. All others count as 0.6 (common textbook figure).

use core::fmt;
use core::str::FromStr;

use serde::{Deserialize, Serialize};

use super::Material;
use super::thread::INCH_MM;

/// Young's modulus of carbon and alloy steel at room temperature, GPa (VDI 2230).
const STEEL_GPA: f32 = 205.0;
/// Young's modulus of austenitic and duplex steel at room temperature, GPa (ISO 3506-1, annex).
const STAINLESS_GPA: f32 = 200.0;
/// One thousand pounds-force per square inch in MPa.
const KSI: f32 = 6.894_757;

/// A property class, strength grade or steel grade of a bolt.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum PropertyClass {
    /// Carbon and alloy steel, ISO 898-1.
    Steel(SteelClass),
    /// Stainless steel, ISO 3506-1.
    Stainless(StainlessGrade, StainlessLevel),
    /// Inch bolts, SAE J429.
    Sae(SaeGrade),
    /// Bolting for high temperature or pressure, ASTM A193.
    Astm(AstmGrade),
}

/// Property classes of ISO 898-1.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[allow(missing_docs)] // Each variant is the class its name spells.
pub enum SteelClass {
    C4_6,
    C4_8,
    C5_6,
    C5_8,
    C6_8,
    C8_8,
    C9_8,
    C10_9,
    C12_9,
}

/// Steel grades of ISO 3506-1: austenitic A1 to A5, duplex D2 to D8.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[allow(missing_docs)] // Each variant is the grade its name spells.
pub enum StainlessGrade {
    A1,
    A2,
    A3,
    A4,
    A5,
    D2,
    D4,
    D6,
    D8,
}

/// Property classes of ISO 3506-1: a tenth of the tensile strength in MPa.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[allow(missing_docs)] // Each variant is the class its name spells.
pub enum StainlessLevel {
    L50,
    L70,
    L80,
    L100,
}

/// Grades of SAE J429.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[allow(missing_docs)] // Each variant is the grade its name spells.
pub enum SaeGrade {
    Grade2,
    Grade5,
    Grade8,
}

/// Grades of ASTM A193.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum AstmGrade {
    /// Chromium-molybdenum steel, quenched and tempered.
    B7,
    /// Austenitic steel, solution treated (class 1).
    B8Class1,
    /// Austenitic steel, strain hardened (class 2).
    B8Class2,
}

const STEEL: [(&str, SteelClass); 9] = [
    ("4.6", SteelClass::C4_6),
    ("4.8", SteelClass::C4_8),
    ("5.6", SteelClass::C5_6),
    ("5.8", SteelClass::C5_8),
    ("6.8", SteelClass::C6_8),
    ("8.8", SteelClass::C8_8),
    ("9.8", SteelClass::C9_8),
    ("10.9", SteelClass::C10_9),
    ("12.9", SteelClass::C12_9),
];

const GRADES: [(&str, StainlessGrade); 9] = [
    ("A1", StainlessGrade::A1),
    ("A2", StainlessGrade::A2),
    ("A3", StainlessGrade::A3),
    ("A4", StainlessGrade::A4),
    ("A5", StainlessGrade::A5),
    ("D2", StainlessGrade::D2),
    ("D4", StainlessGrade::D4),
    ("D6", StainlessGrade::D6),
    ("D8", StainlessGrade::D8),
];

const LEVELS: [(&str, StainlessLevel); 4] = [
    ("50", StainlessLevel::L50),
    ("70", StainlessLevel::L70),
    ("80", StainlessLevel::L80),
    ("100", StainlessLevel::L100),
];

const INCH_GRADES: [(&str, PropertyClass); 6] = [
    ("grade 2", PropertyClass::Sae(SaeGrade::Grade2)),
    ("grade 5", PropertyClass::Sae(SaeGrade::Grade5)),
    ("grade 8", PropertyClass::Sae(SaeGrade::Grade8)),
    ("B7", PropertyClass::Astm(AstmGrade::B7)),
    ("B8 class 1", PropertyClass::Astm(AstmGrade::B8Class1)),
    ("B8 class 2", PropertyClass::Astm(AstmGrade::B8Class2)),
];

impl PropertyClass {
    /// Least guaranteed figures of a bolt of this class with a thread of `diameter_mm`: classes
    /// that are heat treated or strain hardened through depend on it.
    pub fn material(self, diameter_mm: f32) -> Material {
        match self {
            Self::Steel(class) => class.material(diameter_mm),
            Self::Stainless(_, level) => level.material(),
            Self::Sae(grade) => grade.material(diameter_mm),
            Self::Astm(grade) => grade.material(diameter_mm),
        }
    }
}

impl SteelClass {
    /// ISO 898-1:2013, table 3: tensile strength, yield (lower yield, `Rp0.2` or `Rpf`), proof
    /// stress, MPa.
    fn material(self, diameter_mm: f32) -> Material {
        let (tensile, yielding, proof, shear_part) = match self {
            Self::C4_6 => (400.0, 240.0, 225.0, 0.6),
            Self::C4_8 => (420.0, 340.0, 310.0, 0.6),
            Self::C5_6 => (500.0, 300.0, 280.0, 0.6),
            Self::C5_8 => (520.0, 420.0, 380.0, 0.6),
            Self::C6_8 => (600.0, 480.0, 440.0, 0.6),
            Self::C8_8 if diameter_mm <= 16.0 => (800.0, 640.0, 580.0, 0.63),
            Self::C8_8 => (830.0, 660.0, 600.0, 0.63),
            Self::C9_8 => (900.0, 720.0, 650.0, 0.611_25),
            Self::C10_9 => (1040.0, 940.0, 830.0, 0.5925),
            Self::C12_9 => (1220.0, 1100.0, 970.0, 0.5625),
        };
        Material {
            yield_mpa: yielding,
            tensile_mpa: tensile,
            proof_mpa: Some(proof),
            modulus_gpa: STEEL_GPA,
            shear_part,
        }
    }
}

impl StainlessLevel {
    /// ISO 3506-1:2020; the standard gives no proof stress apart from `Rp0.2`.
    fn material(self) -> Material {
        let (tensile, yielding) = match self {
            Self::L50 => (500.0, 210.0),
            Self::L70 => (700.0, 450.0),
            Self::L80 => (800.0, 600.0),
            Self::L100 => (1000.0, 800.0),
        };
        no_proof(yielding, tensile, STAINLESS_GPA)
    }
}

impl SaeGrade {
    /// SAE J429, from memory: the first row up to the stated size, the second above.
    fn material(self, diameter_mm: f32) -> Material {
        let (proof, yielding, tensile) = match self {
            Self::Grade2 if diameter_mm <= 0.75 * INCH_MM => (55.0, 57.0, 74.0),
            Self::Grade2 => (33.0, 36.0, 60.0),
            Self::Grade5 if diameter_mm <= 1.0 * INCH_MM => (85.0, 92.0, 120.0),
            Self::Grade5 => (74.0, 81.0, 105.0),
            Self::Grade8 => (120.0, 130.0, 150.0),
        };
        Material {
            proof_mpa: Some(proof * KSI),
            ..no_proof(yielding * KSI, tensile * KSI, STEEL_GPA)
        }
    }
}

impl AstmGrade {
    /// ASTM A193/A193M, from memory; B7 above 64 mm is weaker and not told apart here.
    fn material(self, diameter_mm: f32) -> Material {
        match self {
            Self::B7 => no_proof(105.0 * KSI, 125.0 * KSI, STEEL_GPA),
            Self::B8Class1 => no_proof(30.0 * KSI, 75.0 * KSI, STAINLESS_GPA),
            Self::B8Class2 => {
                let (yielding, tensile) = match diameter_mm {
                    d if d <= 0.75 * INCH_MM => (100.0, 125.0),
                    d if d <= 1.0 * INCH_MM => (80.0, 115.0),
                    d if d <= 1.25 * INCH_MM => (65.0, 105.0),
                    _ => (50.0, 100.0),
                };
                no_proof(yielding * KSI, tensile * KSI, STAINLESS_GPA)
            }
        }
    }
}

fn no_proof(yield_mpa: f32, tensile_mpa: f32, modulus_gpa: f32) -> Material {
    Material {
        yield_mpa,
        tensile_mpa,
        proof_mpa: None,
        modulus_gpa,
        shear_part: 0.6,
    }
}

/// Whether ISO 3506-1:2020 has the class for the grade (from memory).
fn made(grade: StainlessGrade, level: StainlessLevel) -> bool {
    use StainlessGrade::{A1, A2, A3, A4, A5, D2, D4, D6, D8};
    match level {
        StainlessLevel::L50 => matches!(grade, A1 | A2 | A3 | A4 | A5),
        StainlessLevel::L70 | StainlessLevel::L80 => true,
        StainlessLevel::L100 => matches!(grade, A4 | A5 | D2 | D4 | D6 | D8),
    }
}

fn named<T: Copy>(table: &[(&str, T)], text: &str) -> Option<T> {
    table
        .iter()
        .find(|(name, _)| name.eq_ignore_ascii_case(text))
        .map(|(_, value)| *value)
}

impl FromStr for PropertyClass {
    type Err = ClassError;

    /// Reads a marking as it stands on the head or in a drawing: `8.8`, `A4-80`, `grade 5`, `B7`,
    /// `B8 class 2`.
    fn from_str(text: &str) -> Result<Self, ClassError> {
        let text = text.trim();
        let stainless = |(grade, level): (&str, &str)| {
            let (grade, level) = (named(&GRADES, grade)?, named(&LEVELS, level)?);
            made(grade, level).then_some(Self::Stainless(grade, level))
        };
        named(&STEEL, text)
            .map(Self::Steel)
            .or_else(|| text.split_once('-').and_then(stainless))
            .or_else(|| named(&INCH_GRADES, text))
            .ok_or(ClassError)
    }
}

/// A text that is no known property class.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ClassError;

impl fmt::Display for ClassError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "not a known property class: use one of")?;
        STEEL
            .iter()
            .try_for_each(|(name, _)| write!(f, " {name},"))?;
        for (grade_name, grade) in GRADES {
            for (level_name, level) in LEVELS {
                if made(grade, level) {
                    write!(f, " {grade_name}-{level_name},")?;
                }
            }
        }
        INCH_GRADES
            .iter()
            .try_for_each(|(name, _)| write!(f, " {name},"))?;
        write!(f, " or describe the material itself")
    }
}

impl core::error::Error for ClassError {}
