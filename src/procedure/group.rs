//! The bolts of a flange in the order in which they are worked on.

/// Most bolts of a group.
pub const MAX_BOLTS: usize = 64;

/// The crosswise order of `bolts` bolts on a circle, numbered around from 0: each bolt once, the
/// next one as nearly opposite as can be, so that the faces stay parallel.
///
/// Where the number divides by four, quarters of a turn are filled in turn (for 8 bolts, counted from
/// 1: 1 5 3 7 2 6 4 8), as guides to flange bolting show it; numbers of 4, 8, 12, 16 and 20 bolts
/// agree with the usual legacy pattern (from memory). Common practice, no source for other numbers:
/// opposite pairs for even ones, steps of nearly half a turn for odd ones. Most 64 bolts; 0 gives
/// none.
pub fn crosswise(bolts: u8) -> impl Iterator<Item = u8> + Clone {
    let n = bolts.min(MAX_BOLTS as u8);
    (0..n).map(move |i| {
        if n.is_multiple_of(4) {
            let quarter = n / 4;
            let around = [0, 2, 1, 3];
            let place = around.get(usize::from(i % 4)).copied().unwrap_or(0);
            spread(i / 4, quarter) + place * quarter
        } else if n.is_multiple_of(2) {
            let half = n / 2;
            spread(i / 2, half) + (i % 2) * half
        } else {
            // Half of an odd number, rounded down, has no divisor in common with it.
            (u16::from(i) * u16::from(n / 2) % u16::from(n.max(1))) as u8
        }
    })
}

/// The `i`th of `n` places so that neighbours do not follow each other where that can be helped:
/// every second one first.
const fn spread(i: u8, n: u8) -> u8 {
    let first = n.div_ceil(2);
    if n <= 3 {
        i
    } else if i < first {
        2 * i
    } else {
        2 * (i - first) + 1
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    extern crate std;
    use std::vec::Vec;

    fn from_one(bolts: u8) -> Vec<u8> {
        crosswise(bolts).map(|i| i + 1).collect()
    }

    /// From memory of the usual legacy pattern; not read in a source.
    #[test]
    fn usual_numbers_give_the_usual_pattern() {
        assert_eq!(from_one(4), [1, 3, 2, 4]);
        assert_eq!(from_one(8), [1, 5, 3, 7, 2, 6, 4, 8]);
        assert_eq!(from_one(12), [1, 7, 4, 10, 2, 8, 5, 11, 3, 9, 6, 12]);
        assert_eq!(
            from_one(16),
            [1, 9, 5, 13, 3, 11, 7, 15, 2, 10, 6, 14, 4, 12, 8, 16]
        );
        assert_eq!(
            from_one(20),
            [
                1, 11, 6, 16, 3, 13, 8, 18, 5, 15, 10, 20, 2, 12, 7, 17, 4, 14, 9, 19
            ]
        );
    }

    #[test]
    fn every_bolt_comes_once_and_the_next_lies_across() {
        for bolts in 0..=MAX_BOLTS as u8 {
            let order: Vec<u8> = crosswise(bolts).collect();
            let mut sorted = order.clone();
            sorted.sort_unstable();
            assert_eq!(sorted, (0..bolts).collect::<Vec<_>>(), "{bolts} bolts");
            for pair in order.chunks_exact(2).filter(|_| bolts >= 4) {
                let apart = pair[0].abs_diff(pair[1]);
                let apart = apart.min(bolts - apart);
                assert!(apart >= (bolts - 1) / 2, "{bolts} bolts: {pair:?}");
            }
        }
    }
}
