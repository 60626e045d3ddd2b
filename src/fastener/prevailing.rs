//! Torque of a locking feature: ISO 2320 for metric threads, US Army technical manuals for unified
//! ones, both as read in reprints.

use super::Band;
use super::thread::{Thread, ThreadSystem};

/// Limits of the prevailing torque of a locking nut.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct PrevailingTorque {
    /// Most that the first assembly may take, N·m.
    pub first_assembly_max_nm: f32,
    /// Least at the first removal, N·m.
    pub first_removal_min_nm: f32,
    /// Least at the fifth removal, N·m.
    pub fifth_removal_min_nm: f32,
}

/// Whether a locking feature has been used before.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Reuse {
    /// First assembly.
    First,
    /// Assembled and removed before, up to five times.
    Reused,
}

impl PrevailingTorque {
    /// Torque in N·m between which a sound locking feature keeps. The standard sets the least at
    /// removal; that assembly takes no less is common practice, no source.
    pub const fn band(&self, reuse: Reuse) -> Band {
        Band {
            min: match reuse {
                Reuse::First => self.first_removal_min_nm,
                Reuse::Reused => self.fifth_removal_min_nm,
            },
            max: self.first_assembly_max_nm,
        }
    }
}

/// By nominal diameter in mm, ISO 2320:2008 for class 04: first assembly, first removal, fifth
/// removal, N·m. Classes 5 to 8 share the first (from memory), those of 10 and 12 are higher.
const ISO_2320: [(f32, [f32; 3]); 13] = [
    (3.0, [0.43, 0.12, 0.08]),
    (4.0, [0.9, 0.18, 0.12]),
    (5.0, [1.6, 0.29, 0.2]),
    (6.0, [3.0, 0.45, 0.3]),
    (8.0, [6.0, 0.85, 0.6]),
    (10.0, [10.5, 1.5, 1.0]),
    (12.0, [15.5, 2.3, 1.6]),
    (14.0, [24.0, 3.3, 2.3]),
    (16.0, [32.0, 4.5, 3.0]),
    (20.0, [54.0, 7.5, 5.3]),
    (24.0, [80.0, 11.5, 8.0]),
    (30.0, [108.0, 16.0, 12.0]),
    (36.0, [136.0, 21.0, 16.0]),
];

const LBF_IN_NM: f32 = 0.112_984_83;

/// Least breakaway torque of used self-locking nuts without axial load, at least two threads
/// showing: inches, threads per inch, lbf·in.
const USED_UNIFIED: [(f32, f32, f32); 9] = [
    (0.190, 32.0, 2.0),
    (0.25, 28.0, 3.5),
    (0.3125, 24.0, 6.5),
    (0.375, 24.0, 9.5),
    (0.4375, 20.0, 14.0),
    (0.5, 20.0, 18.0),
    (0.625, 18.0, 32.0),
    (0.75, 16.0, 50.0),
    (1.0, 12.0, 90.0),
];

impl Thread {
    /// Limits of a locking nut by ISO 2320, class 04, for any pitch of the diameter; `None` for
    /// unified threads and for diameters that the table does not give.
    pub fn prevailing_torque(&self) -> Option<PrevailingTorque> {
        if self.system != ThreadSystem::Metric {
            return None;
        }
        ISO_2320
            .iter()
            .find(|(diameter_mm, _)| *diameter_mm == self.diameter_mm)
            .map(|(_, [assembly, first, fifth])| PrevailingTorque {
                first_assembly_max_nm: *assembly,
                first_removal_min_nm: *first,
                fifth_removal_min_nm: *fifth,
            })
    }

    /// Least torque in N·m that a used locking nut must still hold to be used again: ISO 2320 at the
    /// fifth removal, US Army technical manuals for fine unified threads; `None` where neither gives
    /// a figure.
    pub fn reuse_min_nm(&self) -> Option<f32> {
        match self.system {
            ThreadSystem::Metric => Some(self.prevailing_torque()?.fifth_removal_min_nm),
            ThreadSystem::Unified => USED_UNIFIED
                .iter()
                .find(|(d_in, per_inch, _)| Self::unified(*d_in, *per_inch) == *self)
                .map(|(_, _, lbf_in)| lbf_in * LBF_IN_NM),
        }
    }
}
