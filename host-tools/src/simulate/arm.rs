//! Rigid-body arm in f64: frames, Jacobian at the socket, recursive Newton-Euler, path following.

use nalgebra::{
    Isometry3, Matrix3, Matrix6, SMatrix, SVector, Translation3, UnitQuaternion, Vector3, Vector6,
};

use super::setup::{JOINTS, Payload, Tool};

/// Nominal description of the arm, written beside every run.
pub const URDF: &str = include_str!("arm.urdf");

const GRAVITY: f64 = 9.81;

pub(super) type Joints = SVector<f64, JOINTS>;
pub(super) type Jacobian = SMatrix<f64, 6, JOINTS>;

/// Mass, centre and inertia about the centre, in the frame of the link.
#[derive(Clone, Copy)]
pub(super) struct Body {
    pub mass: f64,
    pub centre: Vector3<f64>,
    pub inertia: Matrix3<f64>,
}

#[derive(Clone)]
pub(super) struct Link {
    /// From the parent link to this joint at zero.
    pub origin: Isometry3<f64>,
    /// Joint axis in the frame of the link; zero: a place at the base that this arm leaves empty.
    pub axis: Vector3<f64>,
    /// The link and, on the last one, the tool.
    pub bodies: Vec<Body>,
}

/// The arm with its tool.
#[derive(Clone)]
pub(super) struct Model {
    /// One for each place: an arm of fewer joints leaves the first ones empty.
    pub links: Vec<Link>,
    pub flange: Isometry3<f64>,
    /// From the flange to the socket; z turns the bolt.
    pub tool: Isometry3<f64>,
    /// Acceleration of gravity in the base frame, m/s².
    pub gravity: Vector3<f64>,
}

/// Frames of all joints and of the socket at one position.
pub(super) struct Frames {
    pub joints: [Isometry3<f64>; JOINTS],
    pub socket: Isometry3<f64>,
}

pub(super) fn isometry(pose: &urdf_rs::Pose) -> Isometry3<f64> {
    let [x, y, z] = pose.xyz.0;
    let [r, p, w] = pose.rpy.0;
    Isometry3::from_parts(
        Translation3::new(x, y, z),
        UnitQuaternion::from_euler_angles(r, p, w),
    )
}

impl Model {
    /// The nominal arm with a tool, its centre of mass on the flange's z axis.
    ///
    /// # Panics
    /// Never on the URDF that is built in, which a test reads.
    pub fn nominal(tool: &Tool) -> Self {
        let robot = urdf_rs::read_from_string(URDF).expect("the built-in URDF parses");
        let mut links: Vec<Link> = robot
            .joints
            .iter()
            .filter(|j| j.joint_type == urdf_rs::JointType::Revolute)
            .map(|j| {
                let link = robot.links.iter().find(|l| l.name == j.child.link);
                let i = &link.expect("every joint has a child").inertial;
                let n = &i.inertia;
                Link {
                    origin: isometry(&j.origin),
                    axis: Vector3::from(j.axis.xyz.0),
                    bodies: vec![Body {
                        mass: i.mass.value,
                        centre: Vector3::from(i.origin.xyz.0),
                        inertia: Matrix3::new(
                            n.ixx, n.ixy, n.ixz, n.ixy, n.iyy, n.iyz, n.ixz, n.iyz, n.izz,
                        ),
                    }],
                }
            })
            .collect();
        let mount = robot
            .joints
            .iter()
            .find(|j| j.joint_type == urdf_rs::JointType::Fixed);
        let flange = isometry(&mount.expect("the flange is mounted").origin);
        // A slender rod of the tool's length.
        let rod = tool.mass_kg * tool.length_m * tool.length_m / 12.0;
        links.last_mut().expect("seven joints").bodies.push(Body {
            mass: tool.mass_kg,
            centre: flange * nalgebra::Point3::new(0.0, 0.0, tool.centre_m)
                - nalgebra::Point3::origin(),
            inertia: Matrix3::from_diagonal(&Vector3::new(rod, rod, 0.2 * rod)),
        });
        let turn = if tool.angle_head {
            std::f64::consts::FRAC_PI_2
        } else {
            0.0
        };
        let tool = Isometry3::from_parts(
            Translation3::new(0.0, 0.0, tool.length_m),
            UnitQuaternion::from_axis_angle(&Vector3::y_axis(), turn),
        );
        Self {
            links,
            flange,
            tool,
            gravity: Vector3::new(0.0, 0.0, -GRAVITY),
        }
    }

    /// Lets true masses and centres differ from the nominal ones.
    pub fn perturb(&mut self, mut change: impl FnMut(&mut Body)) {
        self.links
            .iter_mut()
            .flat_map(|l| &mut l.bodies)
            .for_each(&mut change);
    }

    pub fn frames(&self, q: &Joints) -> Frames {
        let mut at = Isometry3::identity();
        let mut joints = [at; JOINTS];
        for (i, link) in self.links.iter().enumerate() {
            let turn = UnitQuaternion::from_scaled_axis(link.axis * q[i]);
            at = at * link.origin * turn;
            joints[i] = at;
        }
        Frames {
            joints,
            socket: at * self.flange * self.tool,
        }
    }

    /// Velocity of the socket (linear above, angular below) per joint velocity.
    pub fn jacobian(&self, frames: &Frames) -> Jacobian {
        let at = frames.socket.translation.vector;
        let mut out = Jacobian::zeros();
        for (i, (link, frame)) in self.links.iter().zip(&frames.joints).enumerate() {
            let axis = frame.rotation * link.axis;
            out.fixed_view_mut::<3, 1>(0, i)
                .copy_from(&axis.cross(&(at - frame.translation.vector)));
            out.fixed_view_mut::<3, 1>(3, i).copy_from(&axis);
        }
        out
    }

    /// Joint torques that move the arm so, gravity included (recursive Newton-Euler).
    pub fn inverse_dynamics(&self, frames: &Frames, dq: &Joints, ddq: &Joints) -> Joints {
        let (mut w, mut dw) = (Vector3::zeros(), Vector3::zeros());
        // Gravity enters as an upward acceleration of the base.
        let mut acc = -self.gravity;
        let mut origin = Vector3::zeros();
        // Force and moment about the base origin that each link needs.
        let mut loads = [(Vector3::zeros(), Vector3::zeros()); JOINTS];
        for (i, (link, frame)) in self.links.iter().zip(&frames.joints).enumerate() {
            let arm = frame.translation.vector - origin;
            acc += dw.cross(&arm) + w.cross(&w.cross(&arm));
            origin = frame.translation.vector;
            let axis = frame.rotation * link.axis;
            dw += axis * ddq[i] + w.cross(&axis) * dq[i];
            w += axis * dq[i];
            for body in &link.bodies {
                let r = frame.rotation * body.centre;
                let a = acc + dw.cross(&r) + w.cross(&w.cross(&r));
                let turn = frame.rotation.to_rotation_matrix();
                let inertia = turn.matrix() * body.inertia * turn.matrix().transpose();
                let force = a * body.mass;
                let moment = inertia * dw + w.cross(&(inertia * w));
                loads[i].0 += force;
                loads[i].1 += (origin + r).cross(&force) + moment;
            }
        }
        let mut tau = Joints::zeros();
        let (mut force, mut moment) = (Vector3::zeros(), Vector3::zeros());
        for i in (0..JOINTS).rev() {
            force += loads[i].0;
            moment += loads[i].1;
            let frame = &frames.joints[i];
            let about = moment - frame.translation.vector.cross(&force);
            tau[i] = (frame.rotation * self.links[i].axis).dot(&about);
        }
        tau
    }

    /// Where a link (from 1) meets the next joint, base frame.
    pub fn link_end(&self, frames: &Frames, link: usize) -> Vector3<f64> {
        frames.joints[link.min(JOINTS - 1)].translation.vector
    }

    /// Joint torques that hold against a force (base frame) at the end of a link, from 1.
    pub fn holding(&self, frames: &Frames, link: usize, force: &Vector3<f64>) -> Joints {
        let at = self.link_end(frames, link);
        Joints::from_fn(|i, _| {
            if i < link {
                let axis = frames.joints[i].rotation * self.links[i].axis;
                -axis.dot(&(at - frames.joints[i].translation.vector).cross(force))
            } else {
                0.0
            }
        })
    }

    /// The same arm with a point mass held in the frame of the flange.
    pub fn with_payload(&self, payload: &Payload) -> Self {
        let mut held = self.clone();
        let centre = self.flange * nalgebra::Point3::from(payload.centre_m);
        if let Some(last) = held.links.last_mut() {
            last.bodies.push(Body {
                mass: payload.mass_kg,
                centre: centre - nalgebra::Point3::origin(),
                inertia: Matrix3::zeros(),
            });
        }
        held
    }

    /// Potential energy of all bodies, J.
    #[cfg(test)]
    pub fn potential(&self, frames: &Frames) -> f64 {
        let height =
            |frame: &Isometry3<f64>, body: &Body| (frame * nalgebra::Point3::from(body.centre)).z;
        self.links
            .iter()
            .zip(&frames.joints)
            .flat_map(|(link, frame)| {
                link.bodies
                    .iter()
                    .map(move |b| GRAVITY * b.mass * height(frame, b))
            })
            .sum()
    }

    /// One Newton step from `q` towards a socket frame, mostly by the last joint; what redundancy
    /// leaves free pulls towards `rest`.
    pub fn follow(
        &self,
        q: &Joints,
        goal: &Isometry3<f64>,
        rest: &Joints,
        favour_last: bool,
    ) -> Joints {
        let frames = self.frames(q);
        let jac = self.jacobian(&frames);
        let turn = (goal.rotation * frames.socket.rotation.inverse()).scaled_axis();
        let shift = goal.translation.vector - frames.socket.translation.vector;
        let error = Vector6::new(shift.x, shift.y, shift.z, turn.x, turn.y, turn.z);
        let mut weight = Joints::repeat(1.0);
        let mut pull = (rest - q) * 2e-3;
        if favour_last {
            weight[JOINTS - 1] = 300.0;
            pull[JOINTS - 1] = 0.0;
        }
        let weighted = Jacobian::from_fn(|r, c| jac[(r, c)] * weight[c]);
        // The tiny addition only keeps the solution finite exactly at a singular pose.
        let gram = weighted * jac.transpose() + Matrix6::identity() * 1e-9;
        let target = error - jac * pull;
        let step = gram.lu().solve(&target).unwrap_or_else(Vector6::zeros);
        q + pull + weighted.transpose() * step
    }
}
