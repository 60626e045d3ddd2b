//! What changes as slowly as the pose, or a hand's grip, takes turns: one of it with each sample.

use crate::wrench::WEIGHT_PARTS;

/// Time for which turns are put off while a sample bears other things, s: the pose changes by a
/// thousandth of a rad or two meanwhile.
const PUT_OFF_S: f32 = 0.002;

/// What a sample bears beside what every one does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Load {
    /// Nothing.
    None,
    /// Something: a turn is put off for a while.
    Some,
    /// What costs most, once for each step: a turn is put off.
    Most,
}

/// Rows of the arm's inertia that are taken with one sample.
pub(super) const INERTIA_ROWS: usize = 2;

/// Turns until it is the same one's again: weights, which the moment hangs on most, take most of them. The
/// whole inertia of seven joints takes four rounds.
const ROUND: u8 = WEIGHT_PARTS + 2;

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
    /// Whose turn it is with this sample, `dt_s` after the one before.
    pub fn next(&mut self, dt_s: f32, load: Load) -> Option<Turn> {
        self.waited_s += dt_s;
        let put_off = match load {
            Load::None => false,
            Load::Some => self.waited_s < PUT_OFF_S,
            Load::Most => true,
        };
        if put_off {
            return None;
        }
        self.waited_s = 0.0;
        let turn = match self.at.checked_sub(WEIGHT_PARTS) {
            None => Turn::Weights,
            Some(0) => Turn::Side,
            Some(_) => Turn::Inertia,
        };
        self.at = (self.at + 1) % ROUND;
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
        let round: Vec<_> = (0..6)
            .filter_map(|_| turns.next(1e-3, Load::None))
            .collect();
        let of = |turn| round.iter().filter(|t| **t == turn).count();
        assert_eq!(
            [of(Turn::Weights), of(Turn::Side), of(Turn::Inertia)],
            [4, 1, 1]
        );
        assert_eq!(turns.next(1e-3, Load::None), Some(Turn::Weights));
        let taken = (0..80).filter(|_| turns.next(0.25e-3, Load::Some).is_some());
        assert_eq!(taken.count(), 10);
        assert!(turns.next(0.004, Load::Some).is_some());
        assert_eq!(turns.next(0.004, Load::Most), None);
    }
}
