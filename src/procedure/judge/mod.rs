//! From what was seen to accepted, rejected with reasons, or not assessable.
//!
//! Decision rule (JCGM 106, 8.2.1, simple acceptance with a limit on the uncertainty): a figure must
//! lie in its window, and its expanded uncertainty (k = 2) must not exceed the window's half width;
//! otherwise the data cannot tell and the run is not assessable. A figure that lies outside by more
//! than its expanded uncertainty is rejected however unsure it is: what was seen to be wrong is never
//! hidden behind what could not be told.

#[cfg(test)]
mod held_tests;
mod loosen;
#[cfg(test)]
mod tests;
mod tighten;

use heapless::Vec;

use crate::fastener::Band;
use crate::parts::Part;

use super::goal::{Direction, Expected, Goal};
use super::job::BoltJob;
use super::verdict::{Reason, Snug, Verdict};

/// A figure with its standard uncertainty, same unit.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Figure {
    /// The figure.
    pub value: f32,
    /// Its standard uncertainty.
    pub u: f32,
}

/// What was seen of a run, tightening positive.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Seen {
    /// Torque where the bolt last turned, N·m; `None` where the bolt never turned.
    pub final_torque_nm: Option<f32>,
    /// Its standard uncertainty, N·m.
    pub final_torque_u_nm: f32,
    /// Whether it was observable.
    pub observable: bool,
    /// Bolt angle at the end, rad.
    pub final_angle_rad: Figure,
    /// The snug point.
    pub snug: Option<Snug>,
    /// Bolt angle at which the torque first reached the goal's mark, rad.
    pub mark_rad: Option<Figure>,
    /// Highest torque in the driving direction, N·m, evened out over some 20 ms; `None` where it was
    /// never observable.
    pub highest_nm: Option<Figure>,
    /// Torque at which the slope fell as at the onset of yield, N·m.
    pub yield_nm: Option<Figure>,
    /// Highest torque before the bolt came loose, N·m, positive.
    pub breakaway_nm: Option<Figure>,
    /// Bolt angle at which the last thread was free, rad, undoing positive.
    pub free_rad: Option<Figure>,
    /// Standard uncertainty of the torque where the head seated, N·m: what does not average out.
    pub seat_u_nm: f32,
    /// Torque that the bolt has lost while it was held after its last turning, N·m, where relaxation was
    /// found.
    pub lost_nm: Option<f32>,
    /// Whether an undone bolt turned on at more than its thread may take, and was not seen to come out.
    pub run_out_in_doubt: bool,
    /// Whether a stopping finding stands.
    pub stopped: bool,
    /// Whether a finding that does not stop speaks against the bolt: snug overdue, running torque out
    /// of its band.
    pub adverse: bool,
    /// Whether a joint torque was found drifting, frozen or clipped.
    pub sensing_in_doubt: bool,
    /// Whether the joint torques contradicted each other.
    pub joints_disagree: bool,
    /// Whether the slope at the end leaves open that the bolt has yielded below its window.
    pub yield_in_doubt: bool,
    /// Part of the run, by time or count, for which samples were missing or unusable; 1 where its end was
    /// not seen.
    pub missing_part: f32,
}

/// Missing part above which a run is not assessable (common practice, no source).
const MISSING_PART: f32 = 0.2;

/// Where a figure lies against its window.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Place {
    Below,
    Inside,
    Above,
    Unsure,
}

fn place(figure: Figure, window: Band) -> Place {
    let expanded = 2.0 * figure.u;
    // `!(<=)` holds for what is not a number, too.
    if figure.value + expanded < window.min {
        Place::Below
    } else if figure.value - expanded > window.max {
        Place::Above
    } else if !(expanded <= 0.5 * (window.max - window.min)) {
        Place::Unsure
    } else if figure.value < window.min {
        Place::Below
    } else if figure.value > window.max {
        Place::Above
    } else {
        Place::Inside
    }
}

/// What speaks for, against and neither for nor against a bolt.
#[derive(Debug, Default)]
struct Grounds {
    met: Vec<Reason, 8>,
    against: Vec<Reason, 8>,
    unknown: Vec<Reason, 8>,
}

impl Grounds {
    // A list that is full already holds more than enough reasons.
    fn met(&mut self, reason: Reason) {
        self.met.push(reason).unwrap_or_default();
    }

    fn against(&mut self, reason: Reason) {
        self.against.push(reason).unwrap_or_default();
    }

    fn unknown(&mut self, reason: Reason) {
        self.unknown.push(reason).unwrap_or_default();
    }

    /// A figure against its window: the reasons for below, inside, above and unsure.
    #[inline(never)]
    fn hold(&mut self, figure: Figure, window: Band, reasons: [Reason; 4]) {
        let [below, inside, above, unsure] = reasons;
        match place(figure, window) {
            Place::Below => self.against(below),
            Place::Inside => self.met(inside),
            Place::Above => self.against(above),
            Place::Unsure => self.unknown(unsure),
        }
    }
}

/// The verdict and all its reasons.
pub fn judge(job: &BoltJob, seen: &Seen) -> (Verdict, Vec<Reason, 8>) {
    let mut grounds = Grounds::default();
    if seen.stopped {
        grounds.against(Reason::FindingStands);
    }
    if seen.adverse {
        grounds.against(Reason::FindingAgainst);
    }
    if seen.sensing_in_doubt {
        grounds.unknown(Reason::SensingInDoubt);
    }
    if seen.joints_disagree {
        grounds.unknown(Reason::JointsDisagree);
    }
    if seen.yield_in_doubt {
        grounds.unknown(Reason::YieldInDoubt);
    }
    if seen.missing_part > MISSING_PART {
        grounds.unknown(Reason::SamplesMissing);
    }
    if job.goal.direction() == Direction::Tighten {
        tighten::running(job, seen, &mut grounds);
    }
    match job.goal {
        Goal::Watch(Direction::Undo) => grounds.unknown(Reason::UndoingNotJudged),
        Goal::Watch(Direction::Tighten) => grounds.unknown(Reason::NoTarget),
        Goal::Torque { .. } => tighten::to_torque(job, seen, &mut grounds),
        Goal::TorqueThenAngle { angle_rad, .. } => {
            tighten::through_angle(job, seen, &angle_rad, &mut grounds);
        }
        Goal::Yield { onset_nm, .. } => tighten::to_yield(job, seen, onset_nm, &mut grounds),
        Goal::Recheck {
            torque_nm,
            most_rad,
        } => tighten::recheck(seen, torque_nm, most_rad, &mut grounds),
        Goal::Loosen {
            breakaway_nm,
            run_out_rad,
            ..
        } if Part::Undoing.is_built_in() => {
            loosen::undone(seen, breakaway_nm, run_out_rad, &mut grounds);
        }
        // No monitor takes such a job where the part is left out.
        Goal::Loosen { .. } => grounds.unknown(Reason::UndoingNotJudged),
    }
    if !grounds.against.is_empty() {
        (Verdict::Rejected, grounds.against)
    } else if !grounds.unknown.is_empty() || grounds.met.is_empty() {
        (Verdict::NotAssessable, grounds.unknown)
    } else {
        (Verdict::Accepted, grounds.met)
    }
}
