//! Refuses a goal that physics or plain sense forbids, naming the key.

use crate::fastener::Band;

use super::check::{JobError, NOT_NEGATIVE, POSITIVE, fault};
use super::goal::{Expected, Goal};

const A_PART: &str = "more than 0 and below 1";
const BELOW_MAX: &str = "below its max";

/// Every key of a goal that is unsound.
pub(super) fn faults(goal: &Goal) -> impl Iterator<Item = JobError> + use<> {
    let mut found = heapless::Vec::<JobError, 8>::new();
    // No goal has more than seven figures.
    let mut note = |error: Option<JobError>| {
        let _ = error.map(|e| found.push(e));
    };
    match *goal {
        Goal::Watch(_) => {}
        Goal::Torque {
            target_nm,
            tolerance,
        } => {
            note(positive("goal.target_nm", target_nm));
            note(fault(
                "goal.tolerance",
                Some(tolerance),
                "more than 0 and at most 0.5",
                |x| x > 0.0 && x <= 0.5,
            ));
        }
        Goal::TorqueThenAngle {
            start_nm,
            angle_rad,
            end_nm,
        } => {
            note(positive("goal.start_nm", start_nm));
            angle(
                ["goal.angle_rad.value", "goal.angle_rad.tolerance"],
                angle_rad,
                &mut note,
            );
            band(END, end_nm, &mut note);
            note((end_nm.max <= start_nm).then_some(JobError {
                key: "goal.end_nm.max",
                must_be: "above start_nm: the torque rises with the further angle",
                value: end_nm.max,
            }));
        }
        Goal::Yield {
            slope_part,
            onset_nm,
        } => {
            note(fault("goal.slope_part", Some(slope_part), A_PART, |x| {
                x > 0.0 && x < 1.0
            }));
            band(END, onset_nm, &mut note);
        }
        Goal::Recheck {
            torque_nm,
            most_rad,
        } => {
            note(positive("goal.torque_nm", torque_nm));
            note(positive("goal.most_rad", most_rad));
        }
        Goal::Loosen {
            recorded_nm,
            breakaway_nm,
            run_out_rad,
        } => {
            note(recorded_nm.and_then(|x| positive("goal.recorded_nm", x)));
            if let Some(b) = breakaway_nm {
                band(
                    ["goal.breakaway_nm.min", "goal.breakaway_nm.max"],
                    b,
                    &mut note,
                );
            }
            if let Some(e) = run_out_rad {
                angle(
                    ["goal.run_out_rad.value", "goal.run_out_rad.tolerance"],
                    e,
                    &mut note,
                );
            }
        }
    }
    found.into_iter()
}

const END: [&str; 2] = ["goal.end_nm.min", "goal.end_nm.max"];

fn positive(key: &'static str, value: f32) -> Option<JobError> {
    fault(key, Some(value), POSITIVE, |x| x > 0.0)
}

fn angle(keys: [&'static str; 2], e: Expected, note: &mut impl FnMut(Option<JobError>)) {
    note(positive(keys[0], e.value));
    // A wider window would hold zero, which tells nothing; one of no width cannot be met.
    let not_above = "more than 0 and not above the figure itself";
    let too_wide = e.tolerance > e.value && e.value > 0.0;
    let key = keys[1];
    note(
        fault(key, Some(e.tolerance), not_above, |x| x > 0.0).or_else(|| {
            too_wide.then_some(JobError {
                key,
                must_be: not_above,
                value: e.tolerance,
            })
        }),
    );
}

fn band(keys: [&'static str; 2], b: Band, note: &mut impl FnMut(Option<JobError>)) {
    note(fault(keys[0], Some(b.min), NOT_NEGATIVE, |x| x >= 0.0));
    note(positive(keys[1], b.max));
    note((b.min >= b.max).then_some(JobError {
        key: keys[0],
        must_be: BELOW_MAX,
        value: b.min,
    }));
}

#[cfg(test)]
mod tests {
    use super::*;

    fn keys(goal: Goal) -> heapless::Vec<&'static str, 8> {
        faults(&goal).map(|e| e.key).collect()
    }

    const HARD: Expected = Expected {
        value: 1.0,
        tolerance: 0.1,
    };
    const BAND: Band = Band {
        min: 40.0,
        max: 60.0,
    };

    #[test]
    fn sound_goals_are_taken() {
        for goal in [
            Goal::Torque {
                target_nm: 48.0,
                tolerance: 0.1,
            },
            Goal::TorqueThenAngle {
                start_nm: 36.0,
                angle_rad: HARD,
                end_nm: BAND,
            },
            Goal::Yield {
                slope_part: 0.5,
                onset_nm: BAND,
            },
            Goal::Recheck {
                torque_nm: 48.0,
                most_rad: 0.03,
            },
            Goal::Loosen {
                recorded_nm: None,
                breakaway_nm: None,
                run_out_rad: None,
            },
        ] {
            assert!(keys(goal).is_empty(), "{goal:?}");
        }
    }

    #[test]
    fn every_mistake_is_named_by_its_key() {
        let upside_down = Band {
            min: 60.0,
            max: f32::NAN,
        };
        assert_eq!(
            keys(Goal::Torque {
                target_nm: -1.0,
                tolerance: 1.5
            })
            .as_slice(),
            ["goal.target_nm", "goal.tolerance"]
        );
        assert_eq!(
            keys(Goal::TorqueThenAngle {
                start_nm: 70.0,
                angle_rad: Expected {
                    value: 0.0,
                    tolerance: f32::INFINITY,
                },
                end_nm: BAND,
            })
            .as_slice(),
            [
                "goal.angle_rad.value",
                "goal.angle_rad.tolerance",
                "goal.end_nm.max"
            ]
        );
        assert_eq!(
            keys(Goal::Yield {
                slope_part: 0.0,
                onset_nm: upside_down
            })
            .as_slice(),
            ["goal.slope_part", "goal.end_nm.max"]
        );
        assert_eq!(
            keys(Goal::Loosen {
                recorded_nm: Some(0.0),
                breakaway_nm: Some(Band { min: 5.0, max: 4.0 }),
                run_out_rad: None,
            })
            .as_slice(),
            ["goal.recorded_nm", "goal.breakaway_nm.min"]
        );
    }
}
