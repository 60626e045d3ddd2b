//! Whether the tool stands as far off the bolt as it did while it was tared.
//!
//! The tare is stated to be free of contact, so the distance from there to where the bolt first turned
//! is known to be clear of the head, whatever socket and head look like. The head itself moves: done up
//! it is at most as deep as the tool has been; undone it has come out by at most the pitch, and no
//! further than the tool has been while it turned it, for a bolt that is out of its thread stays.

use crate::math::{Limited, TAU};

/// Part of the distance at the tare that counts as clear.
const CLEAR_PART: f32 = 0.9;
/// Least distance from which it counts, m: below, the hand's own wander would do.
const LEAST_M: f32 = 3e-3;

/// Follows tool and head along the bolt axis.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Standoff {
    /// Nearest the bolt during the tare, m.
    tare_m: Option<f32>,
    /// Where the bolt first turned, m.
    seat_m: Option<f32>,
    /// Deepest since, and furthest out while the bolt turned, m.
    deepest_m: f32,
    turned_out_m: f32,
}

impl Standoff {
    /// Takes in the place of the tool along the axis, m, towards the bolt positive, while it is tared.
    pub fn tare(&mut self, at_m: f32) {
        self.tare_m = Some(self.tare_m.map_or(at_m, |m| m.at_least(at_m)));
    }

    /// Takes in the place afterwards, with whether the bolt turned and, where it is being undone, the
    /// angle by which it has come out, rad, and its pitch, m. Says whether the tool is clear of the head.
    pub fn is_clear(&mut self, at_m: f32, turning: bool, out: Option<(f32, f32)>) -> bool {
        if turning && self.seat_m.is_none() {
            self.seat_m = Some(at_m);
            (self.deepest_m, self.turned_out_m) = (at_m, at_m);
        }
        if turning {
            self.turned_out_m = self.turned_out_m.at_most(at_m);
        }
        let (Some(tare_m), Some(seat_m)) = (self.tare_m, self.seat_m) else {
            return false;
        };
        self.deepest_m = self.deepest_m.at_least(at_m);
        let head_m = out.map_or(self.deepest_m, |(rad, pitch_m)| {
            self.turned_out_m.at_least(seat_m - rad / TAU * pitch_m)
        });
        let clear_m = seat_m - tare_m;
        clear_m >= LEAST_M && head_m - at_m >= CLEAR_PART * clear_m
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn on_the_bolt() -> Standoff {
        let mut standoff = Standoff::default();
        standoff.tare(-0.010);
        standoff.tare(-0.008);
        assert!(!standoff.is_clear(-0.02, false, None), "no seat is known");
        assert!(!standoff.is_clear(0.0, true, None));
        standoff
    }

    #[test]
    fn a_tool_is_clear_as_far_off_as_at_the_tare() {
        let mut standoff = on_the_bolt();
        assert!(!standoff.is_clear(0.006, true, None));
        // 8 mm off where the bolt first turned; the head is 6 mm deeper by now.
        assert!(!standoff.is_clear(0.0, false, None));
        assert!(standoff.is_clear(-0.0021, false, None));
    }

    #[test]
    fn a_head_that_comes_out_takes_the_tool_with_it() {
        let mut standoff = on_the_bolt();
        let five_turns = Some((5.0 * TAU, 1.5e-3));
        assert!(!standoff.is_clear(-0.0075, true, five_turns));
        assert!(!standoff.is_clear(-0.0140, false, five_turns));
        assert!(standoff.is_clear(-0.0150, false, five_turns));
    }

    /// The thread ends after four turns, and the tool turns the loose bolt on where it is.
    #[test]
    fn a_bolt_that_is_out_of_its_thread_comes_no_further() {
        let mut standoff = on_the_bolt();
        let six_turns = Some((6.0 * TAU, 1.5e-3));
        assert!(!standoff.is_clear(-0.0060, true, six_turns));
        assert!(!standoff.is_clear(-0.0130, false, six_turns));
        assert!(standoff.is_clear(-0.0135, false, six_turns));
    }

    #[test]
    fn a_tare_on_the_bolt_tells_nothing() {
        let mut standoff = Standoff::default();
        standoff.tare(-0.002);
        standoff.is_clear(0.0, true, None);
        assert!(!standoff.is_clear(-0.05, false, None));
        let mut untared = Standoff::default();
        untared.is_clear(0.0, true, None);
        assert!(!untared.is_clear(-0.05, false, None));
    }
}
