//! What is wrong with a description of a fastener, and how wrong.

use core::fmt;

use super::Band;

/// Whether a fault forbids the run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Severity {
    /// Physics forbids it: no run is made of this description.
    Refused,
    /// Practice allows it with good reason: told, and left to the engineer.
    Warned,
}

/// A figure of a fastener's description that is unsound.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Fault {
    /// Which part of the description: `"bolt"`, `"mating"`, `"joint"`, `"fastener"` …
    pub part: &'static str,
    /// The key within that part, its unit in the name.
    pub key: &'static str,
    /// What it was, in the unit of the key.
    pub value: f32,
    /// What it must be, in words that `limit` ends.
    pub must_be: &'static str,
    /// The limit, in the unit of the key.
    pub limit: f32,
    /// Whether it forbids the run.
    pub severity: Severity,
}

impl Fault {
    /// The first that forbids the run. A call of its own for each place: the faults of all parts
    /// together would take 12 kB of stack.
    #[inline(never)]
    pub(crate) fn first_refused<I: Iterator<Item = Self>>(
        faults: impl FnOnce() -> I,
    ) -> Option<Self> {
        faults().find(|fault| fault.severity == Severity::Refused)
    }

    /// `Some` fault unless `sound`.
    pub(super) fn unless(sound: bool, fault: Self) -> Option<Self> {
        (!sound).then_some(fault)
    }

    /// A figure below its least.
    #[inline(never)]
    pub(super) fn below(
        part: &'static str,
        key: &'static str,
        value: f32,
        limit: f32,
    ) -> Option<Self> {
        Self::unless(
            value.is_finite() && value >= limit,
            Self {
                part,
                key,
                value,
                must_be: "at least",
                limit,
                severity: Severity::Refused,
            },
        )
    }

    /// A figure above its most.
    #[inline(never)]
    pub(super) fn above(
        part: &'static str,
        key: &'static str,
        value: f32,
        limit: f32,
    ) -> Option<Self> {
        Self::unless(
            value.is_finite() && value <= limit,
            Self {
                part,
                key,
                value,
                must_be: "at most",
                limit,
                severity: Severity::Refused,
            },
        )
    }

    /// A figure outside its range; what is no number is told once.
    #[inline(never)]
    pub(super) fn outside(
        part: &'static str,
        key: &'static str,
        value: f32,
        range: &Band,
    ) -> Option<Self> {
        Self::below(part, key, value, range.min)
            .or_else(|| Self::above(part, key, value, range.max))
    }

    /// A stated window that has nothing in common with the expected one: told with the end of the
    /// expected window that is nearest.
    pub(crate) fn apart(
        part: &'static str,
        key: &'static str,
        stated: Band,
        expected: Band,
    ) -> Option<Self> {
        Self::below(part, key, stated.max, expected.min)
            .map(|f| f.warned("a window that reaches up to what is computed,"))
            .or_else(|| {
                Self::above(part, key, stated.min, expected.max)
                    .map(|f| f.warned("a window that reaches down to what is computed,"))
            })
    }

    /// A figure that must be finite and above zero.
    #[inline(never)]
    pub(super) fn not_positive(part: &'static str, key: &'static str, value: f32) -> Option<Self> {
        Self::unless(
            value.is_finite() && value > 0.0,
            Self {
                part,
                key,
                value,
                must_be: "a finite number above",
                limit: 0.0,
                severity: Severity::Refused,
            },
        )
    }

    /// The same as a warning, and in other words.
    pub(super) fn warned(self, must_be: &'static str) -> Self {
        Self {
            must_be,
            severity: Severity::Warned,
            ..self
        }
    }

    /// The same in other words.
    pub(super) fn worded(self, must_be: &'static str) -> Self {
        Self { must_be, ..self }
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (verb, mend) = match self.severity {
            Severity::Refused => ("must be", "correct it in the description"),
            Severity::Warned => (
                "should be",
                "correct it, or go on for a reason that stands in the procedure",
            ),
        };
        write!(
            f,
            "{}: {} is {}, but {verb} {} {}: {mend}",
            self.part, self.key, self.value, self.must_be, self.limit
        )
    }
}

impl core::error::Error for Fault {}
