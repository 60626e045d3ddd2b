//! What the page shows of one run, in the units in which it is read: N·m and degrees.

use bolting_monitor::detect::{Finding, FindingKind};
use bolting_monitor::procedure::{BoltJob, Direction, Reason, Verdict};

use super::words::minus;
use crate::replay::Outcome;
use crate::words;

/// A figure with its standard uncertainty (coverage factor 1), same unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// The figure.
    pub value: f64,
    /// Its standard uncertainty.
    pub u: f64,
}

/// The torque that was asked for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Target {
    /// Torque, N·m.
    pub torque_nm: f64,
    /// Half width of the acceptance window, N·m.
    pub half_width_nm: f64,
}

/// A point of the torque–angle curve, tightening positive.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PagePoint {
    /// Bolt angle since the start of the run, degrees.
    pub angle_deg: f64,
    /// Bolt torque, N·m; `None` where it was not observable, which leaves a gap in the curve.
    pub torque_nm: Option<Estimate>,
}

/// A finding as the page says it.
#[derive(Clone, Debug, PartialEq)]
pub struct PageFinding {
    /// A few words for the plot.
    pub label: String,
    /// Whether it withdraws the permit.
    pub stops: bool,
    /// Bolt angle, degrees.
    pub angle_deg: f64,
    /// Bolt torque, N·m; `None` where it was not observable.
    pub torque_nm: Option<f64>,
    /// A sentence with the figures that decided.
    pub evidence: String,
    /// What most likely stands behind it, what else it may be, and the usual next step.
    pub advice: String,
}

/// One run as the page shows it.
#[derive(Clone, Debug, PartialEq)]
pub struct PageRun {
    /// Name for the list; need not be unique.
    pub name: String,
    /// Where it comes from, a line each: when, by which controller.
    pub about: Vec<String>,
    /// The answer.
    pub verdict: Verdict,
    /// Why.
    pub reasons: Vec<Reason>,
    /// Keys of the description that would have made a verdict possible.
    pub wanting: Vec<String>,
    /// What is missing from its record.
    pub missing: Vec<String>,
    /// Whether the monitor summed it up; else there is no final figure.
    pub summed_up: bool,
    /// Whether it is known what was asked for.
    pub described: bool,
    /// Torque that the bolt carried where it last turned, N·m; `None`: see `no_torque`.
    pub final_torque_nm: Option<Estimate>,
    /// What stands in place of a final torque.
    pub no_torque: &'static str,
    /// Bolt angle at the end, degrees.
    pub final_angle_deg: Estimate,
    /// Snug angle, degrees.
    pub snug_angle_deg: Option<Estimate>,
    /// Torque at the snug point, N·m.
    pub snug_torque_nm: f64,
    /// What was asked for.
    pub target: Option<Target>,
    /// Bolt angles between which snug was expected, degrees.
    pub snug_window_deg: Option<[f64; 2]>,
    /// Torque band expected before snug, N·m.
    pub prevailing_nm: Option<[f64; 2]>,
    /// In the order in which they were made.
    pub findings: Vec<PageFinding>,
    /// The curve as it was made.
    pub curve: Vec<PagePoint>,
    /// Samples offered.
    pub samples: u32,
    /// Gaps between samples.
    pub gaps: u32,
    /// Samples that could not be used.
    pub unusable_samples: u32,
    /// Whether this is simulated data of an invented scenario.
    pub invented: bool,
}

impl PageRun {
    /// What `job` asked for, where that is known, and what came of it.
    pub fn new(name: &str, job: Option<&BoltJob>, outcome: &Outcome, invented: bool) -> Self {
        let summary = &outcome.summary;
        // A finding carries no flag of its own, but the limit that it is held to.
        let limit_nm = outcome
            .findings
            .iter()
            .find(|f| f.kind == FindingKind::TorqueNotObservable)
            .map_or(f64::INFINITY, |f| f64::from(f.limit));
        let observable = |value: f32, u: f32| {
            let torque = estimate(value, u);
            (torque.value.is_finite() && torque.u <= limit_nm).then_some(torque)
        };
        let tightening = job.filter(|job| job.goal.direction() == Direction::Tighten);
        Self {
            name: name.to_owned(),
            about: Vec::new(),
            wanting: (job.into_iter())
                .flat_map(|job| (summary.reasons.iter()).filter_map(|r| words::wanting(*r, job)))
                .map(str::to_owned)
                .collect(),
            missing: Vec::new(),
            summed_up: true,
            described: true,
            verdict: summary.verdict,
            reasons: summary.reasons.to_vec(),
            final_torque_nm: outcome
                .final_torque_nm()
                .and_then(|torque_nm| observable(torque_nm, summary.final_torque_u_nm)),
            no_torque: outcome.no_torque_words(true),
            final_angle_deg: degrees(summary.final_angle_rad, summary.final_angle_u_rad),
            snug_angle_deg: summary.snug.map(|s| degrees(s.angle_rad, s.angle_u_rad)),
            snug_torque_nm: summary.snug.map_or(0.0, |s| s.torque_nm.into()),
            target: job.and_then(|job| job.goal.end_nm()).map(|window| Target {
                torque_nm: 0.5 * (f64::from(window.min) + f64::from(window.max)),
                half_width_nm: 0.5 * (f64::from(window.max) - f64::from(window.min)),
            }),
            snug_window_deg: tightening.and_then(|job| job.rundown_rad).map(|e| {
                [e.value - e.tolerance, e.value + e.tolerance].map(|x| f64::from(x).to_degrees())
            }),
            prevailing_nm: job
                .filter(|job| job.fastener.locking.is_some())
                .and_then(|job| job.fastener.prevailing_nm())
                .map(|b| [b.min.into(), b.max.into()]),
            findings: outcome
                .findings
                .iter()
                .enumerate()
                .map(|(told, f)| {
                    let earlier = &outcome.findings[..told];
                    page_finding(f, earlier, observable(f.torque_nm, f.torque_u_nm))
                })
                .collect(),
            curve: outcome
                .curve
                .iter()
                .map(|p| PagePoint {
                    angle_deg: f64::from(p.angle_rad).to_degrees(),
                    torque_nm: observable(p.torque_nm, p.torque_u_nm).filter(|_| p.observable),
                })
                .collect(),
            samples: summary.samples,
            gaps: summary.gaps,
            unusable_samples: summary.unusable_samples,
            invented,
        }
    }
}

fn estimate(value: f32, u: f32) -> Estimate {
    Estimate {
        value: value.into(),
        u: u.into(),
    }
}

fn degrees(value_rad: f32, u_rad: f32) -> Estimate {
    Estimate {
        value: f64::from(value_rad).to_degrees(),
        u: f64::from(u_rad).to_degrees(),
    }
}

fn page_finding(
    finding: &Finding,
    earlier: &[Finding],
    torque_nm: Option<Estimate>,
) -> PageFinding {
    PageFinding {
        label: words::finding_label(finding.kind).to_owned(),
        stops: finding.stops(),
        angle_deg: f64::from(finding.angle_rad).to_degrees(),
        torque_nm: torque_nm.map(|t| t.value),
        evidence: minus(&format!(
            "At {:.1}°: {}.",
            finding.angle_rad.to_degrees(),
            words::seen_with(finding, torque_nm.map(|_| finding.torque_nm))
        )),
        advice: words::advice(finding, earlier),
    }
}
