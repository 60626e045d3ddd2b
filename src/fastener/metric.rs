//! Sizes and pitches of ISO metric threads.
//!
//! Coarse pitches of M4 to M36 as read in reprints of ISO 261 and ISO 898-1; M3, M3.5, M4.5, M7, M39
//! to M64 and every fine pitch (ISO 261, ISO 262) from memory.

use super::thread::Thread;

/// One nominal size; the first pitch is the coarse one.
pub(super) struct MetricSize {
    pub diameter_mm: f32,
    pub pitches_mm: &'static [f32],
}

impl MetricSize {
    pub fn coarse_pitch_mm(&self) -> Option<f32> {
        self.pitches_mm.first().copied()
    }
}

const fn size(diameter_mm: f32, pitches_mm: &'static [f32]) -> MetricSize {
    MetricSize {
        diameter_mm,
        pitches_mm,
    }
}

pub(super) const SIZES: [MetricSize; 28] = [
    size(3.0, &[0.5, 0.35]),
    size(3.5, &[0.6, 0.35]),
    size(4.0, &[0.7, 0.5]),
    size(4.5, &[0.75, 0.5]),
    size(5.0, &[0.8, 0.5]),
    size(6.0, &[1.0, 0.75]),
    size(7.0, &[1.0, 0.75]),
    size(8.0, &[1.25, 1.0, 0.75]),
    size(10.0, &[1.5, 1.25, 1.0, 0.75]),
    size(12.0, &[1.75, 1.5, 1.25, 1.0]),
    size(14.0, &[2.0, 1.5, 1.25, 1.0]),
    size(16.0, &[2.0, 1.5, 1.0]),
    size(18.0, &[2.5, 2.0, 1.5, 1.0]),
    size(20.0, &[2.5, 2.0, 1.5, 1.0]),
    size(22.0, &[2.5, 2.0, 1.5, 1.0]),
    size(24.0, &[3.0, 2.0, 1.5, 1.0]),
    size(27.0, &[3.0, 2.0, 1.5, 1.0]),
    size(30.0, &[3.5, 3.0, 2.0, 1.5, 1.0]),
    size(33.0, &[3.5, 3.0, 2.0, 1.5]),
    size(36.0, &[4.0, 3.0, 2.0, 1.5]),
    size(39.0, &[4.0, 3.0, 2.0, 1.5]),
    size(42.0, &[4.5, 4.0, 3.0, 2.0, 1.5]),
    size(45.0, &[4.5, 4.0, 3.0, 2.0, 1.5]),
    size(48.0, &[5.0, 4.0, 3.0, 2.0, 1.5]),
    size(52.0, &[5.0, 4.0, 3.0, 2.0, 1.5]),
    size(56.0, &[5.5, 4.0, 3.0, 2.0, 1.5]),
    size(60.0, &[5.5, 4.0, 3.0, 2.0, 1.5]),
    size(64.0, &[6.0, 4.0, 3.0, 2.0, 1.5]),
];

/// The size of this nominal diameter, if it is listed.
pub(super) fn size_of(diameter_mm: f32) -> Option<&'static MetricSize> {
    SIZES.iter().find(|size| size.diameter_mm == diameter_mm)
}

/// Every listed thread, small to large, coarse pitch first.
pub(super) fn threads() -> impl Iterator<Item = Thread> {
    SIZES.iter().flat_map(|size| {
        size.pitches_mm
            .iter()
            .map(|pitch_mm| Thread::metric(size.diameter_mm, *pitch_mm))
    })
}
