//! A powered spindle as the source of the torque.

use crate::math::sqrt;
use crate::procedure::Sensing;

use super::axial::AxialTorque;
use super::tare::{Bias, BiasTare};

/// Samples at rest below which a spindle tare is not trusted.
const TARE_SAMPLES: u32 = 20;
/// A spindle that moved by more than this since the start is no longer at rest, rad (0.5°).
const AT_REST_RAD: f32 = 0.0087;

/// Torque of a powered spindle: reading less bias, with the stated uncertainties.
#[derive(Clone, Debug)]
pub struct SpindleTorque {
    scale_u: f32,
    zero_u_nm: f32,
    stated_noise_nm: Option<f32>,
    unknown_noise_nm: f32,
    tare: BiasTare,
    start_rad: Option<f32>,
    bias: Bias,
}

impl SpindleTorque {
    /// `unknown_noise_nm` stands in where the noise is neither stated nor seen at rest.
    pub fn new(sensing: &Sensing, unknown_noise_nm: f32) -> Self {
        Self {
            scale_u: sensing.spindle_scale_u,
            zero_u_nm: sensing.spindle_zero_u_nm,
            stated_noise_nm: sensing.spindle_noise_nm,
            unknown_noise_nm,
            tare: BiasTare::default(),
            start_rad: None,
            bias: Bias::default(),
        }
    }

    /// Takes over the tare that another has made.
    pub fn adopt_tare(&mut self, other: &Self) {
        self.bias = other.bias;
    }

    /// Adds a reading, the mean of so many samples, to the tare as long as the spindle has not moved; says whether it did not.
    pub fn tare(&mut self, angle_rad: f32, torque_nm: f32, samples: u8) -> bool {
        let start = *self.start_rad.get_or_insert(angle_rad);
        if (angle_rad - start).abs() > AT_REST_RAD {
            return false;
        }
        self.tare.add(torque_nm, 0.0, samples);
        if self.tare.count() >= TARE_SAMPLES {
            self.bias = self.tare.result();
        }
        true
    }

    /// The torque of one reading, the mean of so many samples.
    pub fn axial_torque(&self, torque_nm: f32, samples: u8) -> AxialTorque {
        let value_nm = torque_nm - self.bias.bias_nm;
        let scale = self.scale_u * value_nm;
        let zero = self.zero_u_nm;
        let noise_nm = (self.stated_noise_nm)
            .or(self.bias.noise_variance_nm2.map(sqrt))
            .unwrap_or(self.unknown_noise_nm);
        AxialTorque {
            value_nm,
            noise_nm: noise_nm / sqrt(f32::from(samples)),
            systematic_u_nm: sqrt(scale * scale + zero * zero + self.bias.bias_variance_nm2),
            observable: true,
            residual_ratio: 0.0,
        }
    }
}
