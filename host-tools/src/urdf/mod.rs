//! From a URDF file to the description of a serial arm.
//!
//! The chain of revolute joints from a base link to a tip link is kept. Everything else is folded
//! into it: fixed joints, and the bodies of every link that hangs from a moving link without being
//! part of the chain (covers, cables, a gripper beyond the tip). Movable joints off the chain are
//! frozen at 0 and named in a notice.
//!
//! Of `<limit>` only the positions are read, to tell degrees from radians: a URDF without `effort`
//! comes out as an effort of 0, which is no limit, and what a drive may exert is not what its sensor can
//! read.
//! A link without `<inertial>` has no mass.

mod error;

use std::collections::HashMap;

use bolting_monitor::arm::{
    ArmDescription, Body, FRICTION_TRANSITION_RAD_S, JointDescription, JointFriction, MAX_JOINTS,
    Transform,
};
use glam::{DAffine3, DMat3, DVec3, EulerRot};
use urdf_rs::{Joint, JointType, Link, Robot};

pub use error::UrdfError;

/// Acceleration of gravity in the base frame, m/s², when the base's z axis points up.
pub const GRAVITY_M_S2: [f32; 3] = [0.0, 0.0, -9.81];
/// Relative standard uncertainty of gravity torques computed from a URDF (common practice, no source).
pub const MASS_U: f32 = 0.02;
/// Standard uncertainty of a torque zero that a tare cannot see, N·m (common practice, no source).
pub const TORQUE_ZERO_U_NM: f32 = 0.05;

/// An arm as read, and what was read differently from how it is written.
#[derive(Clone, Debug)]
pub struct UrdfArm {
    /// The arm, without a tool or payload, with the default uncertainties.
    pub arm: ArmDescription,
    /// Least and greatest position of each joint, rad, base first; `None` where the file states none.
    pub limits_rad: Vec<Option<[f64; 2]>>,
    /// Sentences for the user, e.g. of joints that were frozen.
    pub notices: Vec<String>,
}

/// Friction with the uncertainties used where none is stated: a quarter of the figure, for dry
/// friction at least 0.1 N·m (common practice, no source).
pub fn friction(
    coulomb_nm: f32,
    coulomb_u_nm: Option<f32>,
    viscous_nm_s_per_rad: f32,
    viscous_u_nm_s_per_rad: Option<f32>,
) -> JointFriction {
    JointFriction {
        coulomb_nm,
        coulomb_u_nm: coulomb_u_nm.unwrap_or((coulomb_nm / 4.0).max(0.1)),
        viscous_nm_s_per_rad,
        viscous_u_nm_s_per_rad: viscous_u_nm_s_per_rad.unwrap_or(viscous_nm_s_per_rad / 4.0),
    }
}

/// Reads the chain from `base_link` (the root of the tree if `None`) to `tip_link`.
///
/// # Errors
/// See [`UrdfError`]. Figures are not checked further than their sign and the shape of the tree;
/// [`ArmDescription::checked`] does the rest.
pub fn read(text: &str, base_link: Option<&str>, tip_link: &str) -> Result<UrdfArm, UrdfError> {
    if text.contains("<xacro:") {
        return Err(UrdfError::Xacro);
    }
    let robot = urdf_rs::read_from_string(text)?;
    let tree = Tree::new(&robot)?;
    let base = match base_link {
        Some(name) => tree.link("base_link", name)?,
        None => tree.root()?,
    };
    let tip = tree.link("tip_link", tip_link)?;
    let chain = tree.chain(base, tip)?;

    let mut notices = Vec::new();
    let mut joints = Vec::new();
    let mut offset = DAffine3::IDENTITY;
    for joint in chain.iter().copied() {
        offset *= frame(&joint.origin);
        if moves(joint)? {
            joints.push((joint, offset));
            offset = DAffine3::IDENTITY;
        }
    }
    if joints.len() > MAX_JOINTS {
        return Err(UrdfError::TooManyJoints {
            joints: joints.len(),
        });
    }
    let mut described = heapless::Vec::new();
    for (joint, origin) in &joints {
        let mut lump = Lump::default();
        tree.gather(
            &joint.child.link,
            DAffine3::IDENTITY,
            &chain,
            &mut lump,
            &mut notices,
        )?;
        let (damping, dry) = joint
            .dynamics
            .as_ref()
            .map_or((0.0, 0.0), |d| (d.damping, d.friction));
        // There is room: the length was checked above.
        let _ = described.push(JointDescription {
            name: short_name(&joint.name, &mut notices),
            origin: transform(origin),
            axis: joint.axis.xyz.0.map(|x| x as f32),
            link: lump.body(),
            friction: friction(dry as f32, None, damping as f32, None),
            torque_noise_nm: None,
            torque_zero_u_nm: TORQUE_ZERO_U_NM,
            torque_range_nm: None,
        });
    }
    let limits_rad = (joints.iter())
        .map(|(joint, _)| [joint.limit.lower, joint.limit.upper])
        .zip(&joints)
        .map(|(limits, (joint, _))| {
            let turns_on = joint.joint_type == JointType::Continuous;
            // Left out, both come out as 0.
            Some(limits).filter(|[lower, upper]| lower < upper && !turns_on)
        })
        .collect();
    Ok(UrdfArm {
        limits_rad,
        arm: ArmDescription {
            joints: described,
            tip: transform(&offset),
            tool: Body::NONE,
            payload: Body::NONE,
            gravity_m_s2: GRAVITY_M_S2,
            mass_u: MASS_U,
            friction_transition_rad_s: FRICTION_TRANSITION_RAD_S,
        },
        notices,
    })
}

/// The links of a robot with the joints between them, known to be a forest without missing links.
struct Tree<'a> {
    links: HashMap<&'a str, &'a Link>,
    robot: &'a Robot,
    parent: HashMap<&'a str, &'a Joint>,
}

impl<'a> Tree<'a> {
    fn new(robot: &'a Robot) -> Result<Self, UrdfError> {
        let mut tree = Self {
            links: robot.links.iter().map(|l| (l.name.as_str(), l)).collect(),
            robot,
            parent: HashMap::new(),
        };
        for joint in &robot.joints {
            for end in [&joint.parent.link, &joint.child.link] {
                tree.link(&format!("joint \"{}\"", joint.name), end)?;
            }
            if let Some(first) = tree.parent.insert(&joint.child.link, joint) {
                return Err(UrdfError::TwoParents {
                    link: joint.child.link.clone(),
                    first: first.name.clone(),
                    second: joint.name.clone(),
                });
            }
        }
        for link in &robot.links {
            if tree.above(link).count() > robot.joints.len() {
                return Err(UrdfError::Loop {
                    link: link.name.clone(),
                });
            }
        }
        Ok(tree)
    }

    /// The joints from `link` towards the root; endless in a loop, hence bounded.
    fn above(&self, link: &'a Link) -> impl Iterator<Item = &'a Joint> {
        let parent = |link: &str| self.parent.get(link).copied();
        std::iter::successors(parent(&link.name), move |joint| parent(&joint.parent.link))
            .take(self.robot.joints.len() + 1)
    }

    fn link(&self, asked_by: &str, name: &str) -> Result<&'a Link, UrdfError> {
        self.links
            .get(name)
            .copied()
            .ok_or_else(|| UrdfError::NoSuchLink {
                asked_by: asked_by.to_owned(),
                link: name.to_owned(),
                known: self.robot.links.iter().map(|l| l.name.clone()).collect(),
            })
    }

    fn root(&self) -> Result<&'a Link, UrdfError> {
        let roots: Vec<_> = self
            .robot
            .links
            .iter()
            .filter(|l| !self.parent.contains_key(l.name.as_str()))
            .collect();
        match roots[..] {
            [root] => Ok(root),
            _ => Err(UrdfError::Root {
                candidates: roots.iter().map(|l| l.name.clone()).collect(),
            }),
        }
    }

    /// The joints from `base` to `tip`, base first.
    fn chain(&self, base: &Link, tip: &'a Link) -> Result<Vec<&'a Joint>, UrdfError> {
        let above = || self.above(tip);
        let links = || std::iter::once(&tip.name).chain(above().map(|j| &j.parent.link));
        let Some(length) = links().position(|link| *link == base.name) else {
            return Err(UrdfError::NotBeyond {
                base: base.name.clone(),
                tip: tip.name.clone(),
                way: links().cloned().collect(),
            });
        };
        let mut chain: Vec<_> = above().take(length).collect();
        chain.reverse();
        Ok(chain)
    }

    /// Adds the body of `link` and of everything that hangs from it up to the next moving joint of
    /// the chain, seen from the frame in which `at` places the link.
    fn gather(
        &self,
        link: &str,
        at: DAffine3,
        chain: &[&Joint],
        lump: &mut Lump,
        notices: &mut Vec<String>,
    ) -> Result<(), UrdfError> {
        if let Some(link) = self.links.get(link) {
            lump.add(link, at)?;
        }
        for joint in self.robot.joints.iter().filter(|j| j.parent.link == link) {
            let fixed = joint.joint_type == JointType::Fixed;
            if !fixed && chain.iter().any(|c| c.name == joint.name) {
                continue;
            }
            if !fixed {
                notices.push(format!(
                    "joint \"{}\" is not on the way to the tip: it is taken as fixed at 0",
                    joint.name
                ));
            }
            self.gather(
                &joint.child.link,
                at * frame(&joint.origin),
                chain,
                lump,
                notices,
            )?;
        }
        Ok(())
    }
}

/// Whether a joint of the chain turns (`true`) or is fixed.
fn moves(joint: &Joint) -> Result<bool, UrdfError> {
    let refuse = |kind: String| {
        Err(UrdfError::JointKind {
            joint: joint.name.clone(),
            kind,
        })
    };
    match joint.joint_type {
        JointType::Fixed => Ok(false),
        JointType::Revolute | JointType::Continuous => match &joint.mimic {
            None => Ok(true),
            Some(mimic) => refuse(format!("coupled to joint \"{}\" (mimic)", mimic.joint)),
        },
        ref other => refuse(format!("{other:?}").to_lowercase()),
    }
}

/// Mass and first moment of bodies that move together.
#[derive(Default)]
struct Lump {
    mass_kg: f64,
    moment_kg_m: DVec3,
}

impl Lump {
    fn add(&mut self, link: &Link, at: DAffine3) -> Result<(), UrdfError> {
        let mass_kg = link.inertial.mass.value;
        if !(mass_kg.is_finite() && mass_kg >= 0.0) {
            return Err(UrdfError::Mass {
                link: link.name.clone(),
                mass_kg,
            });
        }
        self.mass_kg += mass_kg;
        let com = DVec3::from_array(link.inertial.origin.xyz.0);
        self.moment_kg_m += at.transform_point3(com) * mass_kg;
        Ok(())
    }

    fn body(&self) -> Body {
        if self.mass_kg == 0.0 {
            return Body::NONE;
        }
        Body {
            mass_kg: self.mass_kg as f32,
            com_m: (self.moment_kg_m / self.mass_kg).as_vec3().to_array(),
        }
    }
}

/// URDF writes a rotation as roll, pitch, yaw about the fixed axes x, y, z in this order.
fn frame(pose: &urdf_rs::Pose) -> DAffine3 {
    let [roll, pitch, yaw] = pose.rpy.0;
    DAffine3::from_mat3_translation(
        DMat3::from_euler(EulerRot::ZYX, yaw, pitch, roll),
        DVec3::from_array(pose.xyz.0),
    )
}

fn transform(frame: &DAffine3) -> Transform {
    // glam keeps columns, the core rows.
    let rows = frame.matrix3.transpose().to_cols_array_2d();
    Transform {
        rotation: rows.map(|row| row.map(|x| x as f32)),
        translation_m: frame.translation.as_vec3().to_array(),
    }
}

fn short_name(name: &str, notices: &mut Vec<String>) -> heapless::String<32> {
    let mut short = heapless::String::new();
    if !name.chars().all(|c| short.push(c).is_ok()) {
        notices.push(format!(
            "joint \"{name}\" is kept as \"{short}\": 32 bytes are possible"
        ));
    }
    short
}
