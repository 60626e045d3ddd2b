//! The core in f32, through the URDF reader, against a general rigid-body library in f64.
//!
//! `tests/reference/kinematics.py` (PyPI `pin`) wrote the table; it says how, and `--check` repeats it.

use bolting_host::urdf;
use bolting_monitor::arm::{ArmModel, ArmPose};

const N: usize = 7;
const URDF: &str = include_str!("../../tests/reference/arm7.urdf");
const TABLE: &str = include_str!("../../tests/reference/kinematics.csv");

/// Position and Jacobian of an arm of 1 m reach after a product of eight f32 rotations, m and m/rad:
/// a hundredth of a millimetre, far below what a joint encoder tells.
const LENGTH_TOLERANCE: f64 = 1e-5;
/// Of the norm of the gravity torques of the pose.
const GRAVITY_TOLERANCE: f64 = 1e-4;

fn worst(ours: impl IntoIterator<Item = f32>, reference: &[f64]) -> f64 {
    let ours: Vec<f64> = ours.into_iter().map(f64::from).collect();
    assert_eq!(ours.len(), reference.len());
    assert!(ours.iter().all(|x| x.is_finite()));
    ours.iter()
        .zip(reference)
        .map(|(ours, reference)| (ours - reference).abs())
        .fold(0.0, f64::max)
}

#[test]
fn pose_jacobian_and_gravity_agree_with_the_reference() {
    let read = urdf::read(URDF, None, "tool_flange").unwrap();
    let model = ArmModel::<N>::try_new(&read.arm).unwrap();
    let (mut position, mut rotation, mut jacobian, mut gravity) =
        (0.0_f64, 0.0_f64, 0.0_f64, 0.0_f64);
    let mut poses = 0;
    for row in csv::Reader::from_reader(TABLE.as_bytes()).deserialize() {
        let row: Vec<f64> = row.unwrap();
        let (q, row) = row.split_at(N);
        let (p, row) = row.split_at(3);
        let (r, row) = row.split_at(9);
        let (j, g) = row.split_at(6 * N);
        let q: [f32; N] = std::array::from_fn(|i| q[i] as f32);
        let ArmPose {
            tip,
            jacobian: columns,
            gravity_nm,
            com_m: _,
            held: _,
        } = model.pose(&q, false, false);

        position = position.max(worst(tip.translation_m, p));
        rotation = rotation.max(worst(tip.rotation.into_iter().flatten(), r));
        let rows = (0..6).flat_map(|axis| columns.map(|column| column[axis]));
        jacobian = jacobian.max(worst(rows, j));
        let norm = g.iter().map(|x| x * x).sum::<f64>().sqrt();
        gravity = gravity.max(worst(gravity_nm, g) / norm);
        poses += 1;
    }
    println!(
        "worst of {poses} poses: position {position:.2e} m, rotation {rotation:.2e}, \
         Jacobian {jacobian:.2e}, gravity {gravity:.2e} of its norm"
    );
    assert_eq!(poses, 240);
    assert!(position <= LENGTH_TOLERANCE, "position {position:e} m");
    assert!(rotation <= LENGTH_TOLERANCE, "rotation {rotation:e}");
    assert!(jacobian <= LENGTH_TOLERANCE, "Jacobian {jacobian:e}");
    assert!(gravity <= GRAVITY_TOLERANCE, "gravity {gravity:e}");
}
