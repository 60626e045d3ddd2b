//! ISO metric threads: designation, coarse pitch, stress area and the torque of a locking feature.
//!
//! Sources, all as read in reprints: coarse pitches of ISO 261 (M4 to M36; M3 and M39 to M64 from
//! memory), stress area of ISO 898-1, first-assembly torque of ISO 2320.

use core::fmt;
use core::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::math::PI;

/// One nominal size.
struct Size {
    diameter_mm: f32,
    /// ISO 261.
    coarse_pitch_mm: f32,
    /// Largest prevailing torque at first assembly, ISO 2320:2008 table for class 04 nuts, N·m;
    /// `None` where no figure was at hand. Classes 5 to 8 share it (from memory), 10 and 12 are higher.
    prevailing_max_nm: Option<f32>,
}

const fn size(diameter_mm: f32, coarse_pitch_mm: f32, prevailing_max_nm: Option<f32>) -> Size {
    Size {
        diameter_mm,
        coarse_pitch_mm,
        prevailing_max_nm,
    }
}

const SIZES: [Size; 24] = [
    size(3.0, 0.5, Some(0.43)),
    size(4.0, 0.7, Some(0.9)),
    size(5.0, 0.8, Some(1.6)),
    size(6.0, 1.0, Some(3.0)),
    size(8.0, 1.25, Some(6.0)),
    size(10.0, 1.5, Some(10.5)),
    size(12.0, 1.75, Some(15.5)),
    size(14.0, 2.0, Some(24.0)),
    size(16.0, 2.0, Some(32.0)),
    size(18.0, 2.5, None),
    size(20.0, 2.5, Some(54.0)),
    size(22.0, 2.5, None),
    size(24.0, 3.0, Some(80.0)),
    size(27.0, 3.0, None),
    size(30.0, 3.5, Some(108.0)),
    size(33.0, 3.5, None),
    size(36.0, 4.0, Some(136.0)),
    size(39.0, 4.0, None),
    size(42.0, 4.5, None),
    size(45.0, 4.5, None),
    size(48.0, 5.0, None),
    size(52.0, 5.0, None),
    size(56.0, 5.5, None),
    size(64.0, 6.0, None),
];

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
    /// An ISO metric thread.
    pub const fn metric(diameter_mm: f32, pitch_mm: f32) -> Self {
        Self {
            system: ThreadSystem::Metric,
            diameter_mm,
            pitch_mm,
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

    /// Stress area `As = π/4·(d − 0.938194·P)²` in mm² (ISO 898-1, clause 9).
    pub fn stress_area_mm2(&self) -> f32 {
        let d = self.diameter_mm - 0.938_194 * self.pitch_mm;
        PI / 4.0 * d * d
    }

    /// Largest prevailing torque of an unused locking nut of this size in N·m (ISO 2320, first
    /// assembly, class 04); `None` for sizes that the table does not give.
    pub fn prevailing_max_nm(&self) -> Option<f32> {
        SIZES
            .iter()
            .find(|size| size.diameter_mm == self.diameter_mm)
            .and_then(|size| size.prevailing_max_nm)
    }
}

impl FromStr for Thread {
    type Err = ThreadError;

    /// Reads `M<d>` (coarse pitch) or `M<d>x<pitch>`; a pitch may not be above the coarse one.
    fn from_str(designation: &str) -> Result<Self, ThreadError> {
        let rest = designation
            .trim()
            .strip_prefix(['M', 'm'])
            .ok_or(ThreadError::NotMetric)?;
        let (diameter, pitch) = match rest.split_once(['x', 'X', '×']) {
            Some((diameter, pitch)) => (diameter, Some(pitch)),
            None => (rest, None),
        };
        let number = |text: &str| {
            text.trim()
                .parse::<f32>()
                .map_err(|_| ThreadError::NotMetric)
        };
        let diameter_mm = number(diameter)?;
        let coarse_pitch_mm = SIZES
            .iter()
            .find(|size| size.diameter_mm == diameter_mm)
            .map(|size| size.coarse_pitch_mm)
            .ok_or(ThreadError::UnknownSize)?;
        let pitch_mm = pitch.map_or(Ok(coarse_pitch_mm), number)?;
        if pitch_mm > 0.0 && pitch_mm <= coarse_pitch_mm {
            Ok(Self::metric(diameter_mm, pitch_mm))
        } else {
            Err(ThreadError::Pitch { coarse_pitch_mm })
        }
    }
}

/// Why a designation is no thread.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum ThreadError {
    /// Not of the form `M10` or `M10x1.25`.
    NotMetric,
    /// A nominal size that the table does not hold.
    UnknownSize,
    /// A pitch that is not above zero or is above the coarse pitch of the size.
    Pitch {
        /// Coarse pitch of the size, mm.
        coarse_pitch_mm: f32,
    },
}

impl fmt::Display for ThreadError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotMetric => write!(
                f,
                "not an ISO metric designation: write it as \"M10\" or, with a fine pitch in mm, \"M10x1.25\""
            ),
            Self::UnknownSize => {
                write!(f, "not a known size: use one of")?;
                SIZES
                    .iter()
                    .try_for_each(|size| write!(f, " M{}", size.diameter_mm))
            }
            Self::Pitch { coarse_pitch_mm } => write!(
                f,
                "not a pitch of this size: give more than 0 and at most the coarse pitch of {coarse_pitch_mm} mm"
            ),
        }
    }
}

impl core::error::Error for ThreadError {}

#[cfg(test)]
mod tests {
    extern crate std;
    use std::string::ToString;

    use super::*;

    fn thread(designation: &str) -> Thread {
        designation.parse().unwrap()
    }

    /// Printed stress areas to five figures: metric thread stress and shear area table credited to
    /// Bickford, 4th ed., as read in a reprint.
    #[test]
    fn stress_areas_agree_with_a_printed_table_to_five_figures() {
        for (name, printed) in [
            ("M5", 14.183),
            ("M6", 20.123),
            ("M8", 36.609),
            ("M10", 57.990),
            ("M12", 84.267),
            ("M14", 115.44),
            ("M16", 156.67),
            ("M20", 244.79),
            ("M22", 303.40),
            ("M24", 352.50),
            ("M27", 459.41),
            ("M30", 560.59),
            ("M36", 816.72),
        ] {
            let area = thread(name).stress_area_mm2();
            assert!(
                (area - printed).abs() < 0.02,
                "{name}: {area}, printed {printed}"
            );
        }
    }

    /// ISO 898-1 tables 4 and 5, as read in four agreeing reprints; half a unit of the last figure.
    #[test]
    fn stress_areas_agree_with_iso_898_1_to_three_figures() {
        for (name, printed, half_unit) in [
            ("M4", 8.78, 0.005),
            ("M5", 14.2, 0.05),
            ("M6", 20.1, 0.05),
            ("M8", 36.6, 0.05),
            ("M10", 58.0, 0.05),
            ("M12", 84.3, 0.05),
            ("M14", 115.0, 0.5),
            ("M16", 157.0, 0.5),
            ("M18", 192.0, 0.5),
            ("M20", 245.0, 0.5),
            ("M22", 303.0, 0.5),
            ("M24", 353.0, 0.5),
            ("M27", 459.0, 0.5),
            ("M30", 561.0, 0.5),
            ("M33", 694.0, 0.5),
            ("M36", 817.0, 0.5),
        ] {
            let area = thread(name).stress_area_mm2();
            assert!(
                (area - printed).abs() <= half_unit,
                "{name}: {area}, printed {printed}"
            );
        }
    }

    /// ISO 2320, class 04, first assembly, as read in a reprint.
    #[test]
    fn prevailing_torque_comes_from_the_table_or_is_unknown() {
        assert_eq!(thread("M8").prevailing_max_nm(), Some(6.0));
        assert_eq!(thread("M10x1.25").prevailing_max_nm(), Some(10.5));
        assert_eq!(thread("M18").prevailing_max_nm(), None);
    }

    #[test]
    fn designations_are_read_as_written_in_practice() {
        let fine = Thread::metric(10.0, 1.25);
        for text in ["M10x1.25", "M10X1.25", "M10×1.25", " m10 x 1.25 "] {
            assert_eq!(text.parse(), Ok(fine), "{text}");
        }
        assert_eq!(thread("M10").pitch_mm, 1.5);
    }

    #[test]
    fn what_is_no_thread_is_told_with_what_is_allowed() {
        for (text, told) in [
            ("3/8-16", "\"M10x1.25\""),
            ("M", "\"M10x1.25\""),
            ("M10x", "\"M10x1.25\""),
            ("M11", "M10 M12"),
            ("MNaN", "M10 M12"),
            ("M10x2", "coarse pitch of 1.5 mm"),
            ("M10x0", "coarse pitch of 1.5 mm"),
            ("M10xNaN", "coarse pitch of 1.5 mm"),
        ] {
            let error = text.parse::<Thread>().unwrap_err().to_string();
            assert!(error.contains(told), "{text}: {error}");
        }
    }
}
