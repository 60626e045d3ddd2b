//! Friction of the thread and under the head, as intervals: nobody knows it better before the run.

use serde::{Deserialize, Serialize};

use super::{Band, Fault};

/// What a coefficient of friction can be. Both ends are this library's own: below the lowest class
/// of VDI 2230 (0.04), at the level of the best solid lubricants; above 1 it is seizure.
const PHYSICAL: Band = Band::new(0.02, 1.0);

/// Coefficients of friction, each constant in a run and anywhere in its interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Friction {
    /// In the thread.
    pub thread: Band,
    /// Under the head or nut, whichever is turned.
    pub head: Band,
}

/// Friction classes of VDI 2230 table A5 (as read in a reprint).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum FrictionClass {
    /// 0.04 to 0.10: solid lubricants, waxes, pastes on polished metal.
    A,
    /// 0.08 to 0.16: oiled, greased, waxed; what to aim for.
    B,
    /// 0.14 to 0.24: lightly oiled or as delivered; oiled stainless steel.
    C,
    /// 0.20 to 0.35: rough and dry.
    D,
    /// 0.30 and more: bare stainless steel, dry zinc. The table has no upper end; 0.50 is this
    /// library's own.
    E,
}

impl FrictionClass {
    /// The interval of the class.
    pub const fn band(self) -> Band {
        match self {
            Self::A => Band::new(0.04, 0.10),
            Self::B => Band::new(0.08, 0.16),
            Self::C => Band::new(0.14, 0.24),
            Self::D => Band::new(0.20, 0.35),
            Self::E => Band::new(0.30, 0.50),
        }
    }
}

impl From<FrictionClass> for Friction {
    fn from(class: FrictionClass) -> Self {
        Self {
            thread: class.band(),
            head: class.band(),
        }
    }
}

impl Default for Friction {
    /// What is reckoned with where nothing is stated: class B of VDI 2230 table A5.
    fn default() -> Self {
        FrictionClass::B.into()
    }
}

impl Friction {
    /// The same known coefficient in the thread and under the head.
    pub const fn exact(coefficient: f32) -> Self {
        Self {
            thread: Band::exact(coefficient),
            head: Band::exact(coefficient),
        }
    }

    /// Every end of an interval that is outside physics.
    pub fn faults(&self) -> impl Iterator<Item = Fault> + use<> {
        let part = "friction";
        let (thread, head) = (self.thread, self.head);
        [
            Fault::outside(part, "thread.min", thread.min, &PHYSICAL),
            Fault::outside(part, "thread.max", thread.max, &PHYSICAL),
            reversed("thread.min", &thread),
            Fault::outside(part, "head.min", head.min, &PHYSICAL),
            Fault::outside(part, "head.max", head.max, &PHYSICAL),
            reversed("head.min", &head),
        ]
        .into_iter()
        .flatten()
    }
}

/// An interval whose ends are the wrong way round.
fn reversed(key: &'static str, band: &Band) -> Option<Fault> {
    Fault::above("friction", key, band.min, band.max).filter(|_| band.min > band.max)
}
