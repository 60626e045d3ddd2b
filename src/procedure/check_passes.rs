//! Whether the passes can be followed.

use core::fmt;

use super::check::JobError;
use super::check_goal;
use super::goal::Goal;
use super::group::MAX_BOLTS;
use super::passes::{Pass, Procedure};

/// Why a procedure is refused.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum ProcedureError {
    /// The number of bolts is 0 or above [`MAX_BOLTS`].
    Bolts(u8),
    /// There is no pass.
    NoPass,
    /// The stated crosswise order does not hold each bolt once.
    Cross,
    /// A pass aims at a part that is not above 0 and at most 1.
    Part {
        /// The pass, from 0.
        pass: u8,
        /// The part.
        part: f32,
    },
    /// A pass aims below the one before: its bolts would not move.
    Falling {
        /// The pass, from 0.
        pass: u8,
    },
    /// A goal is unsound.
    Goal {
        /// The pass, from 0.
        pass: u8,
        /// What is wrong with it.
        error: JobError,
    },
}

impl fmt::Display for ProcedureError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Bolts(bolts) => {
                write!(f, "{bolts} bolts: give 1 to {MAX_BOLTS}")
            }
            Self::NoPass => f.write_str("no pass: give at least one"),
            Self::Cross => f.write_str(
                "the crosswise order does not name each bolt once: correct it, or leave it out and it is made",
            ),
            Self::Part { pass, part } => write!(
                f,
                "pass {} aims at {} % of the target: give more than 0 and at most 100",
                u16::from(*pass) + 1,
                100.0 * part
            ),
            Self::Falling { pass } => write!(
                f,
                "pass {} aims at, or counts from, less torque than its bolts carry by then, so they would not move as meant: put the passes in rising order",
                u16::from(*pass) + 1
            ),
            Self::Goal { pass, error } => {
                write!(f, "pass {}: {error}", u16::from(*pass) + 1)
            }
        }
    }
}

impl core::error::Error for ProcedureError {}

impl Procedure {
    /// Every mistake, so that all can be mended at once. `carried_nm`: torque that the bolts carry
    /// before the first pass.
    pub fn faults(&self, carried_nm: Option<f32>) -> impl Iterator<Item = ProcedureError> + '_ {
        let bolts = (self.bolts == 0 || usize::from(self.bolts) > MAX_BOLTS)
            .then_some(ProcedureError::Bolts(self.bolts));
        let none = self.passes.is_empty().then_some(ProcedureError::NoPass);
        let each_once = (0..self.bolts).all(|b| self.cross.contains(&b))
            && self.cross.len() == usize::from(self.bolts);
        let cross = (!self.cross.is_empty() && !each_once).then_some(ProcedureError::Cross);
        let passes = (0_u8..)
            .zip(&self.passes)
            .flat_map(move |(i, pass)| self.faults_of(i, pass, carried_nm));
        bolts.into_iter().chain(none).chain(cross).chain(passes)
    }

    fn faults_of<'a>(
        &'a self,
        i: u8,
        pass: &'a Pass,
        carried_nm: Option<f32>,
    ) -> impl Iterator<Item = ProcedureError> + use<'a> {
        let part = (!pass.part_is_sound()).then_some(ProcedureError::Part {
            pass: i,
            part: pass.part,
        });
        // What must be passed on the way up; a check may well ask for less than was given.
        let least = self.goal(i).and_then(|goal| match goal {
            Goal::TorqueThenAngle { start_nm, .. } => Some(start_nm),
            Goal::Recheck { .. } => None,
            other => other.target_nm(),
        });
        let falling = self
            .carried_nm(i, carried_nm)
            .zip(least)
            .filter(|(carried, least)| least < carried)
            // A part out of its bounds is told as such.
            .filter(|_| self.passes.iter().all(Pass::part_is_sound))
            .map(|_| ProcedureError::Falling { pass: i });
        let goal = check_goal::faults(&pass.goal)
            .map(move |error| ProcedureError::Goal { pass: i, error });
        part.into_iter().chain(falling).chain(goal)
    }

    /// Checks every figure.
    ///
    /// # Errors
    /// The first mistake.
    pub fn check(&self, carried_nm: Option<f32>) -> Result<(), ProcedureError> {
        self.faults(carried_nm).next().map_or(Ok(()), Err)
    }
}

#[cfg(test)]
mod tests {
    extern crate std;
    use std::string::ToString;
    use std::vec::Vec as List;

    use heapless::Vec;

    use super::super::goal::Expected;
    use super::super::passes::tests::flange;
    use super::*;

    #[test]
    fn every_mistake_is_told_with_its_pass() {
        let mut p = flange();
        assert_eq!(p.check(None), Ok(()));
        p.bolts = 65;
        p.cross = Vec::from_slice(&[0, 0]).unwrap();
        p.passes[0].part = 1.1;
        let told = |p: &Procedure, parts: &[&str]| {
            let told: List<_> = p.faults(None).map(|e| e.to_string()).collect();
            assert_eq!(told.len(), parts.len(), "{told:?}");
            for (text, part) in told.iter().zip(parts) {
                assert!(text.contains(part), "{text}");
            }
        };
        told(
            &p,
            &["give 1 to 64", "each bolt once", "pass 1 aims at 110 %"],
        );
        let mut p = flange();
        p.passes[0].part = 0.75;
        p.passes[1].part = 0.5;
        told(&p, &["pass 2 aims at, or counts from, less"]);
        p.passes.clear();
        assert!(p.faults(None).any(|e| e == ProcedureError::NoPass));
    }

    #[test]
    fn a_check_may_ask_for_less_than_was_given_and_a_start_torque_may_not() {
        let mut p = flange();
        p.passes[2].goal = Goal::Recheck {
            torque_nm: 90.0,
            most_rad: 0.05,
        };
        assert_eq!(p.check(None), Ok(()));
        p.passes[2].goal = Goal::TorqueThenAngle {
            start_nm: 90.0,
            angle_rad: Expected {
                value: 1.0,
                tolerance: 0.1,
            },
            end_nm: crate::fastener::Band::new(100.0, 150.0),
        };
        assert_eq!(p.check(None), Err(ProcedureError::Falling { pass: 2 }));
    }
}
