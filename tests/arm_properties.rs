//! Laws that every arm obeys, whatever its figures: the Jacobian is the derivative of the pose, the
//! holding torques are the gradient of the potential energy, the inertial ones that of the kinetic
//! energy, friction never drives, and no input makes a figure that is not finite.

use bolting_monitor::arm::{
    ArmDescription, ArmModel, Body, FRICTION_TRANSITION_RAD_S, JointDescription, JointFriction,
    Transform,
};
use bolting_monitor::math::{axis_rotation, dot, mat_mul, unit};
use proptest::prelude::*;

const N: usize = 6;
/// Half width of the central difference, rad: truncation (h²/6) and f32 rounding (1e-6/h) balance.
const STEP_RAD: f32 = 1e-2;
/// Error of the central difference per unit of the function differentiated, several times over.
const DIFFERENCE_TOLERANCE: f32 = 1e-3;

fn direction() -> impl Strategy<Value = [f32; 3]> {
    [-1.0_f32..1.0, -1.0_f32..1.0, -1.0_f32..1.0].prop_filter_map("has a direction", |v| {
        unit(&v).filter(|_| dot(&v, &v) > 0.01)
    })
}

fn place() -> impl Strategy<Value = Transform> {
    (
        direction(),
        -3.0_f32..3.0,
        prop::array::uniform3(-0.3_f32..0.3),
    )
        .prop_map(|(axis, angle, translation_m)| Transform {
            rotation: axis_rotation(&axis, angle),
            translation_m,
        })
}

fn body() -> impl Strategy<Value = Body> {
    (0.0_f32..6.0, prop::array::uniform3(-0.2_f32..0.2))
        .prop_map(|(mass_kg, com_m)| Body { mass_kg, com_m })
}

fn friction() -> impl Strategy<Value = JointFriction> {
    (0.0_f32..5.0, 0.0_f32..1.0, 0.0_f32..5.0, 0.0_f32..1.0).prop_map(
        |(coulomb_nm, coulomb_u_nm, viscous_nm_s_per_rad, viscous_u_nm_s_per_rad)| JointFriction {
            coulomb_nm,
            coulomb_u_nm,
            viscous_nm_s_per_rad,
            viscous_u_nm_s_per_rad,
        },
    )
}

fn joint() -> impl Strategy<Value = JointDescription> {
    (place(), direction(), 0.5_f32..3.0, body(), friction()).prop_map(
        |(origin, axis, length, link, friction)| JointDescription {
            name: heapless::String::try_from("joint").unwrap(),
            origin,
            axis: axis.map(|x| x * length),
            link,
            friction,
            torque_noise_nm: None,
            torque_zero_u_nm: 0.05,
            torque_range_nm: None,
        },
    )
}

fn arm() -> impl Strategy<Value = ArmDescription> {
    (
        prop::collection::vec(joint(), N),
        place(),
        body(),
        body(),
        prop::array::uniform3(-10.0_f32..10.0),
    )
        .prop_map(
            |(joints, tip, tool, payload, gravity_m_s2)| ArmDescription {
                joints: joints.into_iter().collect(),
                tip,
                tool,
                payload,
                gravity_m_s2,
                mass_u: 0.02,
                friction_transition_rad_s: FRICTION_TRANSITION_RAD_S,
            },
        )
}

fn position() -> impl Strategy<Value = [f32; N]> {
    prop::array::uniform6(-3.1_f32..3.1)
}

fn any_bits() -> impl Strategy<Value = [f32; N]> {
    prop::array::uniform6(any::<u32>().prop_map(f32::from_bits))
}

fn model(description: &ArmDescription) -> ArmModel<N> {
    ArmModel::try_new(description).unwrap()
}

/// Both ends of a central difference in joint `i`.
fn around(position: &[f32; N], i: usize) -> [[f32; N]; 2] {
    [-STEP_RAD, STEP_RAD].map(|step| {
        let mut moved = *position;
        moved[i] += step;
        moved
    })
}

/// Potential energy in J of the body on link `k`, from the pose alone: the arm is straightened into
/// its link `k` and its tip put at the centre of mass.
fn energy(
    arm: &ArmDescription,
    position: &[f32; N],
    k: usize,
    body: &Body,
    frame: &Transform,
) -> f32 {
    let mut cut = arm.clone();
    let mut q = *position;
    for j in k + 1..N {
        cut.joints[j].origin = Transform::IDENTITY;
        q[j] = 0.0;
    }
    cut.tip = Transform {
        rotation: frame.rotation,
        translation_m: frame.point(&body.com_m),
    };
    let com_m = model(&cut).pose(&q, false, false).tip.translation_m;
    -body.mass_kg * dot(&com_m, &arm.gravity_m_s2)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn jacobian_is_the_derivative_of_the_pose(arm in arm(), q in position()) {
        let model = model(&arm);
        let column = model.pose(&q, true, true).jacobian;
        for i in 0..N {
            let [before, after] = around(&q, i).map(|q| model.pose(&q, true, true).tip);
            for axis in 0..3 {
                let slope = (after.translation_m[axis] - before.translation_m[axis]) / (2.0 * STEP_RAD);
                prop_assert!((column[i][axis] - slope).abs() < DIFFERENCE_TOLERANCE * 3.0,
                    "joint {i}, linear {axis}: {} against {slope}", column[i][axis]);
            }
            // R(after)·R(before)ᵀ turns by 2h about ω: its skew part is sin(2h)·ω.
            let mut back = before.rotation;
            for (row, cells) in back.iter_mut().enumerate() {
                for (col, cell) in cells.iter_mut().enumerate() {
                    *cell = before.rotation[col][row];
                }
            }
            let turn = mat_mul(&after.rotation, &back);
            for (axis, (r, c)) in [(2, 1), (0, 2), (1, 0)].into_iter().enumerate() {
                let slope = (turn[r][c] - turn[c][r]) / (4.0 * STEP_RAD);
                prop_assert!((column[i][3 + axis] - slope).abs() < DIFFERENCE_TOLERANCE,
                    "joint {i}, angular {axis}: {} against {slope}", column[i][3 + axis]);
            }
        }
    }

    #[test]
    fn gravity_is_the_gradient_of_the_potential_energy(arm in arm(), q in position(),
                                                       tool_held: bool, payload_held: bool) {
        let total = |q: &[f32; N]| -> f32 {
            let links = (0..N).map(|k| energy(&arm, q, k, &arm.joints[k].link, &Transform::IDENTITY));
            let held = [(&arm.tool, tool_held), (&arm.payload, payload_held)]
                .into_iter()
                .filter(|(_, held)| *held)
                .map(|(body, _)| energy(&arm, q, N - 1, body, &arm.tip));
            links.chain(held).sum()
        };
        // Largest energy that turning a joint could move: every body at full reach.
        let reach = 0.52 * (N + 1) as f32 + 0.35;
        let mass: f32 = arm.joints.iter().map(|j| j.link.mass_kg).sum::<f32>()
            + arm.tool.mass_kg + arm.payload.mass_kg;
        let scale = 1.0 + mass * reach * dot(&arm.gravity_m_s2, &arm.gravity_m_s2).sqrt();
        let held = model(&arm).pose(&q, tool_held, payload_held).gravity_nm;
        for i in 0..N {
            let [before, after] = around(&q, i).map(|q| total(&q));
            let slope = (after - before) / (2.0 * STEP_RAD);
            prop_assert!((held[i] - slope).abs() < DIFFERENCE_TOLERANCE * scale,
                "joint {i}: {} N·m against {slope}", held[i]);
        }
    }

    /// From rest, `τ = Σ m (∂c/∂q)ᵀ (∂c/∂q) ddq` over all bodies, their centres moved by differences.
    #[test]
    fn inertia_is_that_of_the_moving_centres_of_mass(arm in arm(), q in position(), ddq in position(),
                                                     tool_held: bool, payload_held: bool) {
        let model = model(&arm);
        let centres = |q: &[f32; N]| {
            let pose = model.pose(q, tool_held, payload_held);
            let hand = [&arm.tool, &arm.payload].map(|body| pose.tip.point(&body.com_m));
            let mut all = pose.com_m.to_vec();
            all.extend(hand);
            all
        };
        let held = |is: bool, body: &Body| if is { body.mass_kg } else { 0.0 };
        let mut masses: Vec<f32> = arm.joints.iter().map(|j| j.link.mass_kg).collect();
        masses.extend([held(tool_held, &arm.tool), held(payload_held, &arm.payload)]);
        let slopes: Vec<Vec<[f32; 3]>> = (0..N)
            .map(|i| {
                let [before, after] = around(&q, i).map(|q| centres(&q));
                let slope = |(a, b): (&[f32; 3], &[f32; 3])| {
                    core::array::from_fn(|k| (a[k] - b[k]) / (2.0 * STEP_RAD))
                };
                after.iter().zip(&before).map(slope).collect()
            })
            .collect();
        let got = model.inertia(&model.pose(&q, tool_held, payload_held), tool_held, payload_held).torque_nm(&ddq);
        let reach = 0.52 * (N + 1) as f32 + 0.35;
        let most = masses.iter().sum::<f32>() * reach * reach * ddq.iter().map(|x| x.abs()).sum::<f32>();
        for i in 0..N {
            let mut due = 0.0;
            for (b, mass) in masses.iter().enumerate() {
                for (j, acceleration) in ddq.iter().enumerate() {
                    due += mass * dot(&slopes[i][b], &slopes[j][b]) * acceleration;
                }
            }
            prop_assert!((got[i] - due).abs() < DIFFERENCE_TOLERANCE * (1.0 + most),
                "joint {i}: {} N·m against {due}", got[i]);
        }
    }

    #[test]
    fn any_bits_give_finite_figures(arm in arm(), bits in any_bits()) {
        let model = model(&arm);
        let pose = model.pose(&bits, true, true);
        prop_assert!(pose.gravity_nm.iter().all(|x| x.is_finite()));
        prop_assert!(pose.jacobian.iter().flatten().all(|x| x.is_finite()));
        prop_assert!(pose.tip.translation_m.iter().all(|x| x.is_finite()));
        prop_assert!(model.inertia(&pose, true, true).torque_nm(&bits).iter().all(|x| x.is_finite()));
        let friction = model.friction(&bits);
        prop_assert!(friction.torque_nm.iter().all(|x| x.is_finite()));
        prop_assert!(friction.u_nm().iter().all(|x| x.is_finite() && *x >= 0.0));
    }

    #[test]
    fn friction_opposes_motion_and_is_a_band_at_rest(arm in arm(), dq in position()) {
        let model = model(&arm);
        let moving = model.friction(&dq);
        let at_rest = model.friction(&[0.0; N]);
        for i in 0..N {
            let f = &arm.joints[i].friction;
            prop_assert!(moving.torque_nm[i] * dq[i] >= 0.0);
            prop_assert_eq!(at_rest.torque_nm[i], 0.0);
            // Uniform within ±Coulomb: half width over √3.
            prop_assert!((at_rest.u_nm()[i] - f.coulomb_nm / 3.0_f32.sqrt()).abs() < 1e-5);
            if dq[i].abs() > FRICTION_TRANSITION_RAD_S {
                let torque = f.coulomb_nm + f.viscous_nm_s_per_rad * dq[i].abs();
                let u = f.coulomb_u_nm.hypot(f.viscous_u_nm_s_per_rad * dq[i]);
                prop_assert!((moving.torque_nm[i].abs() - torque).abs() < 1e-4);
                prop_assert!((moving.u_nm()[i] - u).abs() < 1e-4);
            }
        }
    }

    #[test]
    fn a_description_of_any_bits_is_refused_or_safe(arm in arm(), place in 0..8, bits: u32, q in any_bits()) {
        let mut arm = arm;
        *match place {
            0 => &mut arm.joints[2].axis[1],
            1 => &mut arm.joints[3].link.mass_kg,
            2 => &mut arm.joints[3].link.com_m[0],
            3 => &mut arm.joints[1].friction.coulomb_nm,
            4 => &mut arm.gravity_m_s2[1],
            5 => &mut arm.tip.translation_m[2],
            6 => &mut arm.joints[0].origin.rotation[1][1],
            _ => &mut arm.friction_transition_rad_s,
        } = f32::from_bits(bits);
        if let Ok(model) = ArmModel::<N>::try_new(&arm) {
            let pose = model.pose(&q, true, true);
            prop_assert!(pose.gravity_nm.iter().all(|x| x.is_finite()));
            prop_assert!(pose.jacobian.iter().flatten().all(|x| x.is_finite()));
            prop_assert!(model.friction(&q).u_nm().iter().all(|x| x.is_finite()));
        }
    }
}
