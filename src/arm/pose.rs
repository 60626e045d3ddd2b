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
//! `M` and `S` are summed from the tip back, so gravity costs one more step per joint and no second
//! walk along the arm.

use super::{ArmModel, Transform};
use crate::math::{add, axis_rotation, cross, dot, mat_mul, rotate, scale, sub};

/// Turns beyond which a joint reading is no position; also keeps the sine in its stated range.
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
    /// Centre of mass of each link, m, base frame.
    pub com_m: [[f32; 3]; N],
}

impl<const N: usize> ArmModel<N> {
    /// The arm with its joints at `position_rad`, base first, with or without the weight of the tool
    /// and of the payload. All figures are finite: a position that is not, or is beyond ±10⁴ rad, is
    /// read as 0.
    pub fn pose(&self, position_rad: &[f32; N], tool_held: bool, payload_held: bool) -> ArmPose<N> {
        let description = self.description();
        let mut axis = [[0.0; 3]; N];
        let mut origin_m = [[0.0; 3]; N];
        let mut com_m = [[0.0; 3]; N];

        let mut frame = Transform::IDENTITY;
        for ((((joint, q), axis), origin_m), com_m) in self
            .joints()
            .iter()
            .zip(position_rad)
            .zip(&mut axis)
            .zip(&mut origin_m)
            .zip(&mut com_m)
        {
            let q = if q.abs() <= LARGEST_POSITION_RAD {
                *q
            } else {
                0.0
            };
            let at_zero = mat_mul(&frame.rotation, &joint.origin.rotation);
            *origin_m = frame.point(&joint.origin.translation_m);
            // The joint's own rotation leaves its axis where it is.
            *axis = rotate(&at_zero, &joint.axis);
            frame = Transform {
                rotation: mat_mul(&at_zero, &axis_rotation(&joint.axis, q)),
                translation_m: *origin_m,
            };
            *com_m = frame.point(&joint.link.com_m);
        }
        let tip = Transform {
            rotation: mat_mul(&frame.rotation, &description.tip.rotation),
            translation_m: frame.point(&description.tip.translation_m),
        };

        let (mut mass_kg, mut sum_kg_m) = (0.0, [0.0; 3]);
        for (body, held) in [
            (&description.tool, tool_held),
            (&description.payload, payload_held),
        ] {
            if held {
                mass_kg += body.mass_kg;
                sum_kg_m = add(&sum_kg_m, &scale(&tip.point(&body.com_m), body.mass_kg));
            }
        }
        let mut jacobian = [[0.0; 6]; N];
        let mut gravity_nm = [0.0; N];
        for (((((joint, axis), origin_m), com_m), column), gravity_nm) in self
            .joints()
            .iter()
            .zip(&axis)
            .zip(&origin_m)
            .zip(&com_m)
            .zip(&mut jacobian)
            .zip(&mut gravity_nm)
            .rev()
        {
            mass_kg += joint.link.mass_kg;
            sum_kg_m = add(&sum_kg_m, &scale(com_m, joint.link.mass_kg));
            let arm_kg_m = sub(&sum_kg_m, &scale(origin_m, mass_kg));
            *gravity_nm = -dot(axis, &cross(&arm_kg_m, &description.gravity_m_s2));
            let [vx, vy, vz] = cross(axis, &sub(&tip.translation_m, origin_m));
            let [wx, wy, wz] = *axis;
            *column = [vx, vy, vz, wx, wy, wz];
        }
        ArmPose {
            tip,
            jacobian,
            gravity_nm,
            com_m,
        }
    }
}
