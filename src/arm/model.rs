//! A description that was checked, once.

use super::chain::Chain;
use super::{
    ArmDescription, ArmError, Body, Fault, JointDescription, JointFriction, MAX_JOINTS, Transform,
};
use crate::math::{Mat3, Vec3, cross, dot, sub, unit};

/// How far a rotation may be from orthonormal: well above f32 rounding, well below what would move
/// a socket by the accuracy that matters (0.1 mm at 1 m).
const ROTATION_TOLERANCE: f32 = 1e-4;

/// No figure of an arm in SI units is as large; below it no sum or product in this module overflows.
const LARGEST: f32 = 1e6;

/// An arm of `N` joints (0 to [`MAX_JOINTS`]) whose figures were checked; immutable.
///
/// `N = 0` is an arm that does not move: the tip stands still in the base frame. It serves a spindle
/// that is read alone.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ArmModel<const N: usize> {
    pub(super) chain: Chain<N>,
    pub(super) friction: [JointFriction; N],
    pub(super) friction_transition_rad_s: f32,
    torque_noise_nm: [Option<f32>; N],
    torque_zero_u_nm: [f32; N],
    torque_range_nm: [Option<f32>; N],
    tool: Body,
    pub(super) payload: Body,
    gravity_m_s2: Vec3,
    mass_u: f32,
}

impl<const N: usize> ArmModel<N> {
    /// Checks a description. Joint axes are brought to unit length.
    ///
    /// # Errors
    /// Another joint count than `N`, `N` above [`MAX_JOINTS`], or a fault of
    /// [`ArmDescription::checked`].
    #[inline(never)]
    pub fn try_new(description: &ArmDescription) -> Result<Self, ArmError> {
        if N > MAX_JOINTS {
            return Err(ArmError::TooManyJoints { asked: N });
        }
        if description.joints.len() != N {
            return Err(ArmError::JointCount {
                described: description.joints.len(),
                expected: N,
            });
        }
        description.check()?;
        let checked = description;
        Ok(Self {
            chain: Chain::new(checked),
            friction: per_joint(checked, JointFriction::NONE, |joint| joint.friction),
            friction_transition_rad_s: checked.friction_transition_rad_s,
            torque_noise_nm: per_joint(checked, None, |joint| joint.torque_noise_nm),
            torque_zero_u_nm: per_joint(checked, 0.0, |joint| joint.torque_zero_u_nm),
            torque_range_nm: per_joint(checked, None, |joint| joint.torque_range_nm),
            tool: checked.tool,
            payload: checked.payload,
            gravity_m_s2: checked.gravity_m_s2,
            mass_u: checked.mass_u,
        })
    }

    /// White noise of each torque reading, N·m, 1 sigma; `None` where the description does not say.
    pub const fn torque_noise_nm(&self) -> &[Option<f32>; N] {
        &self.torque_noise_nm
    }

    /// Standard uncertainty of each torque reading's zero that a tare cannot see, N·m.
    pub const fn torque_zero_u_nm(&self) -> &[f32; N] {
        &self.torque_zero_u_nm
    }

    /// Range of each torque reading, N·m; `None` where the description does not say.
    pub const fn torque_range_nm(&self) -> &[Option<f32>; N] {
        &self.torque_range_nm
    }

    /// Relative standard uncertainty of the gravity torques.
    pub const fn mass_u(&self) -> f32 {
        self.mass_u
    }

    /// The tool, tip frame.
    pub const fn tool(&self) -> &Body {
        &self.tool
    }

    /// Acceleration of gravity in the base frame, m/s².
    pub const fn gravity_m_s2(&self) -> &Vec3 {
        &self.gravity_m_s2
    }
}

fn per_joint<T: Copy, const N: usize>(
    arm: &ArmDescription,
    blank: T,
    of: impl Fn(&JointDescription) -> T,
) -> [T; N] {
    let mut all = [blank; N];
    for (out, joint) in all.iter_mut().zip(&arm.joints) {
        *out = of(joint);
    }
    all
}

impl ArmDescription {
    /// Checks the figures.
    ///
    /// # Errors
    /// The first fault found, with its joint: a figure that is not finite or is 10⁶ or more, a negative
    /// mass, friction or uncertainty, a zero axis, a matrix that is no rotation. Any finite gravity is
    /// allowed, zero too (an arm in orbit, or torques that are compensated already).
    pub fn check(&self) -> Result<(), ArmError> {
        for (index, joint) in self.joints.iter().enumerate() {
            check_joint(joint).map_err(|fault| ArmError::Joint {
                index,
                name: joint.name.clone(),
                fault,
            })?;
        }
        check_whole(self).map_err(|fault| ArmError::Arm { fault })
    }

    /// The same description with its figures checked and its joint axes of unit length.
    ///
    /// # Errors
    /// As [`ArmDescription::check`].
    pub fn checked(mut self) -> Result<Self, ArmError> {
        self.check()?;
        for joint in &mut self.joints {
            joint.axis = unit(&joint.axis).unwrap_or(joint.axis);
        }
        Ok(self)
    }
}

fn check_joint(joint: &JointDescription) -> Result<(), Fault> {
    check_transform("origin", &joint.origin)?;
    finite("axis", &joint.axis)?;
    unit(&joint.axis).ok_or(Fault::ZeroAxis)?;
    check_body("link mass_kg", "link com_m", &joint.link)?;
    let friction = &joint.friction;
    not_negative("coulomb_nm", friction.coulomb_nm)?;
    not_negative("coulomb_u_nm", friction.coulomb_u_nm)?;
    not_negative("viscous_nm_s_per_rad", friction.viscous_nm_s_per_rad)?;
    not_negative("viscous_u_nm_s_per_rad", friction.viscous_u_nm_s_per_rad)?;
    not_negative("torque_noise_nm", joint.torque_noise_nm.unwrap_or(0.0))?;
    not_negative("torque_zero_u_nm", joint.torque_zero_u_nm)?;
    joint
        .torque_range_nm
        .map_or(Ok(()), |range| positive("torque_range_nm", range))
}

fn check_whole(arm: &ArmDescription) -> Result<(), Fault> {
    check_transform("tip", &arm.tip)?;
    check_body("tool mass_kg", "tool com_m", &arm.tool)?;
    check_body("payload mass_kg", "payload com_m", &arm.payload)?;
    finite("gravity_m_s2", &arm.gravity_m_s2)?;
    not_negative("mass_u", arm.mass_u)?;
    positive("friction_transition_rad_s", arm.friction_transition_rad_s)
}

fn check_transform(what: &'static str, transform: &Transform) -> Result<(), Fault> {
    finite(what, &transform.translation_m)?;
    transform
        .rotation
        .iter()
        .try_for_each(|row| finite(what, row))?;
    if is_rotation(&transform.rotation) {
        Ok(())
    } else {
        Err(Fault::NotARotation { what })
    }
}

fn check_body(mass: &'static str, com: &'static str, body: &Body) -> Result<(), Fault> {
    not_negative(mass, body.mass_kg)?;
    finite(com, &body.com_m)
}

/// Two unit perpendicular rows and their cross product as the third.
fn is_rotation(r: &Mat3) -> bool {
    let [x, y, z] = r;
    let third = sub(&cross(x, y), z);
    [dot(x, x) - 1.0, dot(y, y) - 1.0, dot(x, y)]
        .iter()
        .chain(&third)
        .all(|off| off.abs() <= ROTATION_TOLERANCE)
}

fn finite(what: &'static str, figures: &[f32]) -> Result<(), Fault> {
    if figures.iter().all(|x| x.abs() < LARGEST) {
        Ok(())
    } else {
        Err(Fault::NotFinite { what })
    }
}

fn positive(what: &'static str, figure: f32) -> Result<(), Fault> {
    finite(what, &[figure])?;
    if figure > 0.0 {
        Ok(())
    } else {
        Err(Fault::NotPositive { what })
    }
}

fn not_negative(what: &'static str, figure: f32) -> Result<(), Fault> {
    finite(what, &[figure])?;
    if figure < 0.0 {
        return Err(Fault::Negative { what });
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    extern crate std;
    use std::string::ToString;

    use super::super::{FRICTION_TRANSITION_RAD_S, JointFriction};
    use super::*;
    use crate::math::IDENTITY;

    /// One metre along x per joint, turning about y, 1 kg at the end of each link.
    fn arm(names: &[&str]) -> ArmDescription {
        let link = Body {
            mass_kg: 1.0,
            com_m: [1.0, 0.0, 0.0],
        };
        let joint = |name: &&str| JointDescription {
            name: heapless::String::try_from(*name).unwrap(),
            origin: Transform {
                rotation: IDENTITY,
                translation_m: [1.0, 0.0, 0.0],
            },
            axis: [0.0, 2.0, 0.0],
            link,
            friction: JointFriction::NONE,
            torque_noise_nm: Some(0.06),
            torque_zero_u_nm: 0.1,
            torque_range_nm: Some(100.0),
        };
        ArmDescription {
            joints: names.iter().map(joint).collect(),
            tip: Transform::IDENTITY,
            tool: link,
            payload: Body::NONE,
            gravity_m_s2: [0.0, 0.0, -9.81],
            mass_u: 0.02,
            friction_transition_rad_s: FRICTION_TRANSITION_RAD_S,
        }
    }

    /// By hand: about +y a lifting torque on a mass at +x is negative.
    #[test]
    fn a_stretched_arm_holds_what_a_lever_says() {
        let model = ArmModel::<2>::try_new(&arm(&["shoulder", "elbow"])).unwrap();
        let empty = model.pose(&[0.0; 2], false, false).gravity_nm;
        assert!((empty[0] + 9.81 * (1.0 + 2.0)).abs() < 1e-5, "{empty:?}");
        assert!((empty[1] + 9.81).abs() < 1e-5, "{empty:?}");
        let with_tool = model.pose(&[0.0; 2], true, true).gravity_nm;
        assert!((with_tool[0] + 9.81 * (1.0 + 2.0 + 2.0)).abs() < 1e-5);
        assert!((with_tool[1] + 9.81 * 2.0).abs() < 1e-5);
    }

    #[test]
    fn no_joints_leave_the_tip_where_it_is() {
        let model = ArmModel::<0>::try_new(&arm(&[])).unwrap();
        assert_eq!(model.pose(&[], true, true).tip, Transform::IDENTITY);
    }

    #[test]
    fn a_count_that_does_not_fit_is_refused() {
        assert_eq!(
            ArmModel::<3>::try_new(&arm(&["a", "b"])).unwrap_err(),
            ArmError::JointCount {
                described: 2,
                expected: 3
            }
        );
        assert_eq!(
            ArmModel::<9>::try_new(&arm(&["a", "b"])).unwrap_err(),
            ArmError::TooManyJoints { asked: 9 }
        );
    }

    #[test]
    fn every_fault_is_told_with_its_joint_and_its_figure() {
        type Spoil = fn(&mut ArmDescription);
        let cases: [(Spoil, &str); 13] = [
            (
                |a| a.joints[1].axis = [0.0; 3],
                "joint 2 \"elbow\": axis is zero",
            ),
            (
                |a| a.joints[1].axis[2] = f32::NAN,
                "joint 2 \"elbow\": axis is not a number",
            ),
            (
                |a| a.joints[0].link.mass_kg = -1.0,
                "joint 1 \"shoulder\": link mass_kg is negative",
            ),
            (
                |a| a.joints[0].link.com_m[1] = f32::INFINITY,
                "joint 1 \"shoulder\": link com_m is not",
            ),
            (
                |a| a.joints[1].friction.viscous_u_nm_s_per_rad = -0.1,
                "viscous_u_nm_s_per_rad is neg",
            ),
            (
                |a| a.joints[1].torque_noise_nm = Some(-0.1),
                "torque_noise_nm is negative",
            ),
            (
                |a| a.joints[1].torque_range_nm = Some(0.0),
                "torque_range_nm is not above 0",
            ),
            (
                |a| a.joints[1].origin.rotation[0][0] = 0.9,
                "joint 2 \"elbow\": origin is not a rot",
            ),
            (
                |a| a.joints[0].origin.rotation[2][2] = -1.0,
                "origin is not a rotation",
            ),
            (
                |a| a.tip.translation_m[0] = f32::NAN,
                "arm: tip is not a number",
            ),
            (
                |a| a.gravity_m_s2[0] = f32::NAN,
                "arm: gravity_m_s2 is not a number",
            ),
            (|a| a.tool.mass_kg = -1.0, "arm: tool mass_kg is negative"),
            (
                |a| a.friction_transition_rad_s = 0.0,
                "arm: friction_transition_rad_s is not above 0",
            ),
        ];
        for (spoil, told) in cases {
            let mut spoilt = arm(&["shoulder", "elbow"]);
            spoil(&mut spoilt);
            let error = ArmModel::<2>::try_new(&spoilt).unwrap_err().to_string();
            assert!(error.contains(told), "{error:?} does not say {told:?}");
        }
    }

    #[test]
    fn the_description_survives_its_compact_form() {
        let arm = arm(&["shoulder", "elbow"]);
        let mut buffer = [0; 512];
        let bytes = postcard::to_slice(&arm, &mut buffer).unwrap();
        assert_eq!(postcard::from_bytes::<ArmDescription>(bytes).unwrap(), arm);
    }
}
