//! The torque bias of each channel, found in free air just before the bolt.
//!
//! At rest joint friction is undetermined within ± Coulomb, so a tare at rest leaves that band in
//! the bias, fully correlated over the run; a tare in slow free motion leaves only the uncertainty
//! of the friction model. Each sample therefore counts by the inverse of its own friction variance.
//!
//! A bias stands still: what the reading spreads about its mean beyond noise and friction is contact,
//! drift or a load that was not what the switches said, and the bias is known no better than that spread.
//! A contact that lasts for the part `p` of the tare moves the mean by `p` of its torque and spreads by
//! `√(p (1 − p))` of it: up to half of the time the spread is the larger, up to four fifths half of it.
//! One that lasts throughout cannot be told from a bias.
//!
//! Bounded: a constant number of operations for each channel and sample; nothing is kept but sums.

use crate::math::{Limited, sqrt};

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
    weighted_square: f32,
    /// Sum of the squares of the weights, and of each over the samples that it stands for.
    square_weight: f32,
    noise_weight: f32,
    last: f32,
    difference_square: f32,
}

/// Fewest samples from which a noise figure is taken.
const NOISE_SAMPLES: u32 = 20;
/// What noise spreads by chance is told from more by so many standard deviations.
const CHANCE_SIGMA: f32 = 3.0;
/// Largest variance of what keeps within a band, in units of that of a uniform distribution over it: half
/// of the time at either end, as friction of a joint that is rocked.
const BAND_ENDS: f32 = 3.0;

impl BiasTare {
    /// Adds one unexplained torque (reading less gravity, inertia and friction), N·m, the mean of so many
    /// samples, with the variance (N²·m²) of the friction estimate in it.
    pub fn add(&mut self, unexplained_nm: f32, friction_variance_nm2: f32, samples: u8) {
        let each = f32::from(samples);
        // A floor keeps a frictionless model from giving one sample all the weight.
        let variance = friction_variance_nm2 + 1e-6;
        let w = each / variance;
        self.weight += w;
        let off = unexplained_nm - self.mean;
        self.mean += off * (w / self.weight);
        self.weighted_square += w * off * (unexplained_nm - self.mean);
        self.weighted_variance += w * variance;
        self.square_weight += w * w;
        self.noise_weight += w / each;
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
        let friction_variance = self.weighted_variance / self.weight;
        Bias {
            bias_nm: self.mean,
            // The friction part does not average out, nor what came and went; the noise part does.
            bias_variance_nm2: friction_variance
                + mean_variance
                + noise_variance_nm2.map_or(0.0, |n| self.unexplained(n, friction_variance)),
            noise_variance_nm2,
        }
    }

    /// Variance of the readings about their mean beyond noise and friction, N²·m².
    fn unexplained(&self, noise_variance_nm2: f32, friction_variance_nm2: f32) -> f32 {
        // Of `n` figures their variance has the relative one 2 / n, half the mean square of their
        // differences 3 / n.
        let chance = sqrt(5.0 * self.square_weight) / self.weight;
        let noise = noise_variance_nm2 * (self.noise_weight / self.weight);
        let explained = noise * (1.0 + CHANCE_SIGMA * chance) + BAND_ENDS * friction_variance_nm2;
        (self.weighted_square / self.weight - explained).at_least(0.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

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

    /// ±0.1 N·m of alternating noise about what `load` gives over 300 samples.
    fn of(load: impl Fn(usize) -> f32, friction_variance_nm2: f32) -> Bias {
        let mut t = BiasTare::default();
        for i in 0..300 {
            let noise = if i % 2 == 0 { 0.1 } else { -0.1 };
            t.add(load(i) + noise, friction_variance_nm2, 1);
        }
        t.result()
    }

    #[test]
    fn a_contact_or_a_drift_within_the_tare_is_in_the_uncertainty() {
        type Load = fn(usize) -> f32;
        // A fifth of the tare, half of it, most of it, and a drift whose end is what counts.
        let cases: [(Load, f32); 4] = [
            (|i| if i < 60 { 40.0 } else { 0.0 }, 0.0),
            (|i| if i < 150 { 4.0 } else { 0.0 }, 0.0),
            (|i| if i < 240 { 4.0 } else { 0.0 }, 0.0),
            (|i| 0.01 * i as f32, 3.0),
        ];
        for (load, true_nm) in cases {
            let r = of(load, 1e-4);
            let off = (r.bias_nm - true_nm).abs() / sqrt(r.bias_variance_nm2);
            assert!(off < 2.1, "{off} standard uncertainties: {r:?}");
        }
    }

    /// Noise alone, and a joint that is rocked between the two ends of its friction band, half width
    /// 0.3 N·m.
    #[test]
    fn noise_and_friction_spread_by_no_more_than_is_known() {
        let still = of(|_| 0.4, 1e-4);
        // The third of 1e-4: of the noise, 0.01 / 300.
        assert!((still.bias_variance_nm2 - 1e-4 - 1e-6 - 2.0 * 0.01 / 300.0).abs() < 1e-6);
        let rocked = of(|i| if i / 50 % 2 == 0 { 0.3 } else { -0.3 }, 0.03);
        assert!((rocked.bias_variance_nm2 - 0.03).abs() < 5e-4, "{rocked:?}");
    }

    #[test]
    fn means_of_several_samples_count_as_those_samples() {
        let mut t = BiasTare::default();
        let mut seed = 5_u64;
        // Uniform, of standard deviation 0.1.
        let mut noise = || {
            seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            ((seed >> 40) as f32 / (1_u64 << 24) as f32 - 0.5) * 0.346_4
        };
        for _ in 0..100 {
            t.add(0.25 * (noise() + noise() + noise() + noise()), 0.0, 4);
        }
        let r = t.result();
        assert!((sqrt(r.noise_variance_nm2.unwrap_or(0.0)) - 0.1).abs() < 0.02);
        assert!(r.bias_variance_nm2 < 4e-5, "{r:?}");
    }
}
