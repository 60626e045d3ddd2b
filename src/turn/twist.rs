//! Rotation of the tool about one axis: the twist of a swing–twist split, counted on over turns.

use crate::math::{Mat3, TAU, Vec3, atan2, floor};

/// Twist about a fixed axis since a reference, in rad, unwrapped over any number of turns.
///
/// A rotation `q = (w, v)` has the twist `2 atan2(v·a, w)` about the unit axis `a`; tilting the
/// tool (the swing) leaves it untouched. Between two samples the tool must turn by less than half a
/// turn, else the count of turns cannot be told.
#[derive(Clone, Copy, Debug)]
pub struct Twist {
    axis: Vec3,
    turns: i32,
    last_rad: f32,
}

impl Twist {
    /// About the unit column `axis`, in the frame in which the rotations will be given.
    pub fn new(axis: Vec3) -> Self {
        Self {
            axis,
            turns: 0,
            last_rad: 0.0,
        }
    }

    /// Twist of `rotation` (since the reference) in rad. A rotation that is not one (NaN) leaves
    /// the last figure standing.
    pub fn angle_rad(&mut self, rotation: &Mat3) -> f32 {
        let [w, x, y, z] = quaternion(rotation);
        let along = x * self.axis[0] + y * self.axis[1] + z * self.axis[2];
        let raw = 2.0 * atan2(along, w);
        if raw.is_finite() {
            let jump = floor((raw - self.last_rad) / TAU + 0.5) as i32;
            self.turns = self.turns.saturating_sub(jump);
            self.last_rad = raw;
        }
        self.turns as f32 * TAU + self.last_rad
    }
}

/// Quaternion (w, x, y, z) of a rotation matrix, not normalised: only ratios are used here. The
/// largest of the four is computed first, so that no sign or digit is lost near half a turn
/// (Shepperd, *J. Guidance and Control* 1, 1978; from memory).
fn quaternion(r: &Mat3) -> [f32; 4] {
    let [[a, b, c], [d, e, f], [g, h, i]] = *r;
    let trace = a + e + i;
    if trace >= a && trace >= e && trace >= i {
        [1.0 + trace, h - f, c - g, d - b]
    } else if a >= e && a >= i {
        [h - f, 1.0 + a - e - i, b + d, c + g]
    } else if e >= i {
        [c - g, b + d, 1.0 - a + e - i, f + h]
    } else {
        [d - b, c + g, f + h, 1.0 - a - e + i]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::{axis_rotation, mat_mul};

    #[test]
    fn counts_on_over_many_turns_both_ways_with_a_tilted_tool() {
        let axis = [0.0, 0.6, 0.8];
        // A swing about an axis at right angles to the twist axis.
        let swing = axis_rotation(&[1.0, 0.0, 0.0], 0.2);
        let mut twist = Twist::new(axis);
        let mut worst = 0.0_f32;
        for i in (0..20_000).chain((0..20_000).rev()) {
            let truth = i as f32 * 0.005;
            let got = twist.angle_rad(&mat_mul(&axis_rotation(&axis, truth), &swing));
            worst = worst.max((got - truth).abs());
        }
        // f32 at 100 rad resolves 7.6e-6 rad.
        assert!(worst < 4e-5, "{worst}");
    }

    #[test]
    fn a_rotation_that_is_none_keeps_the_last_figure() {
        let mut twist = Twist::new([0.0, 0.0, 1.0]);
        let before = twist.angle_rad(&axis_rotation(&[0.0, 0.0, 1.0], 0.5));
        assert_eq!(twist.angle_rad(&[[f32::NAN; 3]; 3]), before);
    }
}
