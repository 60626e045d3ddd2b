//! The one figure the rest of the street reads of the wrench.

/// Moment about the bolt axis with its uncertainty, one sample.
///
/// The two parts of the uncertainty behave differently: noise averages out over samples,
/// everything else (friction band, bias, gravity, prior) stays for the whole run.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct AxialTorque {
    /// Moment that the tool exerts on the bolt, N·m, positive about the axis.
    pub value_nm: f32,
    /// White part of its standard uncertainty, one sample, N·m.
    pub noise_nm: f32,
    /// The part that does not average out, N·m.
    pub systematic_u_nm: f32,
    /// `false` where the readings cannot tell the torque; the value must then not be shown.
    pub observable: bool,
    /// What the readings contradict each other by, in units of what they should (about 1). Always
    /// 0 where nothing is redundant, that is for up to six of them, whatever the prior says.
    pub residual_ratio: f32,
}

impl AxialTorque {
    /// Combined standard uncertainty of one sample, N·m (JCGM 100, 5.1.2).
    pub fn u_nm(&self) -> f32 {
        crate::math::sqrt(
            self.noise_nm * self.noise_nm + self.systematic_u_nm * self.systematic_u_nm,
        )
    }
}
