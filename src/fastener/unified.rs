//! Sizes and pitches of unified inch threads (ASME B1.1), #4 to 1-1/2 in: coarse, fine, extra fine and
//! the constant eight threads per inch of larger studs. From memory; the pitches of #10, 1/4, 5/16,
//! 3/8, 7/16, 1/2, 5/8, 3/4 and 1 in fine also as read in US Army technical manuals.

use super::thread::Thread;

/// A series of pitches.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum UnifiedSeries {
    /// Coarse, UNC.
    Coarse,
    /// Fine, UNF.
    Fine,
    /// Extra fine, UNEF.
    ExtraFine,
    /// Eight threads per inch at every diameter, 8-UN; written `UN`.
    Eight,
}

impl UnifiedSeries {
    /// As written in a designation.
    pub const fn symbol(self) -> &'static str {
        match self {
            Self::Coarse => "UNC",
            Self::Fine => "UNF",
            Self::ExtraFine => "UNEF",
            Self::Eight => "UN",
        }
    }
}

/// One nominal size with its threads per inch.
pub(super) struct UnifiedSize {
    /// As written in a designation.
    pub name: &'static str,
    pub diameter_in: f32,
    pub pitches: &'static [(f32, UnifiedSeries)],
}

impl UnifiedSize {
    pub fn thread(&self, threads_per_inch: f32) -> Thread {
        Thread::unified(self.diameter_in, threads_per_inch)
    }
}

macro_rules! size {
    ($name:literal, $diameter_in:expr, $($series:ident $threads_per_inch:literal),+) => {
        UnifiedSize {
            name: $name,
            diameter_in: $diameter_in,
            pitches: &[$(($threads_per_inch as f32, UnifiedSeries::$series)),+],
        }
    };
}

pub(super) const SIZES: [UnifiedSize; 20] = [
    size!("#4", 0.112, Coarse 40, Fine 48),
    size!("#5", 0.125, Coarse 40, Fine 44),
    size!("#6", 0.138, Coarse 32, Fine 40),
    size!("#8", 0.164, Coarse 32, Fine 36),
    size!("#10", 0.190, Coarse 24, Fine 32),
    size!("#12", 0.216, Coarse 24, Fine 28, ExtraFine 32),
    size!("1/4", 0.25, Coarse 20, Fine 28, ExtraFine 32),
    size!("5/16", 0.3125, Coarse 18, Fine 24, ExtraFine 32),
    size!("3/8", 0.375, Coarse 16, Fine 24, ExtraFine 32),
    size!("7/16", 0.4375, Coarse 14, Fine 20, ExtraFine 28),
    size!("1/2", 0.5, Coarse 13, Fine 20, ExtraFine 28),
    size!("9/16", 0.5625, Coarse 12, Fine 18, ExtraFine 24),
    size!("5/8", 0.625, Coarse 11, Fine 18, ExtraFine 24),
    size!("3/4", 0.75, Coarse 10, Fine 16, ExtraFine 20),
    size!("7/8", 0.875, Coarse 9, Fine 14, ExtraFine 20),
    size!("1", 1.0, Coarse 8, Fine 12, ExtraFine 20),
    size!("1 1/8", 1.125, Coarse 7, Fine 12, ExtraFine 18, Eight 8),
    size!("1 1/4", 1.25, Coarse 7, Fine 12, ExtraFine 18, Eight 8),
    size!("1 3/8", 1.375, Coarse 6, Fine 12, ExtraFine 18, Eight 8),
    size!("1 1/2", 1.5, Coarse 6, Fine 12, ExtraFine 18, Eight 8),
];

/// How far a decimal designation may round a diameter (`.312` for 5/16) and a little more for its
/// binary form; sizes lie 0.013 in apart and more.
const DECIMAL_ROUNDING_IN: f32 = 0.000_6;

/// The size that a designation names: `3/8`, `#10` or `10`, `1 1/4` or `1-1/4`, `.375`.
pub(super) fn size_named(text: &str) -> Option<&'static UnifiedSize> {
    let text = text.trim().trim_end_matches('"');
    let words = |name: &'static str| name.split(' ');
    let said = || text.split([' ', '-']).filter(|word| !word.is_empty());
    let by_name = SIZES.iter().find(|size| {
        words(size.name).eq(said()) || size.name.strip_prefix('#').is_some_and(|n| n == text)
    });
    by_name.or_else(|| {
        let diameter_in: f32 = text.parse().ok()?;
        SIZES
            .iter()
            .find(|size| (size.diameter_in - diameter_in).abs() < DECIMAL_ROUNDING_IN)
    })
}

/// The size of this nominal diameter, if it is listed.
pub(super) fn size_of(diameter_mm: f32) -> Option<&'static UnifiedSize> {
    SIZES
        .iter()
        .find(|size| Thread::unified(size.diameter_in, 1.0).diameter_mm == diameter_mm)
}

/// Name of the size, threads per inch and series of a listed thread.
pub(super) fn listed(thread: &Thread) -> Option<(&'static str, f32, UnifiedSeries)> {
    let size = size_of(thread.diameter_mm)?;
    size.pitches
        .iter()
        .find(|(per_inch, _)| size.thread(*per_inch).pitch_mm == thread.pitch_mm)
        .map(|(per_inch, series)| (size.name, *per_inch, *series))
}

/// Every listed thread, small to large.
pub(super) fn threads() -> impl Iterator<Item = Thread> {
    SIZES.iter().flat_map(|size| {
        size.pitches
            .iter()
            .map(|(per_inch, _)| size.thread(*per_inch))
    })
}
