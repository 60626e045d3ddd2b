//! The strokes of a joint, and what they say of its friction.

use std::ops::Range;

use super::Friction;
use super::fit::{Fitted, Line};
use super::pieces::Piece;
use crate::campaign::figures::rms;

/// Fewest strokes in each direction: below it nothing tells how alike they are.
const FEWEST: usize = 3;
/// Least travel of a stroke, rad (3 degrees): well beyond where friction turns round.
const TRAVEL_RAD: f64 = 0.05;
/// Times the rms of all others that a stroke may leave: of a dozen normal figures none in ten thousand
/// is as far.
const FAR: f64 = 7.0;
/// Fast over slow speed below which dry and viscous friction cannot be told apart.
const SPEED_SPREAD: f64 = 1.5;

/// A stretch in which a joint moves one way.
#[derive(Clone, Debug, PartialEq)]
pub struct Stroke {
    /// Its pieces.
    pub pieces: Range<usize>,
    /// 1 upwards, -1 downwards.
    pub sense: f64,
}

/// How a joint moved.
#[derive(Clone, Debug, PartialEq)]
pub struct Motion {
    /// In the order of time.
    pub strokes_made: Vec<Stroke>,
    /// Strokes up and down.
    pub strokes: [usize; 2],
    /// Speed that a tenth of the motion is below, and one that a tenth is above, rad/s.
    pub speed_rad_s: [f64; 2],
    /// What is missing, if it is not enough.
    pub why: Option<String>,
}

impl Motion {
    /// Whether viscous friction can be told.
    pub fn of_many_speeds(&self) -> bool {
        self.speed_rad_s[1] >= SPEED_SPREAD * self.speed_rad_s[0]
    }

    /// Every piece in which it moved, with its sense.
    pub fn pieces(&self) -> impl Iterator<Item = (usize, f64)> + '_ {
        (self.strokes_made.iter())
            .flat_map(|stroke| stroke.pieces.clone().map(|piece| (piece, stroke.sense)))
    }
}

/// How a joint moved, where its direction is sure: faster than `sure_rad_s`.
pub fn motion(pieces: &[Piece], joint: usize, sure_rad_s: f64) -> Motion {
    let sense = |piece: &Piece| {
        let speed = piece.velocity_rad_s[joint];
        if speed.abs() > sure_rad_s {
            speed.signum()
        } else {
            0.0
        }
    };
    let mut made: Vec<Stroke> = Vec::new();
    for (i, piece) in pieces.iter().enumerate() {
        let now = sense(piece);
        match made.last_mut() {
            Some(stroke) if piece.follows && stroke.pieces.end == i && stroke.sense == now => {
                stroke.pieces.end = i + 1;
            }
            _ if now != 0.0 => made.push(Stroke {
                pieces: i..i + 1,
                sense: now,
            }),
            _ => {}
        }
    }
    let travel = |stroke: &Stroke| {
        let [first, last] = [stroke.pieces.start, stroke.pieces.end - 1]
            .map(|piece| pieces[piece].position_rad[joint]);
        (last - first).abs()
    };
    let most = made.iter().map(travel).fold(0.0, f64::max);
    made.retain(|stroke| travel(stroke) >= TRAVEL_RAD);
    let strokes = [1.0, -1.0].map(|s| made.iter().filter(|stroke| stroke.sense == s).count());
    let mut motion = Motion {
        strokes_made: made,
        strokes,
        speed_rad_s: [0.0; 2],
        why: None,
    };
    let mut speeds: Vec<f64> = (motion.pieces())
        .map(|(piece, _)| pieces[piece].velocity_rad_s[joint].abs())
        .collect();
    speeds.sort_unstable_by(f64::total_cmp);
    if let Some(last) = speeds.len().checked_sub(1) {
        motion.speed_rad_s = [last / 10, last - last / 10].map(|i| speeds[i]);
    }
    let degrees = TRAVEL_RAD.to_degrees();
    motion.why = if strokes.iter().sum::<usize>() == 0 {
        Some(format!(
            "it moved by {:.1}° at a time: move it to and fro by {degrees:.0}° and more, {FEWEST} times each way",
            most.to_degrees()
        ))
    } else if strokes.iter().any(|n| *n < FEWEST) {
        Some(format!(
            "it made {} strokes up and {} down of {degrees:.0}° and more: {FEWEST} each way are needed",
            strokes[0], strokes[1]
        ))
    } else {
        None
    };
    motion
}

/// What the line of a joint, and what is left about it from stroke to stroke, say of friction and zero.
pub fn friction(line: &Line, motion: &Motion, fitted: &Fitted, joint: usize) -> Friction {
    let left = |piece: usize| fitted.left_nm[piece][joint];
    let of_stroke: Vec<(f64, f64)> = (motion.strokes_made.iter())
        .map(|stroke| (stroke.sense, mean_left_nm(stroke, fitted, joint)))
        .collect();
    // Of strokes to and fro, one after the other.
    let pairs = || {
        of_stroke
            .windows(2)
            .filter(|pair| pair[0].0 != pair[1].0)
            .map(|pair| {
                (
                    pair[0].0 * (pair[0].1 - pair[1].1) / 2.0,
                    (pair[0].1 + pair[1].1) / 2.0,
                )
            })
    };
    let apart_nm = rms(pairs().map(|(friction, _)| friction));
    Friction {
        coulomb_nm: line.coulomb_nm.max(0.0),
        coulomb_u_nm: line.coulomb_u_nm.hypot(apart_nm),
        viscous_nm_s_per_rad: line.viscous_nm_s_per_rad.max(0.0),
        viscous_u_nm_s_per_rad: line.viscous_u_nm_s_per_rad,
        zero_u_nm: rms(pairs().map(|(_, zero)| zero)),
        left_nm: rms(motion.pieces().map(|(piece, _)| left(piece))),
    }
}

/// The stroke in which most is left, where that is far beyond what all the others leave: free motion does
/// not do so.
pub fn touched_s(
    pieces: &[Piece],
    motion: &Motion,
    fitted: &Fitted,
    joint: usize,
) -> Option<[f64; 2]> {
    let size = |stroke: &Stroke| mean_left_nm(stroke, fitted, joint).abs();
    let most = (motion.strokes_made.iter()).max_by(|a, b| size(a).total_cmp(&size(b)))?;
    let others = motion.strokes_made.iter().filter(|stroke| *stroke != most);
    let far = motion.why.is_none() && size(most) > FAR * rms(others.map(size));
    far.then(|| [most.pieces.start, most.pieces.end - 1].map(|piece| pieces[piece].time_s))
}

fn mean_left_nm(stroke: &Stroke, fitted: &Fitted, joint: usize) -> f64 {
    let left = stroke
        .pieces
        .clone()
        .map(|piece| fitted.left_nm[piece][joint]);
    left.sum::<f64>() / stroke.pieces.len() as f64
}
