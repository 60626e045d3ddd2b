//! Where an arm stands to turn a bolt: a pose within its limits, the best conditioned of many tries.

use nalgebra::{Matrix5, SMatrix, SVector, UnitQuaternion, Vector3};
use rand::Rng;

use super::super::arm::{Jacobian, Joints};
use super::super::setup::JOINTS;
use super::super::stream;
use super::{Machine, MachineError, Standing};

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

impl Machine {
    /// A pose with the socket on the line through a point (m, base frame) along a direction, the best
    /// conditioned of those found; without a line, the best of any. Where the arm itself turns the socket it
    /// needs room for strokes of `least_deg`.
    ///
    /// # Errors
    /// [`MachineError::Unreached`], [`MachineError::NoRoom`].
    pub fn stand(
        &self,
        line: Option<([f64; 3], [f64; 3])>,
        least_deg: Option<f64>,
    ) -> Result<Standing, MachineError> {
        let mut rng = stream(0, 0);
        let Some((point, direction)) = line else {
            let poses: Vec<_> = (0..4 * STARTS).map(|_| self.start(&mut rng)).collect();
            return self.best(poses.into_iter().map(|q| (q, 0.0)), least_deg);
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
                match self.best(reached.into_iter(), least_deg) {
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
        least_deg: Option<f64>,
    ) -> Result<Standing, MachineError> {
        let wanted = least_deg.unwrap_or(0.0);
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
                stroke_deg: least_deg.map_or(0.0, |_| self.stroke(&q)),
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
