//! What a wrist sensor reads of tool and payload, and what is left of its reading.

use core::array::from_fn;

use crate::arm::{ArmModel, ArmPose};
use crate::math::{Vec3, add, rotate_back, scale, within};
use crate::sample::WristReading;

use super::inertia::U;
use super::posterior::Row;

/// More than any arm bears, N and N·m; keeps the squares finite.
const LARGEST: f32 = 1e12;

/// What the arm bears of tool and payload, tip frame: force, then moment.
#[derive(Clone, Copy, Debug)]
pub(super) struct Borne<const N: usize> {
    weight_at_tare: Row,
    /// Largest load by acceleration of late.
    lately: Row,
    acceleration_rad_s2: [f32; N],
    fades: f32,
}

/// A wrist reading less what the arm bears, with the variance of that, which does not average out.
#[derive(Clone, Copy, Debug)]
pub(super) struct WristLoad {
    pub load: Row,
    pub variance: Row,
}

impl<const N: usize> Borne<N> {
    /// Nothing yet.
    pub const NONE: Self = Self {
        weight_at_tare: [0.0; 6],
        lately: [0.0; 6],
        acceleration_rad_s2: [0.0; N],
        fades: 0.0,
    };

    /// Takes note of how the joints speed up.
    pub fn speeds_up(&mut self, acceleration_rad_s2: &[f32; N], fades: f32) {
        (self.acceleration_rad_s2, self.fades) = (*acceleration_rad_s2, fades);
    }

    /// What is left of a reading in the tare.
    #[inline(never)]
    pub fn tare(&mut self, arm: &ArmModel<N>, pose: &ArmPose<N>, wrist: &WristReading) -> Row {
        let (weight, speeding) = (weight(arm, pose), self.speeding(arm, pose));
        self.weight_at_tare = weight;
        left(wrist, &weight, &speeding)
    }

    /// What is left of a reading. Weights are known to `mass_u`, a part of them; what of that was there at
    /// the tare is in the bias.
    // Out of the way of arms without such a sensor.
    #[inline(never)]
    pub fn take_off(
        &mut self,
        arm: &ArmModel<N>,
        pose: &ArmPose<N>,
        wrist: &WristReading,
    ) -> WristLoad {
        let (weight, speeding) = (weight(arm, pose), self.speeding(arm, pose));
        let mass_u = arm.mass_u();
        for k in 0..6 {
            let before = self.lately[k] * self.fades;
            self.lately[k] = if speeding[k].abs() > before {
                speeding[k].abs()
            } else {
                before
            };
        }
        WristLoad {
            load: left(wrist, &weight, &speeding),
            variance: from_fn(|k| {
                let by_mass = mass_u * (weight[k] - self.weight_at_tare[k]);
                let by_speeding = U * self.lately[k];
                by_mass * by_mass + by_speeding * by_speeding
            }),
        }
    }

    /// What speeds tool and payload up.
    fn speeding(&self, arm: &ArmModel<N>, pose: &ArmPose<N>) -> Row {
        let (mut linear, mut angular) = ([0.0; 3], [0.0; 3]);
        for (column, acceleration) in pose.jacobian.iter().zip(&self.acceleration_rad_s2) {
            let [vx, vy, vz, wx, wy, wz] = *column;
            linear = add(&linear, &scale(&[vx, vy, vz], *acceleration));
            angular = add(&angular, &scale(&[wx, wy, wz], *acceleration));
        }
        borne(arm, pose, &linear, &angular)
    }
}

/// What holds tool and payload against gravity: as much as to speed them up against it.
fn weight<const N: usize>(arm: &ArmModel<N>, pose: &ArmPose<N>) -> Row {
    borne(arm, pose, &scale(arm.gravity_m_s2(), -1.0), &[0.0; 3])
}

fn borne<const N: usize>(
    arm: &ArmModel<N>,
    pose: &ArmPose<N>,
    linear: &Vec3,
    angular: &Vec3,
) -> Row {
    let (force, moment) = arm.held_load(pose, linear, angular);
    let [fx, fy, fz] = rotate_back(&pose.tip.rotation, &force);
    let [mx, my, mz] = rotate_back(&pose.tip.rotation, &moment);
    [fx, fy, fz, mx, my, mz].map(|x| within(x, LARGEST))
}

fn left(wrist: &WristReading, weight: &Row, speeding: &Row) -> Row {
    let ([fx, fy, fz], [mx, my, mz]) = (wrist.force_n, wrist.moment_nm);
    let read = [fx, fy, fz, mx, my, mz];
    from_fn(|k| read[k] - weight[k] - speeding[k])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::arm::{
        ArmDescription, Body, FRICTION_TRANSITION_RAD_S, JointDescription, JointFriction, Transform,
    };
    use crate::math::{IDENTITY, sqrt};

    /// One joint about the vertical, the tip a metre out along x; tool of 3 kg, payload of 2 kg.
    fn arm() -> ArmModel<1> {
        let mut joints = heapless::Vec::new();
        let joint = JointDescription {
            name: heapless::String::new(),
            origin: Transform::IDENTITY,
            axis: [0.0, 0.0, 1.0],
            link: Body::NONE,
            friction: JointFriction::NONE,
            torque_noise_nm: None,
            torque_zero_u_nm: 0.0,
            torque_range_nm: None,
        };
        joints.push(joint).unwrap();
        let body = |mass_kg, y_m| Body {
            mass_kg,
            com_m: [0.0, y_m, 0.0],
        };
        ArmModel::try_new(&ArmDescription {
            joints,
            tip: Transform {
                rotation: IDENTITY,
                translation_m: [1.0, 0.0, 0.0],
            },
            tool: body(3.0, 0.0),
            payload: body(2.0, 0.1),
            gravity_m_s2: [0.0, 0.0, -10.0],
            mass_u: 0.01,
            friction_transition_rad_s: FRICTION_TRANSITION_RAD_S,
        })
        .unwrap()
    }

    const NOTHING: WristReading = WristReading {
        force_n: [0.0; 3],
        moment_nm: [0.0; 3],
    };

    fn borne_of(held: (bool, bool), acceleration_rad_s2: f32) -> WristLoad {
        let arm = arm();
        let mut borne = Borne::NONE;
        borne.speeds_up(&[acceleration_rad_s2], 0.9);
        let pose = arm.pose(&[0.0], held.0, held.1);
        borne.take_off(&arm, &pose, &NOTHING)
    }

    /// By hand: 30 N of tool, 20 N of payload a tenth aside, held up.
    #[test]
    fn only_what_is_held_is_taken_off() {
        let off = |tool, payload| borne_of((tool, payload), 0.0).load;
        assert_eq!(off(false, false), [0.0; 6]);
        assert_eq!(off(true, false), [0.0, 0.0, -30.0, 0.0, 0.0, 0.0]);
        assert_eq!(off(true, true), [0.0, 0.0, -50.0, -2.0, 0.0, 0.0]);
    }

    /// By hand: at 2 rad/s² the tip speeds up by 2 m/s² along y, so the tool takes 6 N; of those
    /// `U` is open, and less later.
    #[test]
    fn what_speeds_the_tool_up_is_taken_off_and_open() {
        let speeding = borne_of((true, false), 2.0);
        assert!((speeding.load[1] + 6.0).abs() < 1e-5, "{speeding:?}");
        assert!((sqrt(speeding.variance[1]) - 6.0 * U).abs() < 1e-4);
        let arm = arm();
        let pose = arm.pose(&[0.0], true, false);
        let mut borne = Borne::NONE;
        borne.speeds_up(&[2.0], 0.9);
        borne.take_off(&arm, &pose, &NOTHING);
        borne.speeds_up(&[0.0], 0.9);
        let after = borne.take_off(&arm, &pose, &NOTHING);
        assert_eq!(after.load[1], 0.0);
        assert!(
            (sqrt(after.variance[1]) - 5.4 * U).abs() < 1e-4,
            "{after:?}"
        );
    }

    /// A weight that was there at the tare is in the bias; one that was taken since is known to 1 %.
    #[test]
    fn what_the_weights_have_changed_by_since_the_tare_is_open() {
        let arm = arm();
        let mut borne = Borne::NONE;
        let with_tool = arm.pose(&[0.0], true, false);
        assert_eq!(borne.tare(&arm, &with_tool, &NOTHING)[2], -30.0);
        assert_eq!(
            borne.take_off(&arm, &with_tool, &NOTHING).variance,
            [0.0; 6]
        );
        let laden = borne.take_off(&arm, &arm.pose(&[0.0], true, true), &NOTHING);
        assert!((sqrt(laden.variance[2]) - 0.2).abs() < 1e-5, "{laden:?}");
        assert!((sqrt(laden.variance[3]) - 0.02).abs() < 1e-5, "{laden:?}");
    }
}
