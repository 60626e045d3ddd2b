//! Another arm than the one that is built in: read from a URDF, and stood where it reaches a bolt.
//!
//! Its own reading of the file and its own way of reaching, in f64: nothing of the crate's kinematics.

mod reach;

use std::collections::HashSet;
use std::f64::consts::PI;

use nalgebra::{Isometry3, Matrix3, Point3, Translation3, UnitQuaternion, Vector3};
use urdf_rs::{JointType, Robot};

use super::arm::{Body, Link, Model, isometry};
use super::setup::JOINTS;

/// Fewest joints that reach any pose.
const FEWEST: usize = 6;
/// What the arm carries, in the frame of its tip link.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mounting {
    /// Turning axis, from the arm to the bolt; any length but zero.
    pub axis: [f64; 3],
    /// From the tip's origin along the axis to the socket, m.
    pub length_m: f64,
    /// Mass of the tool, kg, and its centre, m.
    pub mass_kg: f64,
    /// See `mass_kg`.
    pub centre_m: [f64; 3],
}

/// An arm with its tool.
#[derive(Clone)]
pub struct Machine {
    model: Model,
    joints: usize,
    limits_rad: [[f64; 2]; JOINTS],
    /// Whether the last joint alone turns the socket.
    pub wrist_turns: bool,
}

/// Where the arm stands at the bolt.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Standing {
    /// Joint positions with the socket on the bolt, rad; the first ones are empty places.
    pub pose_rad: [f64; JOINTS],
    /// How far along the stated axis the head was put, m.
    pub along_m: f64,
    /// Longest stroke that the joints have room for, degrees.
    pub stroke_deg: f64,
}

/// Why an arm cannot be moved.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum MachineError {
    /// The file holds no such arm.
    #[error("the URDF cannot be moved: {0}")]
    Urdf(String),
    /// Too few joints to reach, or more than there are places for.
    #[error(
        "the arm has {0} joints, the rehearsal moves arms of {FEWEST} or {JOINTS}: choose arm.base_link or arm.tip_link so, or rehearse the spindle alone without the table [arm]"
    )]
    Joints(usize),
    /// No pose brings the socket onto the bolt.
    #[error(
        "the arm does not reach the bolt: no pose within its limits puts the socket on bolt_axis with tool.axis along it; at best it is off by {off_mm:.0} mm and {off_deg:.0}°; see bolt_axis (m, base frame, towards the thread's end), tool.axis, tool.length_m and the limits of the URDF"
    )]
    Unreached {
        /// Distance of the nearest try, mm.
        off_mm: f64,
        /// Its tilt, degrees.
        off_deg: f64,
    },
    /// The arm reaches the bolt but cannot turn it.
    #[error(
        "the arm reaches the bolt but has no room there for strokes of {0}° within its limits, what it takes to get to the next seat or tooth: another bolt_axis, another tool.axis, a ratchet (tool.ratchet_tooth_deg), or a spindle"
    )]
    NoRoom(f64),
}

impl Machine {
    /// Reads the chain from `base_link` (the root if `None`) to `tip_link`, with a tool on it.
    ///
    /// # Errors
    /// See [`MachineError`].
    pub fn read(
        urdf: &str,
        base_link: Option<&str>,
        tip_link: &str,
        tool: &Mounting,
        gravity_m_s2: [f64; 3],
    ) -> Result<Self, MachineError> {
        let refuse = |what: String| MachineError::Urdf(what);
        let robot = urdf_rs::read_from_string(urdf).map_err(|e| refuse(e.to_string()))?;
        let mut chain = Vec::new();
        let mut at = tip_link;
        while base_link != Some(at) {
            let Some(joint) = robot.joints.iter().find(|j| j.child.link == at) else {
                break;
            };
            if chain.len() > robot.joints.len() {
                return Err(refuse(format!("link \"{at}\" hangs from itself")));
            }
            chain.push(joint);
            at = &joint.parent.link;
        }
        chain.reverse();
        let turns = |j: &urdf_rs::Joint| {
            matches!(j.joint_type, JointType::Revolute | JointType::Continuous)
        };
        let joints = chain.iter().filter(|j| turns(j)).count();
        if !(FEWEST..=JOINTS).contains(&joints) {
            return Err(MachineError::Joints(joints));
        }
        let moving: HashSet<&str> = (chain.iter().filter(|j| turns(j)))
            .map(|j| j.name.as_str())
            .collect();
        let empty = Link {
            origin: Isometry3::identity(),
            axis: Vector3::zeros(),
            bodies: Vec::new(),
        };
        let mut links = vec![empty; JOINTS - joints];
        let mut limits_rad = [[-PI, PI]; JOINTS];
        let mut offset = Isometry3::identity();
        for joint in chain {
            offset *= isometry(&joint.origin);
            if !turns(joint) {
                continue;
            }
            let mut bodies = Vec::new();
            gather(
                &robot,
                &joint.child.link,
                Isometry3::identity(),
                &moving,
                &mut bodies,
            );
            let limit = [joint.limit.lower, joint.limit.upper];
            // Left out, both come out as 0.
            if joint.joint_type == JointType::Revolute && limit[0] < limit[1] {
                limits_rad[links.len()] = limit;
            }
            let axis = Vector3::from(joint.axis.xyz.0)
                .try_normalize(1e-9)
                .ok_or_else(|| refuse(format!("joint \"{}\" has no axis", joint.name)))?;
            links.push(Link {
                origin: offset,
                axis,
                bodies,
            });
            offset = Isometry3::identity();
        }
        let axis = Vector3::from(tool.axis)
            .try_normalize(1e-9)
            .unwrap_or_else(Vector3::z);
        let turn = UnitQuaternion::rotation_between(&Vector3::z(), &axis)
            .unwrap_or_else(|| UnitQuaternion::from_axis_angle(&Vector3::x_axis(), PI));
        if let Some(last) = links.last_mut() {
            // A slender rod; beside the arm its own inertia is small.
            let rod = tool.mass_kg * tool.length_m * tool.length_m / 12.0;
            last.bodies.push(Body {
                mass: tool.mass_kg,
                centre: (offset * Point3::from(tool.centre_m)).coords,
                inertia: Matrix3::from_diagonal_element(rod),
            });
        }
        let model = Model {
            links,
            flange: offset,
            tool: Isometry3::from_parts(Translation3::from(axis * tool.length_m), turn),
            gravity: Vector3::from(gravity_m_s2),
        };
        let wrist_turns = last_turns(&model);
        Ok(Self {
            model,
            joints,
            limits_rad,
            wrist_turns,
        })
    }

    pub(super) fn model(&self) -> &Model {
        &self.model
    }

    /// How many joints it has.
    pub fn joints(&self) -> usize {
        self.joints
    }
}

/// Whether the last joint's axis runs along the tool and through the socket: within a degree and a
/// millimetre, as flanges are drawn.
fn last_turns(model: &Model) -> bool {
    let Some(last) = model.links.last() else {
        return false;
    };
    let socket = model.flange * model.tool;
    let along = (socket.rotation * Vector3::z()).dot(&last.axis).abs();
    let beside = socket.translation.vector.cross(&last.axis).norm();
    along > 1f64.to_radians().cos() && beside < 1e-3
}

/// The bodies of a link and of everything that hangs from it up to the next moving joint of the chain.
fn gather(
    robot: &Robot,
    link: &str,
    at: Isometry3<f64>,
    moving: &HashSet<&str>,
    bodies: &mut Vec<Body>,
) {
    if let Some(link) = robot.links.iter().find(|l| l.name == link) {
        let inertial = &link.inertial;
        if inertial.mass.value > 0.0 {
            let n = &inertial.inertia;
            let own = at * isometry(&inertial.origin);
            let turn = own.rotation.to_rotation_matrix();
            let inertia = Matrix3::new(
                n.ixx, n.ixy, n.ixz, n.ixy, n.iyy, n.iyz, n.ixz, n.iyz, n.izz,
            );
            bodies.push(Body {
                mass: inertial.mass.value,
                centre: own.translation.vector,
                inertia: turn.matrix() * inertia * turn.matrix().transpose(),
            });
        }
    }
    for joint in robot.joints.iter().filter(|j| j.parent.link == link) {
        if !moving.contains(joint.name.as_str()) {
            let at = at * isometry(&joint.origin);
            gather(robot, &joint.child.link, at, moving, bodies);
        }
    }
}
