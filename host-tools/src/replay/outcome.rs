//! One run through the core crate, and what came out of it.

use bolting_monitor::detect::Finding;
use bolting_monitor::monitor::{Monitor, MonitorError, Update};
use bolting_monitor::procedure::{Reason, RunSummary};
use bolting_monitor::sample::JointSample;

use crate::description::Description;

/// What the monitor said of one run.
#[derive(Clone, Debug)]
pub struct Outcome {
    /// Summary at the end.
    pub summary: RunSummary,
    /// Findings in the order in which they were made.
    pub findings: Vec<Finding>,
    /// Time of the first sample, µs: findings count from it.
    pub start_us: u64,
    /// Whether the torque could be told where the bolt last turned; `None` if it never turned.
    pub observable: Option<bool>,
    /// The curve as it was made: one point for each angle step.
    pub curve: Vec<CurvePoint>,
}

/// One point of the torque–angle curve, tightening positive.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CurvePoint {
    /// Time since the start of the run, s.
    pub time_s: f64,
    /// Bolt angle, rad.
    pub angle_rad: f32,
    /// Bolt torque, N·m.
    pub torque_nm: f32,
    /// Standard uncertainty of the torque, N·m.
    pub torque_u_nm: f32,
    /// Whether the torque was observable there.
    pub observable: bool,
}

impl Outcome {
    /// Time of a finding since the start of the run, s.
    pub fn time_s(&self, finding: &Finding) -> f64 {
        seconds(finding.time_us, self.start_us)
    }

    /// Torque that the bolt carried where it last turned, N·m, tightening positive; `None` where it
    /// is not observable or the bolt never turned.
    pub fn final_torque_nm(&self) -> Option<f32> {
        let told = self.observable == Some(true)
            && !self.summary.reasons.contains(&Reason::TorqueNotObservable);
        told.then_some(self.summary.final_torque_nm)
    }

    /// What stands in place of a final torque, the same wherever it is shown. `summed_up` tells
    /// whether the monitor came to the end of the run.
    pub fn no_torque_words(&self, summed_up: bool) -> &'static str {
        match self.observable {
            Some(_) => "not observable",
            None if summed_up => "did not turn",
            None => "not told",
        }
    }

    /// The first finding that stops, if there is one.
    pub fn stop(&self) -> Option<&Finding> {
        self.findings.iter().find(|f| f.stops())
    }
}

/// Feeds samples to a fresh monitor that takes over a tare, if there is one.
///
/// # Errors
/// When the description does not make a monitor.
pub fn run<const N: usize>(
    description: &Description,
    tare: Option<&Monitor<N>>,
    samples: impl Iterator<Item = JointSample<N>>,
) -> Result<Outcome, MonitorError> {
    let arm = description.arm.as_ref().filter(|_| N > 0);
    let mut monitor = Box::new(Monitor::<N>::try_new(&description.job, arm)?);
    if let Some(taring) = tare {
        monitor.adopt_tare(taring);
    }
    let mut findings = Vec::new();
    let mut curve = Vec::new();
    let mut start_us = None;
    let mut observable = None;
    for sample in samples {
        let start = *start_us.get_or_insert(sample.time_us);
        let update: Update = monitor.update(&sample);
        findings.extend(update.finding);
        if update.turning {
            observable = Some(update.torque_observable);
        }
        if update.curve_point {
            curve.push(CurvePoint {
                time_s: seconds(update.time_us, start),
                angle_rad: update.angle_rad,
                torque_nm: update.torque_nm,
                torque_u_nm: update.torque_u_nm,
                observable: update.torque_observable,
            });
        }
    }
    findings.extend(monitor.finish());
    let summary = monitor.summary();
    Ok(Outcome {
        observable: told(&summary, observable),
        summary,
        findings,
        start_us: start_us.unwrap_or(0),
        curve,
    })
}

/// Whether the torque could be told, from the summary and from the last sample in which the bolt
/// turned: while torque is unknown no turn is counted, so the summary goes first.
pub(crate) fn told(summary: &RunSummary, turning: Option<bool>) -> Option<bool> {
    if summary.reasons.contains(&Reason::TorqueNotObservable) {
        Some(false)
    } else {
        turning
    }
}

fn seconds(time_us: u64, start_us: u64) -> f64 {
    time_us.saturating_sub(start_us) as f64 * 1e-6
}
