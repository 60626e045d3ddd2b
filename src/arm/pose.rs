//! Where the tip is, how the joints move it, and what gravity asks of them.
//!
//! The usual relations of a serial arm (e.g. Siciliano, Sciavicco, Villani, Oriolo, *Robotics:
//! Modelling, Planning and Control*, 2009, ch. 2, 3 and 7; from memory): with `zᵢ` the axis of joint
//! i and `pᵢ` a point on it in the base frame,
//!
//! - Jacobian column of the tip: linear `zᵢ × (p_tip − pᵢ)`, angular `zᵢ`;
//! - holding torque: the bodies beyond joint i, of total mass `Mᵢ` and first moment `Sᵢ = Σ m c`, pull
//!   with the moment `(Sᵢ − Mᵢ pᵢ) × g` about it, so `gᵢ = −zᵢ · ((Sᵢ − Mᵢ pᵢ) × g)`.
//!
//! `S` is what all bodies have less what those before the joint have, so gravity costs one more step
//! per joint and no second walk along the arm; of `M` only what is held in the hand is left, see
//! `chain.rs`. Bounded: loops over the joints only, the same work in every pose.

use core::ops::Range;

use super::{ArmModel, Transform};
use crate::math::{Vec3, add, cross, dot, mat_mul, rotate, scale, sin_cos, sub, transposed};

/// Angle beyond which a joint reading is no position, rad: there f32 tells it to no better than 0.001, and
/// the sine follows to the same. A joint within 100 rad, as every real one is, has the sine's full accuracy.
const LARGEST_POSITION_RAD: f32 = 1e4;

/// The arm in one pose.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ArmPose<const N: usize> {
    /// Tip frame in the base frame.
    pub tip: Transform,
    /// Velocity of the tip per velocity of each joint: column i holds the linear x, y, z of the tip
    /// origin (m/rad) and then the angular x, y, z (rad/rad), base frame.
    pub jacobian: [[f32; 6]; N],
    /// Torque that each joint must exert to hold the arm against gravity, N·m.
    pub gravity_nm: [f32; N],
    /// Centre of mass of each link that was asked for, m, base frame; 0 of the others.
    pub com_m: [[f32; 3]; N],
    /// Whether tool and payload hang on it.
    pub held: (bool, bool),
}

impl<const N: usize> ArmPose<N> {
    /// A place for one, all zero: so it takes a third of what a copy does.
    pub const NONE: Self = Self {
        tip: Transform {
            rotation: [[0.0; 3]; 3],
            translation_m: [0.0; 3],
        },
        jacobian: [[0.0; 6]; N],
        gravity_nm: [0.0; N],
        com_m: [[0.0; 3]; N],
        held: (false, false),
    };
}

impl<const N: usize> ArmModel<N> {
    /// The arm with its joints at `position_rad`, base first, with or without the weight of the tool
    /// and of the payload. All figures are finite: a position that is not, or is beyond ±10⁴ rad, is
    /// read as 0.
    pub fn pose(&self, position_rad: &[f32; N], tool_held: bool, payload_held: bool) -> ArmPose<N> {
        let mut pose = ArmPose::NONE;
        self.pose_into(&mut pose, position_rad, (tool_held, payload_held), &(0..N));
        pose
    }

    /// As [`ArmModel::pose`], into a pose that is there already, whose centres of mass are left as they
    /// are but for some links: just the inertia asks for them. `held`: tool and payload.
    // Alone: among all else that a sample needs the registers do not do.
    #[inline(never)]
    pub fn pose_into(
        &self,
        pose: &mut ArmPose<N>,
        position_rad: &[f32; N],
        (tool_held, payload_held): (bool, bool),
        centres: &Range<usize>,
    ) {
        let [mut x, mut y, mut z] = transposed(&self.chain.start);
        let mut at_m = [0.0; 3];
        let mut sum_kg_m = [0.0; 3];
        // Of each joint: origin and axis, where its column will be, and the first moment of all links
        // before it.
        let mut before_kg_m = [[0.0; 3]; N];
        for i in 0..N {
            let hop = &self.chain.hops[i];
            let q = if position_rad[i].abs() <= LARGEST_POSITION_RAD {
                position_rad[i]
            } else {
                0.0
            };
            let [dx, dy, dz] = hop.step_m;
            at_m = add(&at_m, &add(&sum(&x, dx, &y, dy), &scale(&z, dz)));
            let (sin, cos) = hop.tilt;
            let tilted = sum(&y, cos, &z, sin);
            z = sum(&z, cos, &y, -sin);
            let (sin, cos) = sin_cos(q + hop.offset_rad);
            y = sum(&tilted, cos, &x, -sin);
            x = sum(&x, cos, &tilted, sin);
            pose.jacobian[i] = [at_m[0], at_m[1], at_m[2], z[0], z[1], z[2]];
            before_kg_m[i] = sum_kg_m;
            let [mx, my] = hop.moment_kg_m;
            sum_kg_m = add(&sum_kg_m, &sum(&x, mx, &y, my));
            if centres.contains(&i) {
                let [cx, cy, cz] = hop.link.com_m;
                pose.com_m[i] = add(&at_m, &add(&sum(&x, cx, &y, cy), &scale(&z, cz)));
            }
        }
        let last = Transform {
            rotation: transposed(&[x, y, z]),
            translation_m: at_m,
        };
        pose.tip = Transform {
            rotation: mat_mul(&last.rotation, &self.chain.tip.rotation),
            translation_m: last.point(&self.chain.tip.translation_m),
        };

        let tip = pose.tip;
        pose.held = (tool_held, payload_held);
        let (mut held_kg, mut held_kg_m) = (0.0, [0.0; 3]);
        for (body, held) in [(self.tool(), tool_held), (&self.payload, payload_held)] {
            if held {
                held_kg += body.mass_kg;
                held_kg_m = add(&held_kg_m, &scale(&body.com_m, body.mass_kg));
            }
        }
        let all_kg_m = add(
            &sum_kg_m,
            &add(
                &scale(&tip.translation_m, held_kg),
                &rotate(&tip.rotation, &held_kg_m),
            ),
        );
        let gravity = self.gravity_m_s2();
        for (column, (gravity_nm, before_kg_m)) in
            (pose.jacobian.iter_mut()).zip(pose.gravity_nm.iter_mut().zip(&before_kg_m))
        {
            let [px, py, pz, wx, wy, wz] = *column;
            let (origin_m, axis) = ([px, py, pz], [wx, wy, wz]);
            let [vx, vy, vz] = cross(&axis, &sub(&tip.translation_m, &origin_m));
            *column = [vx, vy, vz, wx, wy, wz];
            let beyond_kg_m = sub(&all_kg_m, before_kg_m);
            let lever_kg_m = sub(&beyond_kg_m, &scale(&origin_m, held_kg));
            // −z · (s × g), turned round.
            *gravity_nm = dot(&lever_kg_m, &cross(&axis, gravity));
        }
    }
}

/// `s·a + t·b`.
fn sum(a: &Vec3, s: f32, b: &Vec3, t: f32) -> Vec3 {
    add(&scale(a, s), &scale(b, t))
}
