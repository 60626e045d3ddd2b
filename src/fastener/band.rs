//! A closed interval of a figure that is known only within limits.

use serde::{Deserialize, Serialize};

/// A closed interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Band {
    /// Lower end.
    pub min: f32,
    /// Upper end.
    pub max: f32,
}
