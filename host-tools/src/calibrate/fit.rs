//! Friction, zeros and masses of all joints at once, by weighted least squares.

use bolting_monitor::arm::{ArmDescription, MAX_JOINTS};
use nalgebra::{DMatrix, DVector, Matrix2, Vector2};

use super::explain::{Explained, PerJoint};
use super::strokes::Motion;
use crate::campaign::figures::rms;

/// Rounds: the first takes all joints as equally well known, the next as their own scatter says.
const ROUNDS: usize = 3;
/// How far a link's first moment is off before anything is known, as a part of its mass, m, and at least,
/// kg·m. It only keeps apart what the motion does not tell apart.
const MOMENT_PRIOR: (f64, f64) = (0.05, 0.01);
/// Precision of a figure that is held at zero.
const HELD: f64 = 1e12;

/// Friction of one joint as fitted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// Coulomb friction, N·m.
    pub coulomb_nm: f64,
    /// Its standard uncertainty, strokes taken as independent.
    pub coulomb_u_nm: f64,
    /// Viscous friction, N·m·s/rad.
    pub viscous_nm_s_per_rad: f64,
    /// Its standard uncertainty.
    pub viscous_u_nm_s_per_rad: f64,
}

/// All that was fitted.
#[derive(Clone, Debug)]
pub struct Fitted {
    /// `None`: the joint moved too little.
    pub joints: Vec<Option<Line>>,
    /// What is left of each piece's torques where the joint moves, else 0, N·m.
    pub left_nm: Vec<PerJoint>,
    /// How far gravity is off, as a part of how it changes in the motion, rms.
    pub mass_u: Option<f64>,
}

/// Where each figure stands in the vector of unknowns.
struct Places {
    joints: usize,
    recordings: usize,
}

impl Places {
    fn zero(&self, recording: usize, joint: usize) -> usize {
        recording * self.joints + joint
    }
    fn coulomb(&self, joint: usize) -> usize {
        self.zero(self.recordings, joint)
    }
    fn viscous(&self, joint: usize) -> usize {
        self.zero(self.recordings + 1, joint)
    }
    fn kilogram(&self, column: usize) -> usize {
        self.zero(self.recordings + 2, 0) + column
    }
    fn count(&self) -> usize {
        self.kilogram(3 * self.joints)
    }
}

/// Fits all joints that moved enough.
pub fn fit(explained: &Explained, motion: &[Motion], arm: &ArmDescription) -> Fitted {
    let places = Places {
        joints: motion.len(),
        recordings: explained.recordings,
    };
    let used: Vec<bool> = motion.iter().map(|m| m.why.is_none()).collect();
    let mut viscous: Vec<bool> = motion.iter().map(Motion::of_many_speeds).collect();
    let mut scatter_nm = vec![1.0; motion.len()];
    let mut left_nm = Vec::new();
    let mut unknowns = DVector::zeros(places.count());
    for _ in 0..ROUNDS {
        unknowns = solve(
            explained,
            motion,
            arm,
            &places,
            &used,
            &viscous,
            &scatter_nm,
        );
        // Friction that falls with speed is no viscous one: the line is then level.
        for (joint, is_fitted) in viscous.iter_mut().enumerate() {
            *is_fitted &= unknowns[places.viscous(joint)] >= 0.0;
        }
        left_nm = left(explained, motion, &places, &used, &unknowns);
        for (joint, scatter_nm) in scatter_nm.iter_mut().enumerate() {
            let of_joint = motion[joint]
                .pieces()
                .map(|(piece, _)| left_nm[piece][joint]);
            // Of one that never moved there is none, and none is asked for.
            *scatter_nm = rms(of_joint).max(1e-3);
        }
    }
    let joints = (0..motion.len())
        .map(|joint| {
            let [coulomb_u_nm, viscous_u_nm_s_per_rad] =
                uncertainty(explained, &motion[joint], joint, viscous[joint], &left_nm);
            used[joint].then(|| Line {
                coulomb_nm: unknowns[places.coulomb(joint)],
                coulomb_u_nm,
                viscous_nm_s_per_rad: unknowns[places.viscous(joint)],
                viscous_u_nm_s_per_rad,
            })
        })
        .collect();
    let mass_u = mass_u(explained, motion, &places, &unknowns);
    Fitted {
        joints,
        left_nm,
        mass_u,
    }
}

/// The row of one joint's torque in one piece: places of its unknowns, with their factors.
fn row(
    explained: &Explained,
    places: &Places,
    joint: usize,
    piece: usize,
    sense: f64,
) -> Vec<(usize, f64)> {
    let at = &explained.pieces[piece];
    let own = [
        (places.zero(at.recording, joint), 1.0),
        (places.coulomb(joint), sense),
        (places.viscous(joint), at.velocity_rad_s[joint]),
    ];
    let kilograms = (explained.kilogram_nm[piece].iter().enumerate())
        .map(|(column, nm)| (places.kilogram(column), nm[joint]))
        .filter(|(_, nm)| *nm != 0.0);
    own.into_iter().chain(kilograms).collect()
}

fn solve(
    explained: &Explained,
    motion: &[Motion],
    arm: &ArmDescription,
    places: &Places,
    used: &[bool],
    viscous: &[bool],
    scatter_nm: &[f64],
) -> DVector<f64> {
    let mut normal = DMatrix::zeros(places.count(), places.count());
    let mut right = DVector::zeros(places.count());
    for (joint, motion) in motion.iter().enumerate().filter(|(joint, _)| used[*joint]) {
        let weight = scatter_nm[joint].powi(-2);
        for (piece, sense) in motion.pieces() {
            let row = row(explained, places, joint, piece, sense);
            for (i, x) in &row {
                right[*i] += weight * x * explained.left_nm[piece][joint];
                for (j, y) in &row {
                    normal[(*i, *j)] += weight * x * y;
                }
            }
        }
    }
    for (link, joint) in arm.joints.iter().enumerate() {
        let (part_m, least) = MOMENT_PRIOR;
        let prior = (part_m * f64::from(joint.link.mass_kg)).max(least).powi(-2);
        for axis in 0..3 {
            let place = places.kilogram(3 * link + axis);
            normal[(place, place)] += prior;
        }
        if !(viscous[link] && used[link]) {
            let place = places.viscous(link);
            normal[(place, place)] += HELD;
        }
    }
    for place in 0..places.count() {
        // What no row speaks of stays zero.
        normal[(place, place)] += 1e-9;
    }
    normal
        .cholesky()
        .map_or_else(|| DVector::zeros(places.count()), |c| c.solve(&right))
}

fn left(
    explained: &Explained,
    motion: &[Motion],
    places: &Places,
    used: &[bool],
    unknowns: &DVector<f64>,
) -> Vec<PerJoint> {
    let mut left = vec![[0.0; MAX_JOINTS]; explained.pieces.len()];
    for (joint, motion) in motion.iter().enumerate().filter(|(joint, _)| used[*joint]) {
        for (piece, sense) in motion.pieces() {
            let told: f64 = (row(explained, places, joint, piece, sense).iter())
                .map(|(i, x)| unknowns[*i] * x)
                .sum();
            left[piece][joint] = explained.left_nm[piece][joint] - told;
        }
    }
    left
}

/// Uncertainties of dry and viscous friction, each stroke one observation; the means of both are taken off,
/// for the zero is fitted with them.
fn uncertainty(
    explained: &Explained,
    motion: &Motion,
    joint: usize,
    viscous: bool,
    left_nm: &[PerJoint],
) -> [f64; 2] {
    let count = motion.pieces().count().max(1) as f64;
    let regressor = |piece: usize, sense: f64| {
        let speed = explained.pieces[piece].velocity_rad_s[joint];
        Vector2::new(sense, if viscous { speed } else { 0.0 })
    };
    let mean: Vector2<f64> = motion
        .pieces()
        .map(|(piece, sense)| regressor(piece, sense))
        .sum::<Vector2<f64>>()
        / count;
    let mut bread = Matrix2::from_diagonal(&Vector2::new(0.0, if viscous { 0.0 } else { HELD }));
    let mut meat = Matrix2::zeros();
    for stroke in &motion.strokes_made {
        let mut score = Vector2::zeros();
        for piece in stroke.pieces.clone() {
            let x = regressor(piece, stroke.sense) - mean;
            bread += x * x.transpose();
            score += x * left_nm[piece][joint];
        }
        meat += score * score.transpose();
    }
    let strokes = motion.strokes_made.len() as f64;
    let few = strokes / (strokes - 2.0).max(1.0);
    bread.try_inverse().map_or([0.0; 2], |inverse| {
        let covariance = inverse * meat * inverse * few;
        apart(&covariance, motion.speed_rad_s)
    })
}

/// Two uncertainties that may be taken as independent, as the crate does, from two that hang together: the
/// dry one is that of the sum at the speed where it is known best, the viscous one is what the sum has more
/// at the speeds that were driven, in the mean square.
fn apart(covariance: &Matrix2<f64>, [slow, fast]: [f64; 2]) -> [f64; 2] {
    let [dry, both, viscous] = [(0, 0), (0, 1), (1, 1)].map(|at| covariance[at]);
    if !(viscous > 0.0 && fast > 0.0) {
        return [dry.max(0.0).sqrt(), 0.0];
    }
    let best = -both / viscous;
    // Mean squares of an even spread.
    let of = |a: f64, b: f64| (a * a + a * b + b * b) / 3.0;
    let more = viscous * of(slow - best, fast - best) / of(slow, fast);
    [(dry - both * both / viscous).max(0.0).sqrt(), more.sqrt()]
}

/// The fitted change of gravity against gravity itself: both as they vary, for a tare takes off what stays.
fn mass_u(
    explained: &Explained,
    motion: &[Motion],
    places: &Places,
    unknowns: &DVector<f64>,
) -> Option<f64> {
    let (mut off, mut all) = (0.0, 0.0);
    for joint in 0..motion.len() {
        let off_nm = explained.kilogram_nm.iter().map(|columns| {
            (columns.iter().enumerate())
                .map(|(column, nm)| unknowns[places.kilogram(column)] * nm[joint])
                .sum::<f64>()
        });
        off += variance(off_nm);
        all += variance(explained.gravity_nm.iter().map(|nm| nm[joint]));
    }
    /// Least change of gravity, N·m, from which a part of it is told.
    const LEAST_NM: f64 = 1.0;
    (all >= LEAST_NM * LEAST_NM).then(|| (off / all).sqrt())
}

fn variance(figures: impl Iterator<Item = f64> + Clone) -> f64 {
    let count = figures.clone().count().max(1) as f64;
    let mean = figures.clone().sum::<f64>() / count;
    figures.map(|x| (x - mean) * (x - mean)).sum::<f64>() / count
}
