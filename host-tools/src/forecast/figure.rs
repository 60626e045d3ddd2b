//! One figure of a forecast: what it is, how it was reckoned, and who says so.

use bolting_monitor::fastener::Band;
use serde::Serialize;

pub use crate::words::number;

/// One figure. Its interval is what the description leaves open, not a measuring uncertainty.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Figure {
    /// Name in snake case, without the unit.
    pub figure: &'static str,
    /// The same for people.
    pub name: &'static str,
    /// Expected value, where it is told apart from the interval.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub value: Option<f32>,
    /// Standard uncertainty of the expected value (coverage factor 1).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub u: Option<f32>,
    /// Lower end.
    pub min: f32,
    /// Upper end; the lower one again where the figure is exact.
    pub max: f32,
    /// Unit of all of them; empty for a plain number.
    pub unit: &'static str,
    /// The formula in short; empty where it is read off.
    pub formula: &'static str,
    /// The standard or table, or whether it is stated, from memory, or common practice.
    pub source: String,
}

impl Figure {
    /// A figure between two ends.
    pub fn band(name: [&'static str; 2], band: Band, unit: &'static str) -> Self {
        Self {
            figure: name[0],
            name: name[1],
            value: None,
            u: None,
            min: band.min,
            max: band.max,
            unit,
            formula: "",
            source: String::new(),
        }
    }

    /// An exact figure.
    pub fn exact(name: [&'static str; 2], value: f32, unit: &'static str) -> Self {
        Self::band(name, Band::exact(value), unit)
    }

    /// With its formula.
    pub fn by(self, formula: &'static str) -> Self {
        Self { formula, ..self }
    }

    /// With its source.
    pub fn from(self, source: impl Into<String>) -> Self {
        Self {
            source: source.into(),
            ..self
        }
    }

    /// The figure as people read it, with its unit.
    pub fn words(&self) -> String {
        let mut words = if self.min == self.max {
            number(self.min)
        } else {
            format!("{} to {}", number(self.min), number(self.max))
        };
        if let Some((value, u)) = self.value.zip(self.u) {
            words = format!("{} ± {} (k = 1), {words}", number(value), number(u));
        }
        with_unit(&words, self.unit)
    }
}

/// Words with their unit behind them.
pub fn with_unit(words: &str, unit: &str) -> String {
    match unit {
        "" => words.to_owned(),
        "°" => format!("{words}°"),
        unit => format!("{words} {unit}"),
    }
}

/// A figure that the description does not tell.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Untold {
    /// What is missing or wider than it need be.
    pub figures: &'static str,
    /// The key that would tell it.
    pub state: &'static str,
}

#[cfg(test)]
mod tests {
    use super::number;

    #[test]
    fn four_digits_and_no_idle_zeros() {
        for (x, text) in [
            (1.5, "1.5"),
            (57.989_9, "57.99"),
            (0.125_37, "0.1254"),
            (46_391.9, "46392"),
            (-9.026_2, "-9.026"),
            (0.0, "0"),
            (480.0, "480"),
        ] {
            assert_eq!(number(x), text);
        }
    }
}
