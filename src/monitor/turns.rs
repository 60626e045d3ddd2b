//! What changes as slowly as the pose, or a hand's grip, takes turns: one of it with each sample.

use crate::wrench::WEIGHT_PARTS;

/// Time for which turns are put off while a sample bears other things, s: the pose changes by a few
/// thousandths of a rad meanwhile.
const PUT_OFF_S: f32 = 0.005;
/// Rows of the arm's inertia that are taken with one sample.
pub(super) const INERTIA_ROWS: usize = 2;

/// What a sample bears beside what every sample does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Turn {
    /// A part of the weights of the joint torques.
    Weights,
    /// The moment across the bolt axis.
    Side,
    /// Rows of the arm's inertia.
    Inertia,
}

/// Whose turn it is.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Turns {
    at: u8,
    waited_s: f32,
}

impl Turns {
    /// Whose turn it is with this sample, `dt_s` after the one before, of an arm of so many joints;
    /// `busy`: whether it bears other things already.
    pub fn next(&mut self, joints: usize, dt_s: f32, busy: bool) -> Option<Turn> {
        self.waited_s += dt_s;
        if busy && self.waited_s < PUT_OFF_S {
            return None;
        }
        self.waited_s = 0.0;
        let turn = match self.at.cmp(&WEIGHT_PARTS) {
            core::cmp::Ordering::Less => Turn::Weights,
            core::cmp::Ordering::Equal => Turn::Side,
            core::cmp::Ordering::Greater => Turn::Inertia,
        };
        self.at += 1;
        if usize::from(self.at) > usize::from(WEIGHT_PARTS) + joints.div_ceil(INERTIA_ROWS) {
            self.at = 0;
        }
        Some(turn)
    }
}

#[cfg(test)]
mod tests {
    extern crate std;
    use super::*;
    use std::vec::Vec;

    #[test]
    fn all_take_their_turn_and_are_put_off_for_some_milliseconds_only() {
        let mut turns = Turns::default();
        let round: Vec<_> = (0..9).filter_map(|_| turns.next(7, 1e-3, false)).collect();
        let of = |turn| round.iter().filter(|t| **t == turn).count();
        assert_eq!(
            [of(Turn::Weights), of(Turn::Side), of(Turn::Inertia)],
            [4, 1, 4]
        );
        assert_eq!(turns.next(7, 1e-3, false), Some(Turn::Weights));
        let gaps = (0..40).filter(|_| turns.next(7, 1e-3, true).is_some());
        assert_eq!(gaps.count(), 8);
        assert!(turns.next(7, 0.01, true).is_some());
    }
}
