//! Statistics of a campaign.

/// The value below which the part `p` of the values lies (nearest rank).
pub(crate) fn quantile(mut values: Vec<f64>, p: f64) -> f64 {
    if values.is_empty() {
        return f64::NAN;
    }
    values.sort_by(f64::total_cmp);
    let rank = (p * values.len() as f64).ceil() as usize;
    values[rank.clamp(1, values.len()) - 1]
}

/// Root of the mean square.
pub(crate) fn rms(values: impl Iterator<Item = f64>) -> f64 {
    let (n, square) = values.fold((0_usize, 0.0), |(n, s), x| (n + 1, s + x * x));
    (square / n as f64).sqrt()
}

/// Some of many.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Share {
    pub hits: usize,
    pub of: usize,
}

impl Share {
    /// Of these, the ones that are so.
    pub fn of<T>(all: impl IntoIterator<Item = T>, so: impl Fn(&T) -> bool) -> Self {
        all.into_iter().fold(Self::default(), |share, x| Self {
            hits: share.hits + usize::from(so(&x)),
            of: share.of + 1,
        })
    }

    pub fn percent(&self) -> f64 {
        100.0 * self.hits as f64 / self.of as f64
    }

    /// Wilson interval (95 %), percent (Wilson 1927).
    pub fn interval(&self) -> (f64, f64) {
        if self.of == 0 {
            return (f64::NAN, f64::NAN);
        }
        let (n, z) = (self.of as f64, 1.96_f64);
        let p = self.hits as f64 / n;
        let middle = (p + z * z / (2.0 * n)) / (1.0 + z * z / n);
        let half = z / (1.0 + z * z / n) * (p * (1.0 - p) / n + z * z / (4.0 * n * n)).sqrt();
        (
            100.0 * (middle - half).max(0.0),
            100.0 * (middle + half).min(1.0),
        )
    }
}

impl std::fmt::Display for Share {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        if self.of == 0 {
            return f.write_str("none to tell");
        }
        let (low, high) = self.interval();
        write!(
            f,
            "{} of {} = {:.1} % ({low:.1} to {high:.1})",
            self.hits,
            self.of,
            self.percent()
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Figures worked out by hand from the closed form: 0 of 10 gives z²/(n + z²).
    #[test]
    fn interval_is_that_of_the_closed_form() {
        let (low, high) = Share { hits: 0, of: 10 }.interval();
        assert_eq!(low, 0.0);
        assert!((high - 100.0 * 3.8416 / 13.8416).abs() < 1e-9);
        let (low, high) = Share { hits: 5, of: 10 }.interval();
        assert!((low + high - 100.0).abs() < 1e-9 && low > 23.0 && low < 24.0);
    }

    #[test]
    fn quantile_takes_the_nearest_rank() {
        let values: Vec<f64> = (1..=20).rev().map(f64::from).collect();
        assert_eq!(quantile(values.clone(), 0.5), 10.0);
        assert_eq!(quantile(values.clone(), 0.95), 19.0);
        assert_eq!(quantile(values, 1.0), 20.0);
        assert!(quantile(vec![], 0.5).is_nan());
    }
}
