//! The moment across the bolt axis: a tool that levers instead of turning.

use crate::math::{Mat3, Vec3, add, cross, norm, rotate_back, scale, sqrt, unit};

/// Moment that the tool exerts on the bolt across the bolt axis, at the socket.
///
/// It comes from the arm: one that pushes the tip sideways by a force `F`, a length `L` before the
/// socket along the tool axis `a`, makes the moment `L·F × a` there. [`SideMoment::relief`] turns
/// this round.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct SideMoment {
    /// The moment in the tip frame, N·m.
    pub moment_nm: Vec3,
    /// The larger of the standard uncertainties of its two components, N·m.
    pub u_nm: f32,
}

impl SideMoment {
    /// From two perpendicular components in the base frame: direction, mean (N·m) and variance.
    pub(super) fn from_base(across: &[(Vec3, f32, f32); 2], tip: &Mat3) -> Self {
        let [(e, m, var_m), (f, n, var_n)] = across;
        Self {
            moment_nm: rotate_back(tip, &add(&scale(e, *m), &scale(f, *n))),
            u_nm: sqrt(var_m.max(*var_n)),
        }
    }

    /// Its size, N·m.
    pub fn size_nm(&self) -> f32 {
        norm(&self.moment_nm)
    }

    /// Where to move the tip to take the moment off: a unit direction in the tip frame, across the
    /// tool axis (tip frame, from the arm towards the bolt). `None` where nothing levers.
    pub fn relief(&self, tool_axis: &Vec3) -> Option<Vec3> {
        unit(&cross(&self.moment_nm, tool_axis))
    }
}

/// Two unit directions that stand on `direction` and on each other.
pub(super) fn perpendicular(direction: &Vec3) -> [Vec3; 2] {
    // The base axis that is farthest from it gives the best product.
    let [x, y, z] = direction.map(f32::abs);
    let away = if x <= y && x <= z {
        [1.0, 0.0, 0.0]
    } else if y <= z {
        [0.0, 1.0, 0.0]
    } else {
        [0.0, 0.0, 1.0]
    };
    let first = unit(&cross(direction, &away)).unwrap_or([1.0, 0.0, 0.0]);
    [first, cross(direction, &first)]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::{IDENTITY, dot};

    #[test]
    fn the_components_stand_on_the_axis_and_on_each_other() {
        for axis in [[0.0, 0.0, -1.0], [1.0, 0.0, 0.0], [0.6, -0.64, 0.48]] {
            let [e, f] = perpendicular(&axis);
            for (a, b, product) in [
                (&e, &axis, 0.0),
                (&f, &axis, 0.0),
                (&e, &f, 0.0),
                (&e, &e, 1.0),
            ] {
                assert!((dot(a, b) - product).abs() < 1e-6);
            }
        }
    }

    /// By hand: the arm pushes the tip along +x, the socket is 0.2 m on along +z: 10 N make
    /// 2 N·m about −y, and moving towards −x takes them off.
    #[test]
    fn relief_is_against_the_push() {
        let push = [10.0, 0.0, 0.0];
        let moment = scale(&cross(&push, &[0.0, 0.0, 1.0]), 0.2);
        let [e, f] = perpendicular(&[0.0, 0.0, 1.0]);
        let across = [(e, dot(&e, &moment), 0.01), (f, dot(&f, &moment), 0.04)];
        let side = SideMoment::from_base(&across, &IDENTITY);
        assert!((side.moment_nm[1] + 2.0).abs() < 1e-6 && (side.size_nm() - 2.0).abs() < 1e-6);
        assert!((side.u_nm - 0.2).abs() < 1e-6);
        let relief = side.relief(&[0.0, 0.0, 1.0]).unwrap();
        assert!((relief[0] + 1.0).abs() < 1e-6, "{relief:?}");
    }
}
