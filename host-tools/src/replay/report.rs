//! A replayed run as the JSON object that `replay --json` writes, one a line.

use bolting_monitor::detect::{Finding, Place};
use serde::Serialize;

use super::outcome::Outcome;
use crate::words::{cause, next_step, quantity_name, reason_name, seen, shown_torque_nm};

/// Version of the form; raised when a key changes its meaning or goes.
pub const SCHEMA_VERSION: u32 = 1;

/// One run. Angles count from the start of the run, rad of bolt rotation, tightening positive; the
/// numbers are always finite, what is no figure is `None`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Report {
    /// See [`SCHEMA_VERSION`].
    pub schema_version: u32,
    /// Name of the run: the file's name without its ending.
    pub run: String,
    /// `accepted`, `rejected` or `not_assessable`.
    pub verdict: &'static str,
    /// Why, in snake case.
    pub reasons: Vec<&'static str>,
    /// Torque that the bolt carried where it last turned, N·m; `None` where it is not observable
    /// or the bolt never turned.
    pub final_torque_nm: Option<f32>,
    /// Standard uncertainty of the final torque (coverage factor 1), N·m; `None` where that is.
    pub final_torque_u_nm: Option<f32>,
    /// Bolt angle at the end, rad; `None` where the run was never summed up or none was told.
    pub final_angle_rad: Option<f32>,
    /// Its standard uncertainty, rad; `None` where nobody told it.
    pub final_angle_u_rad: Option<f32>,
    /// Bolt angle at the snug point, rad, if there is one.
    pub snug_angle_rad: Option<f32>,
    /// Its standard uncertainty, rad.
    pub snug_angle_u_rad: Option<f32>,
    /// Torque at the snug point, N·m.
    pub snug_torque_nm: Option<f32>,
    /// Samples fed; `None` where the run was never summed up, as the next one and `gaps`.
    pub samples: Option<u32>,
    /// Samples of them that were not used.
    pub unusable_samples: Option<u32>,
    /// Rows of the file that were left out before (`--lenient`).
    pub skipped_rows: usize,
    /// Gaps between samples that were longer than 2.5 usual steps.
    pub gaps: Option<u32>,
    /// Whether the description says that the scenario is made up; `None` where there is none to say.
    pub invented: Option<bool>,
    /// Findings, in the order in which they were made.
    pub alarms: Vec<Alarm>,
}

/// One finding with its evidence.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Alarm {
    /// What was found, in snake case.
    pub kind: &'static str,
    /// Time since the start of the run, s.
    pub time_s: f64,
    /// Bolt angle, rad.
    pub angle_rad: Option<f32>,
    /// Bolt torque over the last angle step, N·m; `None` where it was not observable.
    pub torque_nm: Option<f32>,
    /// Standard uncertainty of that torque, N·m.
    pub torque_u_nm: Option<f32>,
    /// Local slope of the curve, N·m/rad.
    pub slope_nm_per_rad: Option<f32>,
    /// Axial advance per turn as a part of the pitch, where the arm tells it.
    pub advance_ratio: Option<f32>,
    /// The quantity that decided: `torque_nm`, `drop_nm`, `uncertainty_nm` or `residual_ratio`.
    pub quantity: &'static str,
    /// Its value.
    pub value: Option<f32>,
    /// The limit that it crossed.
    pub limit: Option<f32>,
    /// Joint that it points at, counted from the base, the first is 1.
    pub joint: Option<u8>,
    /// Unit direction in the tip frame in which the tip should move to take a side load off.
    pub relief: Option<[f32; 3]>,
    /// Whether turning on would do harm, so that the permit was withdrawn.
    pub stops: bool,
    /// What most likely stands behind it, ...
    pub likely: Option<&'static str>,
    /// ... and what else the evidence fits.
    pub runner_up: Option<&'static str>,
    /// What was seen, in a sentence with figures.
    pub seen: String,
    /// What is usually done about it (common practice; the joint's procedure decides).
    pub next_step: &'static str,
}

impl Report {
    /// The report of a run called `run`, of whose file `skipped_rows` were left out, of a scenario that
    /// may be `invented`.
    pub fn new(run: &str, outcome: &Outcome, skipped_rows: usize, invented: Option<bool>) -> Self {
        let summary = &outcome.summary;
        let final_torque_nm = outcome.final_torque_nm().and_then(finite);
        Self {
            schema_version: SCHEMA_VERSION,
            run: run.to_owned(),
            verdict: summary.verdict.name(),
            reasons: summary.reasons.iter().map(|r| reason_name(*r)).collect(),
            final_torque_nm,
            final_torque_u_nm: final_torque_nm.and_then(|_| finite(summary.final_torque_u_nm)),
            final_angle_rad: finite(summary.final_angle_rad),
            final_angle_u_rad: Some(summary.final_angle_u_rad).filter(|u| u.is_finite()),
            snug_angle_rad: summary.snug.and_then(|snug| finite(snug.angle_rad)),
            snug_angle_u_rad: summary.snug.and_then(|snug| finite(snug.angle_u_rad)),
            snug_torque_nm: summary.snug.and_then(|snug| finite(snug.torque_nm)),
            samples: Some(summary.samples),
            unusable_samples: Some(summary.unusable_samples),
            skipped_rows,
            gaps: Some(summary.gaps),
            invented,
            alarms: outcome
                .findings
                .iter()
                .map(|finding| Alarm::new(outcome, finding))
                .collect(),
        }
    }

    /// Without the figures that only the end of a run tells.
    pub fn never_summed_up(self) -> Self {
        Self {
            final_torque_nm: None,
            final_torque_u_nm: None,
            final_angle_rad: None,
            final_angle_u_rad: None,
            samples: None,
            unusable_samples: None,
            gaps: None,
            ..self
        }
    }
}

impl Alarm {
    fn new(outcome: &Outcome, finding: &Finding) -> Self {
        Self {
            kind: finding.kind.name(),
            time_s: outcome.time_s(finding),
            angle_rad: finite(finding.angle_rad),
            torque_nm: shown_torque_nm(finding).and_then(finite),
            torque_u_nm: finite(finding.torque_u_nm),
            slope_nm_per_rad: finite(finding.slope_nm_per_rad),
            advance_ratio: finding.advance_ratio.and_then(|(ratio, _)| finite(ratio)),
            quantity: quantity_name(finding.quantity),
            value: finite(finding.value),
            limit: finite(finding.limit),
            joint: match finding.place {
                Some(Place::Joint(joint)) => Some(joint),
                _ => None,
            },
            relief: match finding.place {
                Some(Place::Relief(direction)) if direction.iter().all(|x| x.is_finite()) => {
                    Some(direction)
                }
                _ => None,
            },
            stops: finding.stops(),
            likely: finding.likely.map(cause),
            runner_up: finding.runner_up.map(cause),
            seen: seen(finding),
            next_step: next_step(finding),
        }
    }
}

/// JSON has no infinity: what lies beyond every measure, absurd samples may give it, becomes the
/// largest number. What is no figure is none there either.
fn finite(x: f32) -> Option<f32> {
    (!x.is_nan()).then(|| x.clamp(f32::MIN, f32::MAX))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_lies_beyond_measure_is_a_number_and_what_is_none_is_not() {
        for x in [f32::INFINITY, f32::NEG_INFINITY, -1.5] {
            let json = serde_json::to_value(finite(x)).unwrap();
            assert!(json.as_f64().is_some_and(f64::is_finite), "{x}: {json}");
        }
        assert_eq!(finite(-1.5), Some(-1.5));
        assert_eq!(finite(f32::NAN), None);
    }
}
