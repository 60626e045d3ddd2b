//! What the crate's own gravity and inertia leave of the joint torques, and how that would change if the
//! masses were others.

use bolting_monitor::arm::{ArmDescription, ArmError, ArmModel, Body, MAX_JOINTS};
use bolting_monitor::sample::JointSample;

use super::pieces::{Piece, pieces, usual_step_us};
use crate::samples::Recording;

/// A figure for each joint; those beyond the arm's are zero.
pub type PerJoint = [f64; MAX_JOINTS];

/// Recordings as the arm explains them.
#[derive(Clone, Debug)]
pub struct Explained {
    /// Their pieces, one recording after the other.
    pub pieces: Vec<Piece>,
    /// Torques less gravity and inertia of each piece, N·m.
    pub left_nm: Vec<PerJoint>,
    /// Gravity of each piece, N·m.
    pub gravity_nm: Vec<PerJoint>,
    /// Gravity of a kilogram more on each axis of each link's frame, a metre out: three columns a link.
    pub kilogram_nm: Vec<Vec<PerJoint>>,
    /// White noise of each joint's torque, N·m.
    pub noise_nm: Vec<Option<f64>>,
    /// Time in the pieces, s.
    pub duration_s: f64,
    /// How many recordings.
    pub recordings: usize,
}

/// Explains recordings of an arm of `N` joints.
///
/// # Errors
/// The description is not of `N` joints, or is no arm.
pub fn all<const N: usize>(
    arm: &ArmDescription,
    recordings: &[Recording],
) -> Result<Explained, ArmError> {
    let model = ArmModel::<N>::try_new(arm)?;
    let heavier = heavier::<N>(arm)?;
    let samples: Vec<Vec<JointSample<N>>> = (recordings.iter())
        .map(|r| r.samples::<N>().into_iter().flatten().collect())
        .collect();
    let pieces: Vec<Piece> = (samples.iter().enumerate())
        .flat_map(|(i, samples)| pieces(samples, i))
        .collect();
    let mut explained = Explained {
        left_nm: Vec::new(),
        gravity_nm: Vec::new(),
        kilogram_nm: Vec::new(),
        noise_nm: (0..N).map(|joint| noise_nm(&samples, joint)).collect(),
        duration_s: (pieces.windows(2))
            .filter(|pair| pair[1].follows)
            .map(|pair| pair[1].time_s - pair[0].time_s)
            .sum(),
        recordings: recordings.len(),
        pieces,
    };
    for piece in &explained.pieces {
        let at: [f32; N] = std::array::from_fn(|j| piece.position_rad[j] as f32);
        let speeding: [f32; N] = std::array::from_fn(|j| piece.acceleration_rad_s2[j] as f32);
        let (tool, payload) = piece.held;
        let pose = model.pose(&at, tool, payload);
        let inertia_nm = model.inertia(&pose, tool, payload).torque_nm(&speeding);
        let per_joint = |of: &dyn Fn(usize) -> f64| -> PerJoint {
            std::array::from_fn(|j| if j < N { of(j) } else { 0.0 })
        };
        let gravity_nm = per_joint(&|j| f64::from(pose.gravity_nm[j]));
        explained.left_nm.push(per_joint(&|j| {
            piece.torque_nm[j] - gravity_nm[j] - f64::from(inertia_nm[j])
        }));
        let columns = heavier.iter().map(|heavier| {
            let more = heavier.pose(&at, tool, payload).gravity_nm;
            per_joint(&|j| f64::from(more[j] - pose.gravity_nm[j]))
        });
        explained.kilogram_nm.push(columns.collect());
        explained.gravity_nm.push(gravity_nm);
    }
    Ok(explained)
}

/// The arm with a kilogram more, a metre out on one axis of one link.
fn heavier<const N: usize>(arm: &ArmDescription) -> Result<Vec<ArmModel<N>>, ArmError> {
    let mut heavier = Vec::new();
    for link in 0..N {
        for axis in 0..3 {
            let mut arm = arm.clone();
            let Some(joint) = arm.joints.get_mut(link) else {
                continue;
            };
            let Body { mass_kg, com_m } = joint.link;
            let mut moment = com_m.map(|c| c * mass_kg);
            moment[axis] += 1.0;
            joint.link = Body {
                mass_kg: mass_kg + 1.0,
                com_m: moment.map(|m| m / (mass_kg + 1.0)),
            };
            heavier.push(ArmModel::try_new(&arm)?);
        }
    }
    Ok(heavier)
}

/// White noise of a joint's torque, from second differences, in which slower torques cancel; their variance
/// is six times the noise's.
fn noise_nm<const N: usize>(recordings: &[Vec<JointSample<N>>], joint: usize) -> Option<f64> {
    /// Fewest differences from which a spread is told to some percent.
    const FEW: usize = 500;
    let differences: Vec<f64> = (recordings.iter())
        .flat_map(|samples| {
            let longest_us = 3 * usual_step_us(samples);
            samples.windows(3).filter_map(move |w| {
                let in_a_row = w[2].time_us.saturating_sub(w[0].time_us) <= longest_us;
                let [a, b, c] = [0, 1, 2].map(|i| f64::from(w[i].torque_nm[joint]));
                in_a_row.then_some(a - 2.0 * b + c)
            })
        })
        .collect();
    let squares: f64 = differences.iter().map(|d| d * d).sum();
    (differences.len() >= FEW).then(|| (squares / differences.len() as f64 / 6.0).sqrt())
}
