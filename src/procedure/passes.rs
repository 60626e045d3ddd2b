//! The passes over a group of bolts.

use heapless::Vec;
use serde::{Deserialize, Serialize};

use crate::fastener::{Band, Joint};

use super::BoltJob;
use super::goal::{Direction, Expected, Goal};
use super::group::{MAX_BOLTS, crosswise};

/// Most passes of a procedure.
pub const MAX_PASSES: usize = 12;

/// In which order a pass goes over the group.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Order {
    /// Crosswise, as [`Procedure::cross`] says.
    Cross,
    /// Around the circle, bolt by bolt.
    Round,
}

/// One pass: every bolt of the group is brought to the same goal.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Pass {
    /// The goal, for a pass in parts of a torque the whole torque.
    pub goal: Goal,
    /// Part of the goal's torque that this pass aims at, above 0 and at most 1.
    pub part: f32,
    /// The order of the bolts.
    pub order: Order,
}

impl Pass {
    pub(super) fn part_is_sound(&self) -> bool {
        self.part > 0.0 && self.part <= 1.0
    }
}

/// One bolt in one pass. Both count from 0.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Turn {
    /// The pass.
    pub pass: u8,
    /// The bolt, numbered around the circle.
    pub bolt: u8,
}

/// What is done to a group of bolts: passes one after another, each over all bolts.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Procedure {
    /// How many bolts.
    pub bolts: u8,
    /// The crosswise order; empty: made by [`crosswise`].
    pub cross: Vec<u8, MAX_BOLTS>,
    /// The passes.
    pub passes: Vec<Pass, MAX_PASSES>,
}

impl Procedure {
    /// One bolt, one pass.
    pub fn single(goal: Goal) -> Self {
        let mut passes = Vec::new();
        // There is room for more than one.
        let _ = passes.push(Pass {
            goal,
            part: 1.0,
            order: Order::Round,
        });
        Self {
            bolts: 1,
            cross: Vec::new(),
            passes,
        }
    }

    /// Every bolt of every pass, in the order in which they are due.
    pub fn turns(&self) -> impl Iterator<Item = Turn> + '_ {
        (0_u8..)
            .zip(&self.passes)
            .flat_map(|(pass, p)| self.order(p.order).map(move |bolt| Turn { pass, bolt }))
    }

    fn order(&self, order: Order) -> impl Iterator<Item = u8> + '_ {
        let stated = self.cross.iter().copied();
        let bolts = self.bolts;
        let (given, made, round) = match order {
            Order::Cross if !self.cross.is_empty() => (usize::from(bolts), 0, 0),
            Order::Cross => (0, bolts, 0),
            Order::Round => (0, 0, bolts),
        };
        stated.take(given).chain(crosswise(made)).chain(0..round)
    }

    /// The goal of a pass, its part taken; `None` if there is no such pass.
    pub fn goal(&self, pass: u8) -> Option<Goal> {
        let pass = self.passes.get(usize::from(pass))?;
        Some(pass.goal.at_part(pass.part))
    }

    /// Torque that the bolts carry when a pass begins, N·m, from what they carried at first and the
    /// passes since; `None` where they are loose.
    pub fn carried_nm(&self, pass: u8, at_first_nm: Option<f32>) -> Option<f32> {
        (0..pass)
            .filter_map(|before| self.goal(before))
            .fold(at_first_nm, |carried, goal| match goal.direction() {
                Direction::Undo => None,
                Direction::Tighten => match (carried, goal.target_nm()) {
                    (Some(a), Some(b)) => Some(a.max(b)),
                    (a, b) => a.or(b),
                },
            })
    }

    /// The description of one bolt in one pass, from the one of the whole; `None` if there is no
    /// such pass or bolt.
    pub fn job(&self, whole: &BoltJob, turn: Turn) -> Option<BoltJob> {
        let goal = self.goal(turn.pass).filter(|_| turn.bolt < self.bolts)?;
        // A class is a wide stated angle.
        let by_class = match whole.fastener.joint {
            Some(Joint::Class(class)) => Some(Expected::of(class.angle_rad())),
            _ => None,
        };
        Some(BoltJob {
            goal,
            carried_nm: self.carried_nm(turn.pass, whole.carried_nm),
            elastic_rad: whole
                .elastic_rad
                .or(by_class)
                .and_then(|angle| part_of_angle(whole, &goal, angle)),
            ..whole.clone()
        })
    }
}

/// The part of the angle from snug to the whole target that a pass takes: that of the torque which clamps,
/// over what the thread takes to run, `(p T − Tp) / (T − Tp)`. `None` where the pass aims below that: it
/// clamps nothing.
fn part_of_angle(whole: &BoltJob, goal: &Goal, angle: Expected) -> Option<Expected> {
    let (Some(aim_nm), Some(whole_nm)) = (goal.target_nm(), whole.goal.target_nm()) else {
        return Some(angle);
    };
    if aim_nm >= whole_nm {
        return Some(angle);
    }
    let running = whole.fastener.prevailing_nm().unwrap_or(Band::ZERO);
    let part = |running_nm: f32| {
        let clamps_nm = aim_nm - running_nm;
        if clamps_nm > 0.0 {
            clamps_nm / (whole_nm - running_nm)
        } else {
            0.0
        }
    };
    // The more the thread takes, the less is left to clamp.
    let (least, most) = (part(running.max), part(running.min));
    let whole = angle.band();
    (most > 0.0).then(|| Expected::of(Band::new(whole.min * least, whole.max * most)))
}

#[cfg(test)]
pub(super) mod tests {
    extern crate std;
    use std::vec::Vec as List;

    use super::super::job::tests::job;
    use super::*;
    use crate::fastener::Locking;

    fn torque(part: f32, order: Order) -> Pass {
        Pass {
            goal: Goal::Torque {
                target_nm: 100.0,
                tolerance: 0.1,
            },
            part,
            order,
        }
    }

    pub fn flange() -> Procedure {
        Procedure {
            bolts: 4,
            cross: Vec::new(),
            passes: Vec::from_slice(&[
                torque(0.25, Order::Cross),
                torque(1.0, Order::Cross),
                Pass {
                    goal: Goal::Recheck {
                        torque_nm: 100.0,
                        most_rad: 0.05,
                    },
                    part: 1.0,
                    order: Order::Round,
                },
            ])
            .unwrap(),
        }
    }

    #[test]
    fn passes_go_over_all_bolts_in_their_order() {
        let turns: List<(u8, u8)> = flange().turns().map(|t| (t.pass, t.bolt)).collect();
        assert_eq!(
            turns,
            [
                (0, 0),
                (0, 2),
                (0, 1),
                (0, 3),
                (1, 0),
                (1, 2),
                (1, 1),
                (1, 3),
                (2, 0),
                (2, 1),
                (2, 2),
                (2, 3)
            ]
        );
        let mut stated = flange();
        stated.cross = Vec::from_slice(&[3, 1, 0, 2]).unwrap();
        let first: List<u8> = stated.turns().take(4).map(|t| t.bolt).collect();
        assert_eq!(first, [3, 1, 0, 2]);
    }

    #[test]
    fn a_later_pass_knows_what_the_bolt_carries() {
        let procedure = flange();
        let of = |pass| {
            let job = procedure.job(&job(), Turn { pass, bolt: 3 }).unwrap();
            (job.goal.target_nm(), job.carried_nm)
        };
        assert_eq!(of(0), (Some(25.0), None));
        assert_eq!(of(1), (Some(100.0), Some(25.0)));
        assert_eq!(of(2), (Some(100.0), Some(100.0)));
        assert_eq!(procedure.job(&job(), Turn { pass: 3, bolt: 0 }), None);
        assert_eq!(procedure.job(&job(), Turn { pass: 0, bolt: 4 }), None);
    }

    #[test]
    fn an_undone_bolt_carries_nothing() {
        let mut p = flange();
        p.passes
            .insert(
                1,
                Pass {
                    goal: Goal::Loosen {
                        recorded_nm: None,
                        breakaway_nm: None,
                        run_out_rad: None,
                    },
                    part: 1.0,
                    order: Order::Cross,
                },
            )
            .unwrap();
        assert_eq!(p.carried_nm(2, Some(48.0)), None);
        assert_eq!(p.check(None), Ok(()));
    }

    #[test]
    fn a_loosened_bolt_is_loose_whatever_it_carried() {
        let mut p = flange();
        let loosen = Goal::Loosen {
            recorded_nm: None,
            breakaway_nm: None,
            run_out_rad: None,
        };
        p.passes[0] = Pass {
            goal: loosen,
            part: 1.0,
            order: Order::Cross,
        };
        let mut tight = job();
        tight.carried_nm = Some(48.0);
        let carried = |pass| p.job(&tight, Turn { pass, bolt: 0 }).unwrap().carried_nm;
        assert_eq!((carried(0), carried(1)), (Some(48.0), None));
    }

    /// The window of the first of several passes, a quarter of 48 N·m, of 0.55 to 1.55 rad for all.
    fn quarter(locking: Locking) -> Option<Expected> {
        let mut whole = job();
        whole.fastener.locking = Some(locking);
        let mut p = Procedure::single(whole.goal);
        p.passes[0].part = 0.25;
        p.job(&whole, Turn::default()).unwrap().elastic_rad
    }

    #[test]
    fn a_part_of_the_torque_takes_a_part_of_the_angle() {
        let part = quarter(Locking::Free).unwrap().band();
        assert!((part.min - 0.25 * 0.55).abs() < 1e-6);
        assert!((part.max - 0.25 * 1.55).abs() < 1e-6);
    }

    /// By hand: of 12 N·m 2 or 4 clamp where the thread takes 10 or 8, of 48 N·m 38 or 40.
    #[test]
    fn what_the_thread_takes_is_no_part_of_the_angle() {
        let part = quarter(Locking::Stated(Band::new(8.0, 10.0)))
            .unwrap()
            .band();
        assert!((part.min - 0.55 * 2.0 / 38.0).abs() < 1e-6);
        assert!((part.max - 1.55 * 4.0 / 40.0).abs() < 1e-6);
        // Maybe nothing, surely nothing.
        let part = quarter(Locking::Stated(Band::new(8.0, 14.0)))
            .unwrap()
            .band();
        assert!(part.min.abs() < 1e-6 && part.max > 0.1);
        assert_eq!(quarter(Locking::Stated(Band::new(13.0, 14.0))), None);
    }

    #[test]
    fn the_whole_torque_takes_the_whole_angle_whatever_the_thread_takes() {
        let mut whole = job();
        whole.fastener.locking = Some(Locking::Stated(Band::new(8.0, 10.0)));
        let p = Procedure::single(whole.goal);
        assert_eq!(
            p.job(&whole, Turn::default()).unwrap().elastic_rad,
            whole.elastic_rad
        );
    }
}
