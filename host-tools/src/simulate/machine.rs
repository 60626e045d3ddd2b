//! Another arm than the one that is built in: read from a URDF, and stood where it reaches a bolt.
//!
//! Its own reading of the file and its own way of reaching, in f64: nothing of the crate's kinematics.

use std::collections::HashSet;
use std::f64::consts::PI;

use nalgebra::{
    Isometry3, Matrix3, Matrix5, Point3, SMatrix, SVector, Translation3, UnitQuaternion, Vector3,
};
use rand::Rng;
use urdf_rs::{JointType, Robot};

use super::arm::{Body, Jacobian, Joints, Link, Model, isometry};
use super::setup::JOINTS;
use super::stream;

/// Fewest joints that reach any pose.
const FEWEST: usize = 6;
/// Starts from which a pose is sought, and steps from each.
const STARTS: usize = 60;
const STEPS: usize = 150;
/// A pose that is off by no more than this has been reached, m and rad.
const REACHED: f64 = 1e-6;
/// How far from its limit a joint should stand, rad, so that hand and bolt have room.
const ROOM_RAD: f64 = 0.15;
/// Places along the bolt axis that are tried, as seen from the stated point, m.
const PLACES_M: [f64; 9] = [0.0, 0.05, -0.05, 0.1, -0.1, 0.2, -0.2, 0.3, -0.3];
/// Strokes tried where the whole arm swings about the bolt, degrees.
const SWINGS_DEG: [f64; 3] = [40.0, 25.0, 12.0];
/// Most that a wrist turns in one stroke, degrees.
const WIDEST_DEG: f64 = 240.0;

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
        "the arm reaches the bolt but has no room there to turn the socket by {0}° within its limits: another bolt_axis, another tool.axis, or a spindle"
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

    /// A pose with the socket on the line through a point (m, base frame) along a direction, the best
    /// conditioned of those found; without a line, the best of any. `strokes`: the arm itself turns the
    /// socket and needs room for it.
    ///
    /// # Errors
    /// [`MachineError::Unreached`], [`MachineError::NoRoom`].
    pub fn stand(
        &self,
        line: Option<([f64; 3], [f64; 3])>,
        strokes: bool,
    ) -> Result<Standing, MachineError> {
        let mut rng = stream(0, 0);
        let Some((point, direction)) = line else {
            let poses: Vec<_> = (0..4 * STARTS).map(|_| self.start(&mut rng)).collect();
            return self.best(poses.into_iter().map(|q| (q, 0.0)), strokes);
        };
        let direction = Vector3::from(direction)
            .try_normalize(1e-9)
            .unwrap_or_else(Vector3::z);
        let mut nearest = (f64::INFINITY, [0.0; 2]);
        let mut turns_not = None;
        for along_m in PLACES_M {
            let goal = Vector3::from(point) + direction * along_m;
            let mut reached = Vec::new();
            for _ in 0..STARTS {
                let start = self.start(&mut rng);
                let (q, off) = self.seek(start, &goal, &direction);
                if off.norm() < REACHED && self.room(&q) >= 0.0 {
                    reached.push((q, along_m));
                } else if off.norm() < nearest.0 && self.room(&q) >= 0.0 {
                    let part =
                        |r: std::ops::Range<usize>| r.map(|i| off[i] * off[i]).sum::<f64>().sqrt();
                    nearest = (off.norm(), [1e3 * part(0..3), part(3..5).to_degrees()]);
                }
            }
            if !reached.is_empty() {
                match self.best(reached.into_iter(), strokes) {
                    Err(no_room) => turns_not = Some(no_room),
                    stood => return stood,
                }
            }
        }
        let [off_mm, off_deg] = nearest.1;
        Err(turns_not.unwrap_or(MachineError::Unreached { off_mm, off_deg }))
    }

    fn start(&self, rng: &mut impl Rng) -> Joints {
        Joints::from_fn(|i, _| {
            let [low, high] = self.limits_rad[i];
            if i < JOINTS - self.joints {
                0.0
            } else {
                rng.random_range(low..high)
            }
        })
    }

    /// Least distance of a joint from its limits, rad; negative beyond.
    fn room(&self, q: &Joints) -> f64 {
        (JOINTS - self.joints..JOINTS)
            .map(|i| (q[i] - self.limits_rad[i][0]).min(self.limits_rad[i][1] - q[i]))
            .fold(f64::INFINITY, f64::min)
    }

    /// Damped steps (Levenberg) towards a point and direction of the socket, its roll left free.
    fn seek(
        &self,
        mut q: Joints,
        point: &Vector3<f64>,
        direction: &Vector3<f64>,
    ) -> (Joints, SVector<f64, 5>) {
        let [x, y] = across(direction);
        let mut off = SVector::<f64, 5>::zeros();
        for _ in 0..STEPS {
            let frames = self.model.frames(&q);
            let jac = self.model.jacobian(&frames);
            let tilt = frames.socket.rotation * Vector3::z();
            // Also right where it points the other way, when the cross product is nothing.
            let turn = tilt.cross(direction);
            let turn = match tilt.dot(direction) < 0.0 {
                true => turn.try_normalize(1e-9).unwrap_or(x),
                false => turn,
            };
            let shift = point - frames.socket.translation.vector;
            off = SVector::from([shift.x, shift.y, shift.z, turn.dot(&x), turn.dot(&y)]);
            if off.norm() < REACHED {
                break;
            }
            let rows = rows(&jac, &x, &y);
            let gram = rows * rows.transpose() + Matrix5::identity() * 1e-4;
            let step = rows.transpose() * gram.lu().solve(&off).unwrap_or_else(SVector::zeros);
            q += step * (0.3 / step.amax().max(0.3));
            for i in 0..JOINTS {
                q[i] = q[i].clamp(self.limits_rad[i][0], self.limits_rad[i][1]);
            }
        }
        (q, off)
    }

    /// The pose of those that has room and is conditioned best.
    fn best(
        &self,
        poses: impl Iterator<Item = (Joints, f64)>,
        strokes: bool,
    ) -> Result<Standing, MachineError> {
        let wanted = if strokes { SWINGS_DEG[2] } else { 0.0 };
        let worth = |q: &Joints| {
            let jac = self.model.jacobian(&self.model.frames(q));
            let least = jac.svd(false, false).singular_values.min();
            let cramped = self.room(q) < ROOM_RAD;
            if cramped { 0.1 * least } else { least }
        };
        let mut ranked: Vec<_> = poses
            .map(|(mut q, along)| {
                if self.wrist_turns {
                    // The roll is free: the wrist stands in the middle of its range.
                    let [low, high] = self.limits_rad[JOINTS - 1];
                    q[JOINTS - 1] = 0.5 * (low + high);
                }
                (worth(&q), q, along)
            })
            .collect();
        ranked.sort_by(|a, b| b.0.total_cmp(&a.0));
        ranked
            .into_iter()
            .map(|(_, q, along_m)| Standing {
                pose_rad: q.into(),
                along_m,
                stroke_deg: if strokes { self.stroke(&q) } else { 0.0 },
            })
            .find(|s| s.stroke_deg >= wanted)
            .ok_or(MachineError::NoRoom(wanted))
    }

    /// Longest stroke about a pose that keeps within the limits, degrees.
    fn stroke(&self, q: &Joints) -> f64 {
        if self.wrist_turns {
            let [low, high] = self.limits_rad[JOINTS - 1];
            return (high - low - 2.0 * ROOM_RAD).to_degrees().min(WIDEST_DEG);
        }
        let seat = self.model.frames(q).socket;
        let holds = |deg: f64| {
            [-0.5, 0.5].iter().all(|side| {
                let turn = (side * deg).to_radians();
                let goal = seat * UnitQuaternion::from_axis_angle(&Vector3::z_axis(), turn);
                let mut at = *q;
                for _ in 0..60 {
                    at = self.model.follow(&at, &goal, q, false);
                }
                let end = self.model.frames(&at).socket;
                let off = (end.translation.vector - goal.translation.vector).norm()
                    + end.rotation.angle_to(&goal.rotation);
                off < 1e-3 && self.room(&at) >= 0.0
            })
        };
        SWINGS_DEG.into_iter().find(|d| holds(*d)).unwrap_or(0.0)
    }
}

/// Two directions across one.
fn across(direction: &Vector3<f64>) -> [Vector3<f64>; 2] {
    let other = if direction.z.abs() < 0.9 {
        Vector3::z()
    } else {
        Vector3::x()
    };
    let x = direction.cross(&other).normalize();
    [x, direction.cross(&x)]
}

/// The rows of a Jacobian that move the socket or tilt it.
fn rows(jac: &Jacobian, x: &Vector3<f64>, y: &Vector3<f64>) -> SMatrix<f64, 5, JOINTS> {
    let turning = jac.fixed_rows::<3>(3);
    let mut rows = SMatrix::<f64, 5, JOINTS>::zeros();
    rows.fixed_rows_mut::<3>(0)
        .copy_from(&jac.fixed_rows::<3>(0));
    rows.set_row(3, &(x.transpose() * turning));
    rows.set_row(4, &(y.transpose() * turning));
    rows
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
