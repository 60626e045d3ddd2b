//! The same in `nalgebra`, as a textbook writes it: a product of frames, `z × (p_tip − p)`, one sum
//! over bodies per joint for gravity, and the normal equations by Cholesky.

use bolting_monitor::arm::{ArmDescription, Body, Transform};
use nalgebra::{
    Isometry3, Matrix3, Matrix6, Point3, RealField, Rotation3, SMatrix, SVector, Translation3,
    UnitQuaternion, UnitVector3, Vector3, Vector6, convert,
};

use super::{AXIS, Answer, N, PRIOR, Sample, TORQUE_U_NM};

struct Joint<T: RealField> {
    origin: Isometry3<T>,
    axis: UnitVector3<T>,
    mass_kg: T,
    com_m: Point3<T>,
}

/// The arm in figures of type `T`.
pub struct Textbook<T: RealField> {
    joints: Vec<Joint<T>>,
    tip: Isometry3<T>,
    gravity_m_s2: Vector3<T>,
}

fn vector<T: RealField>(v: [f32; 3]) -> Vector3<T> {
    Vector3::from(v.map(|x| convert(f64::from(x))))
}

fn frame<T: RealField>(t: &Transform) -> Isometry3<T> {
    let rows = t.rotation;
    let rotation = Matrix3::from_fn(|i, j| convert::<f64, T>(f64::from(rows[i][j])));
    Isometry3::from_parts(
        Translation3::from(vector(t.translation_m)),
        UnitQuaternion::from_rotation_matrix(&Rotation3::from_matrix_unchecked(rotation)),
    )
}

impl<T: RealField + Copy> Textbook<T> {
    /// From a description.
    pub fn new(arm: &ArmDescription) -> Self {
        let joints = arm.joints.iter().map(|joint| {
            let Body { mass_kg, com_m } = joint.link;
            Joint {
                origin: frame(&joint.origin),
                axis: UnitVector3::new_normalize(vector(joint.axis)),
                mass_kg: convert(f64::from(mass_kg)),
                com_m: Point3::from(vector(com_m)),
            }
        });
        Self {
            joints: joints.collect(),
            tip: frame(&arm.tip),
            gravity_m_s2: vector(arm.gravity_m_s2),
        }
    }

    /// Pose to answer.
    pub fn solve(&self, sample: &Sample) -> Answer
    where
        f64: From<T>,
    {
        let mut at = Isometry3::identity();
        let mut origins = [Vector3::zeros(); N];
        let mut axes = [Vector3::zeros(); N];
        let mut coms = [Vector3::zeros(); N];
        for (i, joint) in self.joints.iter().enumerate() {
            at *= joint.origin;
            origins[i] = at.translation.vector;
            axes[i] = at * joint.axis.into_inner();
            let turn =
                UnitQuaternion::from_axis_angle(&joint.axis, convert(sample.position_rad[i]));
            at *= turn;
            coms[i] = (at * joint.com_m).coords;
        }
        let tip = (at * self.tip).translation.vector;

        let mut jacobian = SMatrix::<T, 6, N>::zeros();
        let mut external = SVector::<T, N>::zeros();
        for i in 0..N {
            let linear = axes[i].cross(&(tip - origins[i]));
            jacobian.fixed_view_mut::<3, 1>(0, i).copy_from(&linear);
            jacobian.fixed_view_mut::<3, 1>(3, i).copy_from(&axes[i]);
            let mut holding = T::zero();
            for j in i..N {
                let weight = self.gravity_m_s2 * self.joints[j].mass_kg;
                holding -= axes[i].dot(&(coms[j] - origins[i]).cross(&weight));
            }
            external[i] = convert::<f64, T>(sample.torque_nm[i]) - holding;
        }

        let (f, m) = PRIOR;
        let prior = [f, f, f, m, m, m].map(|s| convert::<f64, T>(1.0 / (s * s)));
        let mut information = Matrix6::from_diagonal(&Vector6::from(prior));
        let mut values = Vector6::zeros();
        for i in 0..N {
            let row = jacobian.column(i);
            let weighted = row * convert::<f64, T>(1.0 / (TORQUE_U_NM[i] * TORQUE_U_NM[i]));
            information += weighted * row.transpose();
            values += weighted * external[i];
        }
        let axis = Vector3::from(AXIS.map(convert));
        let functional = Vector6::new(T::zero(), T::zero(), T::zero(), axis.x, axis.y, axis.z);
        // No pose of the table is so poor that the prior would not hold the matrix positive.
        let Some(root) = information.cholesky() else {
            return Answer {
                moment_nm: f64::NAN,
                u_nm: f64::NAN,
            };
        };
        let spread = root.solve(&functional);
        Answer {
            moment_nm: f64::from(spread.dot(&values)),
            u_nm: f64::from(spread.dot(&functional)).sqrt(),
        }
    }
}
