//! Samples put together to pieces of some hundredths of a second: position with its two derivatives, and
//! torque.

use bolting_monitor::arm::MAX_JOINTS;
use bolting_monitor::sample::JointSample;

/// What a piece covers, s. A hand moves by less than a degree meanwhile, and the quanta of an encoder are
/// small against the second difference of such means.
const PIECE_S: f64 = 0.04;
/// Samples that lie further apart than this many of the usual steps have a gap between them.
const GAP_STEPS: u64 = 5;

/// The mean of some samples in a row. Joints beyond the arm's are zero.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Piece {
    /// Time, s.
    pub time_s: f64,
    /// Positions, rad.
    pub position_rad: [f64; MAX_JOINTS],
    /// Velocities, rad/s, from the positions.
    pub velocity_rad_s: [f64; MAX_JOINTS],
    /// Accelerations, rad/s².
    pub acceleration_rad_s2: [f64; MAX_JOINTS],
    /// Torques as read, N·m.
    pub torque_nm: [f64; MAX_JOINTS],
    /// Whether tool and payload are held.
    pub held: (bool, bool),
    /// Which recording it is of, from 0.
    pub recording: usize,
    /// Whether the piece before it in the list ends where it begins.
    pub follows: bool,
}

/// The pieces of a recording. One at either side of a gap or of a changed switch has no derivatives and is
/// left out.
pub fn pieces<const N: usize>(samples: &[JointSample<N>], recording: usize) -> Vec<Piece> {
    let gap_us = GAP_STEPS * usual_step_us(samples);
    let mut stretches: Vec<Vec<Piece>> = vec![Vec::new()];
    let mut open: Vec<&JointSample<N>> = Vec::new();
    for sample in samples {
        if let (Some(first), Some(last)) = (open.first(), open.last()) {
            let breaks = sample.time_us.saturating_sub(last.time_us) > gap_us
                || held(sample) != held(last)
                || !sample.context.arm_enabled;
            if breaks {
                open.clear();
                stretches.push(Vec::new());
            } else if (sample.time_us - first.time_us) as f64 * 1e-6 >= PIECE_S {
                if let Some(stretch) = stretches.last_mut() {
                    stretch.push(mean(&open, recording));
                }
                open.clear();
            }
        }
        if sample.context.arm_enabled {
            open.push(sample);
        }
    }
    stretches.iter().flat_map(|s| derived(s)).collect()
}

/// Median time between samples, µs.
pub fn usual_step_us<const N: usize>(samples: &[JointSample<N>]) -> u64 {
    let mut steps: Vec<u64> = (samples.windows(2))
        .map(|pair| pair[1].time_us.saturating_sub(pair[0].time_us))
        .collect();
    steps.sort_unstable();
    steps.get(steps.len() / 2).copied().unwrap_or(0).max(1)
}

fn held<const N: usize>(sample: &JointSample<N>) -> (bool, bool) {
    (sample.context.tool_held, sample.context.payload_held)
}

fn mean<const N: usize>(samples: &[&JointSample<N>], recording: usize) -> Piece {
    let count = samples.len() as f64;
    let of = |value: fn(&JointSample<N>, usize) -> f32| {
        std::array::from_fn(|joint| {
            let sum: f64 = (samples.iter().filter(|_| joint < N))
                .map(|s| f64::from(value(s, joint)))
                .sum();
            sum / count
        })
    };
    Piece {
        time_s: samples.iter().map(|s| s.time_us as f64 * 1e-6).sum::<f64>() / count,
        position_rad: of(|s, joint| s.position_rad[joint]),
        torque_nm: of(|s, joint| s.torque_nm[joint]),
        held: samples.first().map_or((true, false), |s| held(s)),
        recording,
        ..Piece::default()
    }
}

/// The inner pieces of a stretch, with their derivatives by differences.
fn derived(stretch: &[Piece]) -> Vec<Piece> {
    let inner = stretch.windows(3).enumerate().map(|(i, around)| {
        let [before, piece, after] = [around[0], around[1], around[2]];
        let slope = |from: &Piece, to: &Piece, joint: usize| {
            (to.position_rad[joint] - from.position_rad[joint]) / (to.time_s - from.time_s)
        };
        let between_s = 0.5 * (after.time_s - before.time_s);
        Piece {
            velocity_rad_s: std::array::from_fn(|j| slope(&before, &after, j)),
            acceleration_rad_s2: std::array::from_fn(|j| {
                (slope(&piece, &after, j) - slope(&before, &piece, j)) / between_s
            }),
            follows: i > 0,
            ..piece
        }
    });
    inner.collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sample(ms: u64) -> JointSample<1> {
        let t = ms as f32 * 1e-3;
        JointSample::new(ms * 1000, [0.3 + 0.2 * t + 0.5 * t * t], [4.0 * t])
    }

    #[test]
    fn derivatives_are_those_of_the_motion() {
        let samples: Vec<_> = (0..1000).map(sample).collect();
        let pieces = pieces(&samples, 2);
        assert_eq!(
            pieces.len(),
            22,
            "24 whole ones, without the first and last"
        );
        assert!(!pieces[0].follows && pieces[1..].iter().all(|p| p.follows));
        for piece in &pieces {
            assert!((piece.velocity_rad_s[0] - (0.2 + piece.time_s)).abs() < 1e-4);
            assert!((piece.acceleration_rad_s2[0] - 1.0).abs() < 2e-3);
            assert!((piece.torque_nm[0] - 4.0 * piece.time_s).abs() < 1e-5);
            assert_eq!((piece.recording, piece.torque_nm[1]), (2, 0.0));
        }
    }

    #[test]
    fn no_piece_spans_a_gap_or_a_switch() {
        let mut samples: Vec<_> = (0..400).chain(600..1000).map(sample).collect();
        samples[600..]
            .iter_mut()
            .for_each(|s| s.context.payload_held = true);
        let pieces = pieces(&samples, 0);
        let begins: Vec<_> = pieces.iter().filter(|p| !p.follows).collect();
        assert_eq!(begins.len(), 3);
        assert!(begins[1].time_s > 0.6 && begins[2].held == (true, true));
        assert!(pieces.iter().all(|p| p.velocity_rad_s[0] < 1.3));
    }
}
