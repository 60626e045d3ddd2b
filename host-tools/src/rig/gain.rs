//! What stating one more key would change, counted on the same runs.

use super::faults::Ill;
use super::missing::Missing;
use super::trial::{Brief, Trial};
use crate::campaign::figures::quantile;

/// Earlier stops that are worth a word, percent of the target.
const WORTH_PERCENT: f64 = 5.0;

/// More went right with the key than without, beyond chance: the sign test on runs that differ, 95 %.
fn clearly(better: usize, worse: usize) -> bool {
    let (b, w) = (better as f64, worse as f64);
    b - w > 1.96 * (b + w).sqrt()
}

/// What stating one more key would change, on the same runs.
pub fn of_missing(missing: Missing, trials: &[Trial], ills: &[Ill]) -> Option<String> {
    let pairs = |of: &dyn Fn(&Trial) -> bool| -> Vec<(Brief, Brief)> {
        (trials.iter().filter(|t| of(t)))
            .filter_map(|t| Some((t.brief(), t.with.iter().find(|w| w.0 == missing)?.1)))
            .collect()
    };
    let changed = |pairs: &[(Brief, Brief)], is: fn(&Brief) -> bool| {
        let count = |a: bool| {
            pairs
                .iter()
                .filter(|(old, new)| is(old) != a && is(new) == a)
                .count()
        };
        [count(true), count(false)]
    };
    let mut gains = Vec::new();
    let sound = pairs(&|t| t.ill.is_none());
    let [more, fewer] = changed(&sound, |b| b.accepted);
    if clearly(more, fewer) {
        gains.push(format!(
            "{} more of {} sound bolts would be accepted",
            more - fewer,
            sound.len()
        ));
    }
    let faulty = pairs(&|t| t.ill.is_some() && t.began && !t.scored.sound);
    let [more, fewer] = changed(&faulty, |b| b.let_through);
    if clearly(fewer, more) {
        gains.push(format!(
            "{} fewer of {} faulty ones would go through",
            fewer - more,
            faulty.len()
        ));
    }
    for ill in ills {
        let of_ill = pairs(&|t| t.ill == Some(*ill) && t.began && t.scored.needs_stop);
        let both: Vec<[f64; 2]> = (of_ill.iter())
            .filter_map(|(old, new)| Some([old.stopped_at?, new.stopped_at?]))
            .collect();
        let sooner = both.iter().filter(|[old, new]| new + 0.01 < *old).count();
        let later = both.iter().filter(|[old, new]| old + 0.01 < *new).count();
        let median = |i: usize| 100.0 * quantile(both.iter().map(|b| b[i]).collect(), 0.5);
        if clearly(sooner, later) && median(0) - median(1) > WORTH_PERCENT {
            gains.push(format!(
                "a {} would be stopped at {:.0} % of the target instead of {:.0} % (median)",
                ill.words(),
                median(1),
                median(0)
            ));
        }
    }
    (!gains.is_empty()).then(|| format!("{} {}", missing.words(), gains.join(", ")))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// All of four alike are told (z = 2.0), all of three are not (1.73).
    #[test]
    fn a_difference_that_chance_makes_is_none() {
        assert!(clearly(4, 0) && clearly(12, 3));
        assert!(!clearly(3, 0) && !clearly(0, 0) && !clearly(9, 5));
    }
}
