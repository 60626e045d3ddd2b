//! What the joints exert to speed the arm up and slow it down.
//!
//! With the tip as the origin, the joint accelerations `ddq` give the tip the acceleration
//! `A = Σ vⱼ ddqⱼ` and the angular one `α = Σ zⱼ ddqⱼ` (`v`, `z`: the linear and angular part of the
//! Jacobian), both summed up to the joint before a body; a body of mass `m` at `r` from the tip then
//! needs the force `F = m (A + α × r)`. Joint i bears all forces beyond it: `τᵢ = vᵢ · ΣF + zᵢ · Σ r × F`
//! (the usual recursion of a serial arm, e.g. Siciliano, Sciavicco, Villani, Oriolo, *Robotics:
//! Modelling, Planning and Control*, 2009, ch. 7; from memory).
//!
//! Bodies count as points at their centres of mass, for the description holds no more, and the
//! accelerations of steady turning (centripetal, Coriolis) are left out: at hand speeds, below 1 rad/s,
//! they are a tenth of those of a start or stop. [`INERTIA_U`] is meant to cover both.

use super::{ArmModel, ArmPose, Body};
use crate::math::{Vec3, add, cross, dot, rotate, scale, sub};

/// Relative standard uncertainty of an inertial torque. Common practice, no source: a slender link
/// of uniform section, turned about its end, has a third more inertia than its mass at the centre.
pub const INERTIA_U: f32 = 0.3;

/// Faster than any joint speeds up; keeps the sums finite.
const LARGEST_ACCELERATION_RAD_S2: f32 = 1e6;

/// Forces and moments about the tip that the bodies beyond a joint need.
#[derive(Clone, Copy, Default)]
struct Load {
    force_n: Vec3,
    moment_nm: Vec3,
}

impl Load {
    fn bear(&mut self, mass_kg: f32, from_tip_m: &Vec3, tip: &Acceleration) {
        let turning = cross(&tip.angular, from_tip_m);
        let force_n = scale(&add(&tip.linear, &turning), mass_kg);
        self.force_n = add(&self.force_n, &force_n);
        self.moment_nm = add(&self.moment_nm, &cross(from_tip_m, &force_n));
    }
}

/// Of a link, given at the tip: m/s² and rad/s².
#[derive(Clone, Copy, Default)]
struct Acceleration {
    linear: Vec3,
    angular: Vec3,
}

impl<const N: usize> ArmModel<N> {
    /// Torque of each joint, N·m, that accelerates the arm in `pose` by `acceleration_rad_s2`, base
    /// first. All figures are finite: accelerations are limited to ±10⁶ rad/s², and NaN is read as 0.
    pub fn inertia_nm(
        &self,
        pose: &ArmPose<N>,
        acceleration_rad_s2: &[f32; N],
        tool_held: bool,
        payload_held: bool,
    ) -> [f32; N] {
        let tip_m = &pose.tip.translation_m;
        let mut moved = Acceleration::default();
        let mut links = [Load::default(); N];
        for ((((hop, column), com_m), acceleration), link) in self
            .chain
            .hops
            .iter()
            .zip(&pose.jacobian)
            .zip(&pose.com_m)
            .zip(acceleration_rad_s2)
            .zip(&mut links)
        {
            let most = LARGEST_ACCELERATION_RAD_S2;
            let acceleration = if acceleration.is_nan() {
                0.0
            } else {
                acceleration.clamp(-most, most)
            };
            let (linear, angular) = parts(column);
            moved.linear = add(&moved.linear, &scale(&linear, acceleration));
            moved.angular = add(&moved.angular, &scale(&angular, acceleration));
            link.bear(hop.link.mass_kg, &sub(com_m, tip_m), &moved);
        }
        let mut sum = Load::default();
        let mut hand = |body: &Body, held: bool| {
            if held && body.mass_kg > 0.0 {
                sum.bear(
                    body.mass_kg,
                    &rotate(&pose.tip.rotation, &body.com_m),
                    &moved,
                );
            }
        };
        hand(self.tool(), tool_held);
        hand(&self.payload, payload_held);
        let mut torque_nm = [0.0; N];
        for ((torque_nm, link), column) in
            torque_nm.iter_mut().zip(&links).zip(&pose.jacobian).rev()
        {
            sum.force_n = add(&sum.force_n, &link.force_n);
            sum.moment_nm = add(&sum.moment_nm, &link.moment_nm);
            let (linear, angular) = parts(column);
            *torque_nm = dot(&linear, &sum.force_n) + dot(&angular, &sum.moment_nm);
        }
        torque_nm
    }
}

/// Linear and angular part of a column of the Jacobian.
fn parts(column: &[f32; 6]) -> (Vec3, Vec3) {
    let [vx, vy, vz, wx, wy, wz] = *column;
    ([vx, vy, vz], [wx, wy, wz])
}
