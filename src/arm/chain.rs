//! The arm as it is walked along: the same geometry as the description, in frames of our own choice
//! in which a joint costs fewer products.
//!
//! Each frame has its joint's axis as z. The turn from one frame to the next is then `Rz·Rx(tilt)·Rz`
//! (Euler angles z-x-z; any rotation has them), and both turns about z join the joint angles beside
//! them, so that a joint is one tilt and one turn: 36 operations where two full products are 90.
//!
//! Mass moves as well, without changing any holding torque: to a joint it makes no difference whether
//! mass on its own axis belongs to its link or to the link before (base parameters of a serial arm;
//! e.g. Gautier, Khalil, *IEEE Trans. Robotics and Automation* 6, 1990, from memory). Of each link the
//! two components of its first moment across the axis are left.

use super::{ArmDescription, Body, JointDescription, Transform};
use crate::math::{
    IDENTITY, Mat3, Vec3, add, atan2, cross, mat_mul, rotate_back, scale, sqrt, transposed, unit,
};

/// One joint, seen from the frame before it.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(super) struct Hop {
    /// Origin, m.
    pub step_m: Vec3,
    /// Sine and cosine of the tilt about x that brings z onto the joint's axis.
    pub tilt: (f32, f32),
    /// Added to the joint's position, rad.
    pub offset_rad: f32,
    /// First moment across the axis, kg·m, in the frame that the joint turns: its own link's and what
    /// was moved onto it.
    pub moment_kg_m: [f32; 2],
    /// Mass of the link and its centre in the frame that the joint turns: nothing is moved here, for
    /// it does make a difference to what accelerates the arm.
    pub link: Body,
}

/// All joints and the tip.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(super) struct Chain<const N: usize> {
    /// The frame that the walk starts from, in the base.
    pub start: Mat3,
    /// The joints, base first.
    pub hops: [Hop; N],
    /// The tip in the last frame.
    pub tip: Transform,
}

impl<const N: usize> Chain<N> {
    /// From a description that was checked.
    pub fn new(description: &ArmDescription) -> Self {
        let mut hops = [Hop {
            step_m: [0.0; 3],
            tilt: (0.0, 1.0),
            offset_rad: 0.0,
            moment_kg_m: [0.0; 2],
            link: Body::NONE,
        }; N];
        // Our frames in the frames of the description: first up to the turn about z that the joint
        // behind adds, then as they are.
        let mut frames = [IDENTITY; N];
        let mut last = IDENTITY;
        let mut start = IDENTITY;
        // The turn about z goes to the frame before; the first has only the start to go to.
        let mut before: Option<(&mut Hop, &mut Mat3)> = None;
        for ((joint, hop), frame) in description.joints.iter().zip(&mut hops).zip(&mut frames) {
            let own = with_z(&unit(&joint.axis).unwrap_or([0.0, 0.0, 1.0]));
            let between = mat_mul(&mat_mul(&transposed(&last), &joint.origin.rotation), &own);
            let euler = Euler::of(&between);
            let turned = mat_mul(&last, &about_z(euler.first_rad));
            match &mut before {
                Some((hop, frame)) => {
                    hop.offset_rad += euler.first_rad;
                    **frame = turned;
                }
                None => start = turned,
            }
            hop.step_m = rotate_back(&turned, &joint.origin.translation_m);
            hop.tilt = euler.tilt;
            hop.offset_rad = euler.last_rad;
            *frame = own;
            last = own;
            before = Some((hop, frame));
        }
        gather(&description.joints, &mut hops, &frames);
        Self {
            start,
            hops,
            tip: Transform {
                rotation: mat_mul(&transposed(&last), &description.tip.rotation),
                translation_m: rotate_back(&last, &description.tip.translation_m),
            },
        }
    }
}

/// Gives each hop its link and moves mass towards the base as far as no holding torque changes by it.
#[inline(never)]
fn gather(joints: &[JointDescription], hops: &mut [Hop], frames: &[Mat3]) {
    let (mut mass_kg, mut moment_kg_m) = (0.0, [0.0; 3]);
    for ((joint, hop), frame) in joints.iter().zip(hops).zip(frames).rev() {
        hop.link = Body {
            mass_kg: joint.link.mass_kg,
            com_m: rotate_back(frame, &joint.link.com_m),
        };
        mass_kg += hop.link.mass_kg;
        let own = scale(&hop.link.com_m, hop.link.mass_kg);
        let [x, y, along] = add(&moment_kg_m, &own);
        hop.moment_kg_m = [x, y];
        let (sin, cos) = hop.tilt;
        let axis = [0.0, -sin, cos];
        moment_kg_m = add(&scale(&hop.step_m, mass_kg), &scale(&axis, along));
    }
}

/// `Rz(first)·Rx(tilt)·Rz(last)`.
struct Euler {
    first_rad: f32,
    tilt: (f32, f32),
    last_rad: f32,
}

impl Euler {
    #[inline(never)]
    fn of(r: &Mat3) -> Self {
        // z of the rotation is (sin a sin t, −cos a sin t, cos t). Without a tilt `a` is free.
        let first_rad = if r[0][2] == 0.0 && r[1][2] == 0.0 {
            0.0
        } else {
            atan2(r[0][2], -r[1][2])
        };
        // What is left after that turn tells the rest, so that an ill-determined `a` does no harm.
        let rest = mat_mul(&transposed(&about_z(first_rad)), r);
        let (sin, cos) = (-rest[1][2], rest[2][2]);
        let length = sqrt(sin * sin + cos * cos);
        Self {
            first_rad,
            tilt: (sin / length, cos / length),
            last_rad: atan2(-rest[0][1], rest[0][0]),
        }
    }
}

#[inline(never)]
fn about_z(angle_rad: f32) -> Mat3 {
    let (s, c) = crate::math::sin_cos(angle_rad);
    [[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]]
}

/// A rotation whose z is the unit column `z`.
#[inline(never)]
fn with_z(z: &Vec3) -> Mat3 {
    let aside = if z[1].abs() < 0.9 {
        [0.0, 1.0, 0.0]
    } else {
        [0.0, 0.0, 1.0]
    };
    let x = unit(&cross(&aside, z)).unwrap_or([1.0, 0.0, 0.0]);
    let y = cross(z, &x);
    transposed(&[x, y, *z])
}
