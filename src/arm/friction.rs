//! What joint friction explains, and how sure that is.
//!
//! Coulomb plus viscous friction, `F = Fc·s + Fv·dq`, with the sign of the motion smoothed to
//! `s = clamp(dq / v_t, −1, 1)` (common practice, no source; the transition speed `v_t` is part of the
//! description). Its variance is
//!
//! `u² = (u_Fc·|s|)² + Fc²·(1 − s²)/3 + (u_Fv·dq)²`
//!
//! At standstill the friction may be anything within ±Fc, whatever holds the arm: a uniform
//! distribution, whose variance is a third of its squared half width (JCGM 100:2008, 4.3.7). The middle
//! term is that band, faded out until the direction is sure.

use super::ArmModel;
use crate::math::{Limited, sqrt, within};

/// Faster than any joint turns; keeps the squares finite.
const LARGEST_VELOCITY_RAD_S: f32 = 1e6;

/// The variance of a uniform distribution in units of its squared half width.
const THIRD: f32 = 1.0 / 3.0;

/// Friction torque of each joint.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct FrictionEstimate<const N: usize> {
    /// Torque that each joint must exert to overcome its friction, N·m; the sign of its velocity.
    pub torque_nm: [f32; N],
    /// Square of its standard uncertainty, N²·m².
    pub variance_nm2: [f32; N],
}

impl<const N: usize> FrictionEstimate<N> {
    /// Standard uncertainty of it, N·m.
    pub fn u_nm(&self) -> [f32; N] {
        self.variance_nm2.map(sqrt)
    }
}

impl<const N: usize> ArmModel<N> {
    /// Friction at the joint velocities `velocity_rad_s`, base first. All figures are finite:
    /// velocities are limited to ±10⁶ rad/s, and NaN is read as standstill, where the friction is a band.
    #[inline(never)]
    pub fn friction(&self, velocity_rad_s: &[f32; N]) -> FrictionEstimate<N> {
        let per_transition = 1.0 / self.friction_transition_rad_s;
        let mut estimate = FrictionEstimate {
            torque_nm: [0.0; N],
            variance_nm2: [0.0; N],
        };
        for i in 0..N {
            let (friction, dq) = (&self.friction[i], velocity_rad_s[i]);
            let dq = within(dq, LARGEST_VELOCITY_RAD_S);
            let s = (dq * per_transition).at_most(1.0).at_least(-1.0);
            estimate.torque_nm[i] = friction.coulomb_nm * s + friction.viscous_nm_s_per_rad * dq;
            let moving = friction.coulomb_u_nm * s;
            let band = friction.coulomb_nm * friction.coulomb_nm * (1.0 - s * s) * THIRD;
            let viscous = friction.viscous_u_nm_s_per_rad * dq;
            estimate.variance_nm2[i] = moving * moving + band + viscous * viscous;
        }
        estimate
    }
}
