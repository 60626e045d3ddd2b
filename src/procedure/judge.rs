//! From what was seen to accepted, rejected with reasons, or not assessable.
//!
//! Decision rule (JCGM 106, 8.2.1, simple acceptance with a limit on the uncertainty): the final
//! torque must lie in the window, and its expanded uncertainty (k = 2) must not exceed the window's
//! half width; otherwise the data cannot tell and the run is not assessable.

use heapless::Vec;

use super::job::{BoltJob, Direction, Expected};
use super::verdict::{Reason, Snug, Verdict};

/// What was seen of a run, tightening positive.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Seen {
    /// Torque where the bolt last turned, N·m; `None` where the bolt never turned.
    pub final_torque_nm: Option<f32>,
    /// Its standard uncertainty, N·m.
    pub final_torque_u_nm: f32,
    /// Whether it was observable.
    pub observable: bool,
    /// Bolt angle at the end, rad.
    pub final_angle_rad: f32,
    /// The snug point.
    pub snug: Option<Snug>,
    /// Whether a stopping finding stands.
    pub stopped: bool,
    /// Whether the joint torques contradicted each other.
    pub joints_disagree: bool,
    /// Part of the run, by time or count, for which samples were missing or unusable.
    pub missing_part: f32,
}

/// Missing part above which a run is not assessable (common practice, no source).
const MISSING_PART: f32 = 0.2;

/// The verdict and all its reasons.
pub fn judge(job: &BoltJob, seen: &Seen) -> (Verdict, Vec<Reason, 8>) {
    let mut against = Vec::<Reason, 8>::new();
    let mut unknown = Vec::<Reason, 8>::new();
    // A list that is full already holds more than enough reasons.
    let mut reject = |r| against.push(r).unwrap_or_default();
    let mut cannot_tell = |r| unknown.push(r).unwrap_or_default();

    if job.direction == Direction::Undo {
        cannot_tell(Reason::UndoingNotJudged);
    }
    if seen.stopped {
        reject(Reason::FindingStands);
    }
    if seen.joints_disagree {
        cannot_tell(Reason::JointsDisagree);
    }
    if seen.missing_part > MISSING_PART {
        cannot_tell(Reason::SamplesMissing);
    }
    if job.direction == Direction::Tighten {
        match job.target_torque_nm {
            None => cannot_tell(Reason::NoTarget),
            Some(target_nm) => {
                let half = target_nm * job.torque_tolerance;
                let torque_nm = seen.final_torque_nm.unwrap_or(0.0);
                if !seen.observable {
                    cannot_tell(Reason::TorqueNotObservable);
                } else if 2.0 * seen.final_torque_u_nm > half {
                    cannot_tell(Reason::UncertaintyTooLarge);
                } else if torque_nm < target_nm - half {
                    reject(Reason::TorqueBelowWindow);
                } else if torque_nm > target_nm + half {
                    reject(Reason::TorqueAboveWindow);
                }
                judge_angles(
                    job,
                    seen,
                    target_nm,
                    torque_nm,
                    &mut reject,
                    &mut cannot_tell,
                );
            }
        }
    }
    if !against.is_empty() {
        (Verdict::Rejected, against)
    } else if !unknown.is_empty() {
        (Verdict::NotAssessable, unknown)
    } else {
        let mut met = Vec::new();
        met.push(Reason::TorqueInWindow).unwrap_or_default();
        (Verdict::Accepted, met)
    }
}

fn judge_angles(
    job: &BoltJob,
    seen: &Seen,
    target_nm: f32,
    torque_nm: f32,
    reject: &mut impl FnMut(Reason),
    cannot_tell: &mut impl FnMut(Reason),
) {
    let Some(snug) = seen.snug else {
        cannot_tell(Reason::NoSnug);
        return;
    };
    let room = 2.0 * snug.angle_u_rad;
    let outside = |value: f32, e: &Expected| (value - e.value).abs() > e.tolerance + room;
    if job.rundown_rad.is_some_and(|e| outside(snug.angle_rad, &e)) {
        reject(Reason::SnugOutsideWindow);
    }
    // Angle that this joint takes from snug to the target, by its own rate.
    let to_target = (target_nm - snug.torque_nm) / (torque_nm - snug.torque_nm);
    let elastic_rad = (seen.final_angle_rad - snug.angle_rad) * to_target;
    if to_target > 0.0 && job.elastic_rad.is_some_and(|e| outside(elastic_rad, &e)) {
        reject(Reason::ElasticAngleOutsideWindow);
    }
}

#[cfg(test)]
mod tests {
    use super::super::job::tests::job;
    use super::*;

    fn seen() -> Seen {
        Seen {
            final_torque_nm: Some(48.0),
            final_torque_u_nm: 0.5,
            observable: true,
            final_angle_rad: 32.5,
            snug: Some(Snug {
                angle_rad: 31.4,
                angle_u_rad: 0.01,
                torque_nm: 0.5,
            }),
            stopped: false,
            joints_disagree: false,
            missing_part: 0.0,
        }
    }

    fn answer(change: impl FnOnce(&mut Seen)) -> (Verdict, Vec<Reason, 8>) {
        let mut s = seen();
        change(&mut s);
        judge(&job(), &s)
    }

    #[test]
    fn a_good_run_is_accepted_for_a_reason() {
        let (v, r) = answer(|_| ());
        assert_eq!(
            (v, r.as_slice()),
            (Verdict::Accepted, &[Reason::TorqueInWindow][..])
        );
    }

    #[test]
    fn each_shortfall_is_named() {
        type Case = (fn(&mut Seen), Verdict, Reason);
        let cases: [Case; 8] = [
            (
                |s| s.final_torque_nm = Some(40.0),
                Verdict::Rejected,
                Reason::TorqueBelowWindow,
            ),
            (
                |s| s.final_torque_nm = Some(55.0),
                Verdict::Rejected,
                Reason::TorqueAboveWindow,
            ),
            (
                |s| s.final_torque_u_nm = 3.0,
                Verdict::NotAssessable,
                Reason::UncertaintyTooLarge,
            ),
            (
                |s| s.observable = false,
                Verdict::NotAssessable,
                Reason::TorqueNotObservable,
            ),
            (
                |s| s.stopped = true,
                Verdict::Rejected,
                Reason::FindingStands,
            ),
            (|s| s.snug = None, Verdict::NotAssessable, Reason::NoSnug),
            (
                |s| s.missing_part = 0.5,
                Verdict::NotAssessable,
                Reason::SamplesMissing,
            ),
            (
                |s| s.final_angle_rad = 36.0,
                Verdict::Rejected,
                Reason::ElasticAngleOutsideWindow,
            ),
        ];
        for (change, verdict, reason) in cases {
            let (v, r) = answer(change);
            assert_eq!(v, verdict, "{reason:?}");
            assert!(r.contains(&reason), "{r:?} lacks {reason:?}");
        }
    }

    #[test]
    fn a_stopping_finding_is_never_hidden_behind_not_assessable() {
        let (v, r) = answer(|s| {
            s.stopped = true;
            s.joints_disagree = true;
        });
        assert_eq!(v, Verdict::Rejected);
        assert!(r.contains(&Reason::FindingStands));
    }
}
