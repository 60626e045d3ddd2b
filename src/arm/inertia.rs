//! What the joints exert to speed the arm up and slow it down.
//!
//! With the tip as the origin, an acceleration of joint j alone gives all that lies beyond it the linear
//! one `vⱼ` and the angular one `zⱼ` (the parts of the Jacobian's column). Bodies of masses `m` at `r`
//! from the tip, together of mass `M`, first moment `S = Σ m r` and second moments `Θ = Σ m (r²·1 − r rᵀ)`,
//! then need the force `F = M v + z × S` and the moment about the tip `T = S × v + Θ z`; joint i before
//! them bears `vᵢ · F + zᵢ · T` (composite bodies of a serial arm, e.g. Featherstone, *Rigid Body
//! Dynamics Algorithms*, 2008, ch. 6; from memory). The matrix of these is symmetric.
//!
//! Bodies count as points at their centres of mass, for the description holds no more, and the
//! accelerations of steady turning (centripetal, Coriolis) are left out: at hand speeds, below 1 rad/s,
//! they are a tenth of those of a start or stop. [`INERTIA_U`] is meant to cover both.
//!
//! Bounded: N bodies and N (N + 1) / 2 elements.

use core::array::from_fn;
use core::ops::Range;

use super::{ArmModel, ArmPose};
use crate::math::{Vec3, add, cross, dot, rotate, scale, sub, within};

/// Relative standard uncertainty of an inertial torque. Common practice, no source: a slender link
/// of uniform section, turned about its end, has a third more inertia than its mass at the centre.
pub const INERTIA_U: f32 = 0.3;

/// Faster than any joint speeds up; keeps the sums finite.
const LARGEST_ACCELERATION_RAD_S2: f32 = 1e6;

/// Torque of each joint for an acceleration of each, kg·m²: the arm's inertia in one pose.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Inertia<const N: usize> {
    elements_kg_m2: [[f32; N]; N],
    /// Where it is being taken anew: all bodies beyond joint `from`, and which of tool and payload are
    /// among them.
    beyond: Composite,
    from: usize,
    held: (bool, bool),
}

impl<const N: usize> Inertia<N> {
    /// From its elements, row by row.
    pub const fn new(elements_kg_m2: [[f32; N]; N]) -> Self {
        Self {
            elements_kg_m2,
            beyond: Composite::NONE,
            from: N,
            held: (false, false),
        }
    }

    /// The joints of which [`ArmModel::renew_inertia`] will take `rows` rows next, and whose centres of
    /// mass it needs for that.
    pub fn next(&self, rows: usize) -> Range<usize> {
        self.from.saturating_sub(rows)..self.from
    }

    /// Torque of each joint, N·m, that gives the arm `acceleration_rad_s2`, base first. All figures are
    /// finite: accelerations are limited to ±10⁶ rad/s², and NaN is read as 0.
    pub fn torque_nm(&self, acceleration_rad_s2: &[f32; N]) -> [f32; N] {
        let acceleration: [f32; N] =
            from_fn(|i| within(acceleration_rad_s2[i], LARGEST_ACCELERATION_RAD_S2));
        from_fn(|i| {
            let mut sum = 0.0;
            for j in 0..N {
                sum += self.elements_kg_m2[i][j] * acceleration[j];
            }
            sum
        })
    }
}

/// All bodies beyond a joint, about the tip.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
struct Composite {
    mass_kg: f32,
    first: Vec3,
    /// Second moments xx, yy, zz, then products xy, yz, zx.
    squares: Vec3,
    products: Vec3,
}

impl Composite {
    const NONE: Self = Self {
        mass_kg: 0.0,
        first: [0.0; 3],
        squares: [0.0; 3],
        products: [0.0; 3],
    };

    fn join(&mut self, mass_kg: f32, from_tip_m: &Vec3) {
        let [x, y, z] = *from_tip_m;
        let moment = scale(from_tip_m, mass_kg);
        let [mx, my, mz] = moment;
        self.mass_kg += mass_kg;
        self.first = add(&self.first, &moment);
        let [xx, yy, zz] = [mx * x, my * y, mz * z];
        self.squares = add(&self.squares, &[yy + zz, zz + xx, xx + yy]);
        self.products = add(&self.products, &[mx * y, my * z, mz * x]);
    }

    /// Force and moment about the tip for an acceleration, linear and angular.
    fn load(&self, linear: &Vec3, angular: &Vec3) -> (Vec3, Vec3) {
        let [xx, yy, zz] = self.squares;
        let [xy, yz, zx] = self.products;
        let turned = [
            dot(&[xx, -xy, -zx], angular),
            dot(&[-xy, yy, -yz], angular),
            dot(&[-zx, -yz, zz], angular),
        ];
        (
            add(&scale(linear, self.mass_kg), &cross(angular, &self.first)),
            add(&cross(&self.first, linear), &turned),
        )
    }
}

impl<const N: usize> ArmModel<N> {
    /// The arm's inertia in `pose`, with or without tool and payload.
    pub fn inertia(&self, pose: &ArmPose<N>, tool_held: bool, payload_held: bool) -> Inertia<N> {
        let mut inertia = Inertia::new([[0.0; N]; N]);
        self.renew_inertia(&mut inertia, pose, (tool_held, payload_held), N);
        inertia
    }

    /// Force in N and moment in N·m about the tip that move tool and payload, as far as the pose holds
    /// them: linear acceleration of the tip in m/s², angular in rad/s², all in the base frame. What carries
    /// them accelerates them against gravity.
    pub fn held_load(&self, pose: &ArmPose<N>, linear: &Vec3, angular: &Vec3) -> (Vec3, Vec3) {
        let mut held = Composite::NONE;
        for (body, is_held) in [(self.tool(), pose.held.0), (&self.payload, pose.held.1)] {
            if is_held {
                held.join(body.mass_kg, &rotate(&pose.tip.rotation, &body.com_m));
            }
        }
        held.load(linear, angular)
    }

    /// Takes the next `rows` rows of the inertia anew, the outermost joint's first; after joint 0 it
    /// begins again, as it does where tool or payload (`held`) were taken or let go. `pose` must have the
    /// centres of mass of [`Inertia::next`]. The rows of one turn come from poses that are some samples
    /// apart: at hand speeds that is well within [`INERTIA_U`].
    #[inline(never)]
    pub fn renew_inertia(
        &self,
        inertia: &mut Inertia<N>,
        pose: &ArmPose<N>,
        held: (bool, bool),
        rows: usize,
    ) {
        let tip_m = &pose.tip.translation_m;
        let Inertia {
            elements_kg_m2,
            beyond,
            from,
            ..
        } = inertia;
        if *from == N {
            *beyond = Composite::NONE;
            inertia.held = held;
            for (body, held) in [(self.tool(), held.0), (&self.payload, held.1)] {
                if held {
                    beyond.join(body.mass_kg, &rotate(&pose.tip.rotation, &body.com_m));
                }
            }
        }
        // Never more than N: said so that no panic is linked.
        let until = (*from).min(N);
        for i in (until.saturating_sub(rows)..until).rev() {
            let mass_kg = self.chain.hops[i].link.mass_kg;
            beyond.join(mass_kg, &sub(&pose.com_m[i], tip_m));
            let (linear, angular) = parts(&pose.jacobian[i]);
            let (force_n, moment_nm) = beyond.load(&linear, &angular);
            for j in 0..=i {
                let (linear, angular) = parts(&pose.jacobian[j]);
                let element = dot(&linear, &force_n) + dot(&angular, &moment_nm);
                elements_kg_m2[i][j] = element;
                elements_kg_m2[j][i] = element;
            }
        }
        *from = until.saturating_sub(rows);
        if *from == 0 || inertia.held != held {
            *from = N;
        }
    }
}

/// Linear and angular part of a column of the Jacobian.
fn parts(column: &[f32; 6]) -> (Vec3, Vec3) {
    let [vx, vy, vz, wx, wy, wz] = *column;
    ([vx, vy, vz], [wx, wy, wz])
}
