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

impl Band {
    /// Nothing but zero.
    pub const ZERO: Self = Self::exact(0.0);

    /// The interval from `min` to `max`.
    pub const fn new(min: f32, max: f32) -> Self {
        Self { min, max }
    }

    /// A figure known exactly.
    pub const fn exact(value: f32) -> Self {
        Self::new(value, value)
    }

    /// The interval between two ends given in any order.
    pub fn between(a: f32, b: f32) -> Self {
        Self::new(a.min(b), a.max(b))
    }

    /// Midpoint.
    pub fn middle(&self) -> f32 {
        0.5 * (self.min + self.max)
    }

    /// Standard uncertainty of a figure of which only this interval is known: half width over √3
    /// (rectangular distribution, JCGM 100:2008, 4.3.7).
    pub fn standard_uncertainty(&self) -> f32 {
        0.288_675_13 * (self.max - self.min)
    }

    /// Whether the figure may lie in here.
    pub fn contains(&self, value: f32) -> bool {
        self.min <= value && value <= self.max
    }

    /// The interval of the figure times `factor`.
    pub fn times(&self, factor: f32) -> Self {
        Self::between(self.min * factor, self.max * factor)
    }

    /// The interval of the sum of two independent figures.
    pub fn plus(&self, other: &Self) -> Self {
        Self::new(self.min + other.min, self.max + other.max)
    }
}
