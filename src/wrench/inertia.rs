//! What the arm's own acceleration explains of the joint torques, and how sure that is.

use crate::arm::{INERTIA_U, Inertia};
use crate::math::Limited;

/// Time constant of each of the two stages that take accelerations from velocities, s. Noise `σ` of
/// the velocities at steps `dt` leaves `σ √(dt / 4T³)`: 0.016 rad/s² of 0.001 rad/s at 1 kHz.
const STAGE_S: f32 = 0.01;
/// Time for which an acceleration still leaves its uncertainty, s: as long as the two stages lag.
const LINGERS_S: f32 = 2.0 * STAGE_S;
/// What the stages may miss of a start or stop, standard uncertainty as a part of it: one that comes
/// on over 0.04 s, as a hand's does, is followed with a third of it missing on the way.
const FOLLOWING_U: f32 = 0.3;

/// Standard uncertainty of an inertial torque as a part of the largest of late: the root of
/// [`INERTIA_U`]² + [`FOLLOWING_U`]².
pub(super) const U: f32 = 0.424_264_07;
const _: () = assert!(
    (U * U - INERTIA_U * INERTIA_U - FOLLOWING_U * FOLLOWING_U).abs() < 1e-6,
    "U is the root of both"
);

/// Inertial torque of each joint.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct InertiaEstimate<const N: usize> {
    /// Torque that speeds the arm up, N·m.
    pub torque_nm: [f32; N],
    /// Standard uncertainty of it, N·m.
    pub u_nm: [f32; N],
    /// Acceleration of each joint, rad/s².
    pub acceleration_rad_s2: [f32; N],
    /// Part of what was a sample ago that still leaves its uncertainty.
    pub fades: f32,
}

impl<const N: usize> InertiaEstimate<N> {
    /// That of an arm which stands or turns steadily.
    pub const NONE: Self = Self {
        torque_nm: [0.0; N],
        u_nm: [0.0; N],
        acceleration_rad_s2: [0.0; N],
        fades: 0.0,
    };
}

/// Follows the accelerations of the joints.
#[derive(Clone, Copy, Debug)]
pub struct InertiaTracker<const N: usize> {
    inertia: Inertia<N>,
    /// Velocities after the first stage; the second gives the acceleration.
    smooth_rad_s: Option<[f32; N]>,
    acceleration_rad_s2: [f32; N],
    /// Largest inertial torque of late, N·m.
    lately_nm: [f32; N],
}

impl<const N: usize> Default for InertiaTracker<N> {
    fn default() -> Self {
        Self {
            inertia: Inertia::new([[0.0; N]; N]),
            smooth_rad_s: None,
            acceleration_rad_s2: [0.0; N],
            lately_nm: [0.0; N],
        }
    }
}

impl<const N: usize> InertiaTracker<N> {
    /// The arm's inertia as far as it was taken: to be taken anew row by row, for it changes with the pose,
    /// by some percent within some tens of milliseconds at hand speeds, and is known to no better than
    /// [`INERTIA_U`]. None before the first turn: accelerations are not known before either.
    pub fn inertia_mut(&mut self) -> &mut Inertia<N> {
        &mut self.inertia
    }

    /// Takes in the velocities of a sample, `dt_s` after the one before.
    #[inline(never)]
    pub fn update(&mut self, velocity_rad_s: &[f32; N], dt_s: f32) -> InertiaEstimate<N> {
        let smooth = self.smooth_rad_s.get_or_insert(*velocity_rad_s);
        if dt_s > 0.0 {
            let share = dt_s / (dt_s + STAGE_S);
            let per_s = 1.0 / dt_s;
            for i in 0..N {
                let step = (velocity_rad_s[i] - smooth[i]) * share;
                smooth[i] += step;
                let acceleration = &mut self.acceleration_rad_s2[i];
                *acceleration += (step * per_s - *acceleration) * share;
            }
        }
        let torque_nm = self.inertia.torque_nm(&self.acceleration_rad_s2);
        let fades = LINGERS_S / (LINGERS_S + dt_s.at_least(0.0));
        let mut u_nm = [0.0; N];
        for i in 0..N {
            let lately_nm = torque_nm[i].abs().at_least(self.lately_nm[i] * fades);
            self.lately_nm[i] = lately_nm;
            u_nm[i] = U * lately_nm;
        }
        InertiaEstimate {
            torque_nm,
            u_nm,
            acceleration_rad_s2: self.acceleration_rad_s2,
            fades,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::sqrt;

    fn tracker(inertia_kg_m2: f32) -> InertiaTracker<1> {
        let mut tracker = InertiaTracker::default();
        *tracker.inertia_mut() = Inertia::new([[inertia_kg_m2]]);
        tracker
    }

    /// One joint of 2 kg·m²: the torque is twice the acceleration.
    fn play(velocity_rad_s: impl Fn(f32) -> f32, samples: usize) -> InertiaEstimate<1> {
        let mut tracker = tracker(2.0);
        let mut last = InertiaEstimate::NONE;
        for i in 0..samples {
            let v = velocity_rad_s(i as f32 * 1e-3);
            last = tracker.update(&[v], 1e-3);
        }
        last
    }

    #[test]
    fn a_steady_acceleration_is_told_and_a_steady_speed_is_none() {
        let speeding = play(|t| 3.0 * t, 300);
        assert!((speeding.torque_nm[0] - 6.0).abs() < 0.01, "{speeding:?}");
        assert!((speeding.u_nm[0] - 6.0 * 0.424).abs() < 0.01);
        let steady = play(|_| 3.0, 300);
        assert_eq!((steady.torque_nm, steady.u_nm), ([0.0], [0.0]));
    }

    /// A hand that comes to rest within 0.08 s from 0.5 rad/s: at every moment the error is within
    /// two standard uncertainties and what a filter must miss, and once all is quiet nothing is left of either.
    #[test]
    fn the_uncertainty_covers_what_a_stop_hides() {
        let speed = |t: f32| {
            let x = ((t - 0.2) / 0.08).clamp(0.0, 1.0);
            0.5 * (1.0 - x * x * (3.0 - 2.0 * x))
        };
        let mut tracker = tracker(2.0);
        let mut worst = 0.0_f32;
        for i in 0..600 {
            let t = i as f32 * 1e-3;
            let got = tracker.update(&[speed(t)], 1e-3);
            let truth = 2.0 * (speed(t + 5e-4) - speed(t - 5e-4)) / 1e-3;
            worst = worst.max((got.torque_nm[0] - truth).abs() - 2.0 * got.u_nm[0]);
        }
        // The first 10 ms of a stop are ahead of the stages: up to two fifths of its peak of 18.8 N·m.
        assert!(worst < 7.5, "{worst}");
        let rest = play(speed, 900);
        assert!(rest.torque_nm[0].abs() < 1e-3 && rest.u_nm[0] < 1e-3);
    }

    /// `σ √(dt / 4T³)` with σ = 0.001 rad/s: 0.016 rad/s² at 1 kHz.
    #[test]
    fn noise_of_the_velocities_stays_small() {
        let mut seed = 1_u64;
        let mut tracker = tracker(1.0);
        let mut square = 0.0;
        for i in 0..20_000 {
            seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            // Uniform, of standard deviation 0.001.
            let noise = ((seed >> 40) as f32 / (1_u64 << 24) as f32 - 0.5) * 3.464e-3;
            let got = tracker.update(&[noise], 1e-3);
            if i >= 1000 {
                square += got.torque_nm[0] * got.torque_nm[0];
            }
        }
        let sigma = sqrt(square / 19_000.0);
        assert!((sigma / 0.0158 - 1.0).abs() < 0.1, "{sigma}");
    }
}
