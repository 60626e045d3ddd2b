//! The torque bias of each channel, found in free air just before the bolt.
//!
//! At rest joint friction is undetermined within ± Coulomb, so a tare at rest leaves that band in
//! the bias, fully correlated over the run; a tare in slow free motion leaves only the uncertainty
//! of the friction model. Each sample therefore counts by the inverse of its own friction variance.
//! Bounded: a constant number of operations for each channel and sample; nothing is kept but sums.

/// What a tare found for one channel.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Bias {
    /// Bias to be subtracted from the reading, N·m.
    pub bias_nm: f32,
    /// Square of its standard uncertainty, N²·m².
    pub bias_variance_nm2: f32,
    /// Variance of the white noise of one sample, N²·m², from successive differences; `None` below
    /// 20 samples.
    pub noise_variance_nm2: Option<f32>,
}

/// Running tare of one channel.
#[derive(Clone, Copy, Debug, Default)]
pub struct BiasTare {
    count: u32,
    weight: f32,
    mean: f32,
    weighted_variance: f32,
    last: f32,
    difference_square: f32,
}

/// Fewest samples from which a noise figure is taken.
const NOISE_SAMPLES: u32 = 20;

impl BiasTare {
    /// Adds one unexplained torque (reading less gravity and friction), N·m, the mean of so many
    /// samples, with the variance (N²·m²) of the friction estimate in it.
    pub fn add(&mut self, unexplained_nm: f32, friction_variance_nm2: f32, samples: u8) {
        let each = f32::from(samples);
        // A floor keeps a frictionless model from giving one sample all the weight.
        let variance = friction_variance_nm2 + 1e-6;
        let w = each / variance;
        self.weight += w;
        self.mean += (unexplained_nm - self.mean) * (w / self.weight);
        self.weighted_variance += w * variance;
        if self.count > 0 {
            let d = unexplained_nm - self.last;
            // A mean has a part of a sample's noise, and stands for so many samples.
            self.difference_square += d * d * each * each;
        }
        self.last = unexplained_nm;
        self.count = self.count.saturating_add(samples.into());
    }

    /// Number of samples added.
    pub fn count(&self) -> u32 {
        self.count
    }

    /// The result so far; all zero when nothing was added.
    pub fn result(&self) -> Bias {
        if self.count == 0 {
            return Bias::default();
        }
        let noise_variance_nm2 = (self.count >= NOISE_SAMPLES)
            .then(|| self.difference_square / (2.0 * (self.count - 1) as f32));
        let mean_variance = noise_variance_nm2.map_or(0.0, |n| n / self.count as f32);
        Bias {
            bias_nm: self.mean,
            // The friction part does not average out; the noise part does.
            bias_variance_nm2: self.weighted_variance / self.weight + mean_variance,
            noise_variance_nm2,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::sqrt;

    #[test]
    fn a_tare_at_rest_keeps_the_friction_band_however_long_it_lasts() {
        let mut t = BiasTare::default();
        for i in 0..5000 {
            t.add(0.4 + if i % 2 == 0 { 0.05 } else { -0.05 }, 0.17 * 0.17, 1);
        }
        let r = t.result();
        assert!((r.bias_nm - 0.4).abs() < 1e-3);
        assert!((sqrt(r.bias_variance_nm2) - 0.17).abs() < 0.002);
    }

    #[test]
    fn moving_samples_outweigh_samples_at_rest() {
        let mut t = BiasTare::default();
        for _ in 0..100 {
            t.add(0.5, 0.04, 1);
            t.add(0.3, 0.0004, 1);
        }
        assert!((t.result().bias_nm - 0.3).abs() < 0.005);
    }

    #[test]
    fn noise_comes_from_successive_differences_so_a_drift_does_not_count() {
        let mut t = BiasTare::default();
        for i in 0..1000 {
            let alternating = if i % 2 == 0 { 0.1 } else { -0.1 };
            t.add(alternating + i as f32 * 1e-3, 0.0, 1);
        }
        // Differences of ±0.2: mean square 0.04, half of it is 0.02.
        let n = sqrt(t.result().noise_variance_nm2.unwrap_or(0.0));
        assert!((n - 0.1414).abs() < 0.002, "{n}");
    }
}
