//! What a controller is told before it turns anything: bolt, arm and passes as one blob of bytes.
//!
//! ```text
//! blob = [version u8][Plan, postcard][crc u32 little-endian]
//! ```
//!
//! The CRC is the one of the frames, over all before it. A blob of another version is refused by
//! name, never guessed at: descriptions are kept as text, and compiled anew in a moment.

use core::fmt;

use serde::{Deserialize, Serialize};

use super::{bytes, crc32};
use crate::arm::{ArmDescription, ArmError};
use crate::fastener::Fault;
use crate::parts::Part;
use crate::procedure::{BoltJob, Direction, Goal, JobError, Mode, Procedure, ProcedureError, Turn};

/// Version of the blob.
pub const PLAN_VERSION: u8 = 1;

/// Bolt, arm and passes.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Plan {
    /// The bolt and its tool, as they are before the first pass.
    pub job: BoltJob,
    /// The arm; `None`: a powered spindle alone.
    pub arm: Option<ArmDescription>,
    /// What is done.
    pub procedure: Procedure,
}

/// Why a blob is no plan.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum PlanError {
    /// It does not fit the memory given.
    TooLong {
        /// The memory, bytes.
        room: usize,
    },
    /// Another version wrote it.
    Version(u8),
    /// Its CRC does not match, or it is cut short.
    Damaged,
    /// The CRC matches, but not the layout.
    Malformed,
    /// The bolt is unsound.
    Job(JobError),
    /// The fastener, or the torque of a pass, is impossible.
    Fastener(Fault),
    /// The arm is unsound.
    Arm(ArmError),
    /// The bolt is turned by the wrist, but no arm is described.
    NoArm,
    /// The passes are unsound.
    Procedure(ProcedureError),
    /// The plan needs a part that was left out of this build.
    LeftOut(Part),
}

impl fmt::Display for PlanError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TooLong { room } => write!(
                f,
                "plan does not fit {room} bytes: enlarge the memory for it"
            ),
            Self::Version(found) => write!(
                f,
                "plan of version {found}, this software reads {PLAN_VERSION}: compile the description anew with the host tools of the same release"
            ),
            Self::Damaged => f.write_str("plan does not match its CRC: send it again"),
            Self::Malformed => f.write_str(
                "plan has a sound CRC but not its layout: host and controller were not built from the same release",
            ),
            Self::Job(e) => e.fmt(f),
            Self::Fastener(e) => e.fmt(f),
            Self::Arm(e) => e.fmt(f),
            Self::NoArm => f.write_str(
                "plan turns the bolt by wrist strokes but describes no arm: add the arm, or use a powered spindle",
            ),
            Self::Procedure(e) => e.fmt(f),
            Self::LeftOut(part) => part.fmt(f),
        }
    }
}

impl core::error::Error for PlanError {}

impl Plan {
    /// Checks every figure, as the host does before it sends.
    ///
    /// # Errors
    /// The first mistake.
    pub fn check(&self) -> Result<(), PlanError> {
        let undoes = |goal: &Goal| goal.direction() == Direction::Undo;
        (Part::Arm.needed(self.arm.is_some()))
            .and_then(|()| {
                Part::Undoing.needed(
                    undoes(&self.job.goal)
                        || self.procedure.passes.iter().any(|pass| undoes(&pass.goal)),
                )
            })
            .map_err(PlanError::LeftOut)?;
        self.job.check().map_err(PlanError::Job)?;
        if let Some(arm) = self.arm.as_ref().filter(|_| Part::Arm.is_built_in()) {
            arm.check().map_err(PlanError::Arm)?;
        }
        if self.arm.is_none() && self.job.mode == Mode::WristStrokes {
            return Err(PlanError::NoArm);
        }
        self.procedure
            .check(self.job.carried_nm)
            .map_err(PlanError::Procedure)?;
        (0..self.procedure.passes.len() as u8)
            .filter_map(|pass| self.procedure.job(&self.job, Turn { pass, bolt: 0 }))
            .try_for_each(|job| job.check_fastener())
            .map_err(PlanError::Fastener)
    }

    /// Writes the blob to `out`; returns its length.
    ///
    /// # Errors
    /// [`PlanError::TooLong`], or what [`Plan::check`] says.
    pub fn to_blob(&self, out: &mut [u8]) -> Result<usize, PlanError> {
        self.check()?;
        let too_long = PlanError::TooLong { room: out.len() };
        let written = match out.split_first_mut() {
            Some((version, rest)) => {
                *version = PLAN_VERSION;
                bytes::write(self, rest).ok().map(|n| n + 1)
            }
            None => None,
        };
        let Some((length, crc)) = written.and_then(|n| out.get(..n).map(|body| (n, crc32(body))))
        else {
            return Err(too_long);
        };
        match out.get_mut(length..length + 4) {
            Some(tail) => {
                tail.copy_from_slice(&crc.to_le_bytes());
                Ok(length + 4)
            }
            None => Err(too_long),
        }
    }

    /// The CRC that a blob ends with, which tells one plan from another; 0 for what is no blob. (The
    /// CRC of a whole blob is the same for every one: that of anything followed by its own CRC.)
    pub fn crc_of(blob: &[u8]) -> u32 {
        (blob.split_last_chunk::<4>()).map_or(0, |(_, crc)| u32::from_le_bytes(*crc))
    }

    /// Reads a blob and checks it, so that a plan once read is sound.
    ///
    /// # Errors
    /// [`PlanError`]; nothing of a bad blob is used.
    pub fn from_blob(blob: &[u8]) -> Result<Self, PlanError> {
        let (body, crc) = blob.split_last_chunk::<4>().ok_or(PlanError::Damaged)?;
        if crc32(body) != u32::from_le_bytes(*crc) {
            return Err(PlanError::Damaged);
        }
        let plan: Self = match body.split_first() {
            Some((&PLAN_VERSION, rest)) => match bytes::read(rest) {
                Ok((plan, [])) => plan,
                _ => return Err(PlanError::Malformed),
            },
            Some((&other, _)) => return Err(PlanError::Version(other)),
            None => return Err(PlanError::Damaged),
        };
        plan.check()?;
        Ok(plan)
    }
}

/// A plan for tests.
#[cfg(test)]
pub(super) fn tests_plan() -> Plan {
    let job = crate::procedure::tests_job();
    Plan {
        procedure: Procedure::single(job.goal),
        job,
        arm: None,
    }
}

#[cfg(test)]
mod tests {
    use super::tests_plan as plan;
    use super::*;
    use crate::procedure::Goal;

    fn blob(plan: &Plan) -> heapless::Vec<u8, 1024> {
        let mut out = heapless::Vec::from_array([0; 1024]);
        let n = plan.to_blob(&mut out).unwrap();
        out.truncate(n);
        out
    }

    fn sealed(mut body: heapless::Vec<u8, 1024>) -> heapless::Vec<u8, 1024> {
        let n = body.len() - 4;
        let crc = crc32(&body[..n]).to_le_bytes();
        body[n..].copy_from_slice(&crc);
        body
    }

    #[test]
    fn a_plan_comes_back_as_it_was_sent() {
        assert_eq!(Plan::from_blob(&blob(&plan())), Ok(plan()));
    }

    #[test]
    fn plans_are_told_apart_by_the_crc_that_they_end_with() {
        let mut other = plan();
        other.job.name = "other".try_into().unwrap();
        let [one, other] = [plan(), other].map(|plan| blob(&plan));
        assert_ne!(Plan::crc_of(&one), Plan::crc_of(&other));
        assert_eq!(crc32(&one), crc32(&other));
        assert_eq!(Plan::crc_of(&[1, 2, 3]), 0);
    }

    #[test]
    fn any_flipped_bit_is_refused() {
        let good = blob(&plan());
        for i in 0..good.len() * 8 {
            let mut bad = good.clone();
            bad[i / 8] ^= 1 << (i % 8);
            assert_eq!(Plan::from_blob(&bad), Err(PlanError::Damaged), "bit {i}");
        }
        assert_eq!(Plan::from_blob(&[]), Err(PlanError::Damaged));
    }

    #[test]
    fn another_version_is_refused_by_name() {
        let mut other = blob(&plan());
        other[0] = 9;
        assert_eq!(Plan::from_blob(&sealed(other)), Err(PlanError::Version(9)));
    }

    #[test]
    fn an_unsound_plan_is_refused_on_the_controller_too() {
        let mut bad = plan();
        bad.procedure = Procedure::single(Goal::Torque {
            target_nm: f32::NAN,
            tolerance: 0.1,
        });
        assert!(matches!(
            bad.to_blob(&mut [0; 1024]),
            Err(PlanError::Procedure(_))
        ));
        let mut body = heapless::Vec::<u8, 1024>::from_array([0; 1024]);
        body[0] = PLAN_VERSION;
        let n = postcard::to_slice(&bad, &mut body[1..]).unwrap().len();
        body.truncate(n + 5);
        assert!(matches!(
            Plan::from_blob(&sealed(body)),
            Err(PlanError::Procedure(_))
        ));
    }

    #[test]
    fn no_room_is_told() {
        for room in 0..blob(&plan()).len() {
            let mut out = heapless::Vec::<u8, 1024>::from_array([0; 1024]);
            assert_eq!(
                plan().to_blob(&mut out[..room]),
                Err(PlanError::TooLong { room })
            );
        }
    }
}
