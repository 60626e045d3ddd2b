//! One simulated run through the monitor, and how far the answer was from the truth.

use std::path::Path;

use crate::description::Description;
use crate::replay;
use crate::simulate::{self, Mode, Row, Scenario, simulate};

/// Answer against truth of one run. Torques in N·m, angles in degrees.
#[derive(Clone, Debug, serde::Serialize)]
pub struct Scored {
    /// Number in the campaign.
    pub index: usize,
    /// What was wrong with the thread.
    pub fault: String,
    /// Whether a powered spindle turned the bolt.
    pub spindle: bool,
    /// Target torque.
    pub target_nm: f64,
    /// Sensor floor of the source that was used, 1 sigma.
    pub floor_nm: f64,
    /// Torque error at the end.
    pub torque_error_nm: f64,
    /// Stated standard uncertainty of it.
    pub torque_u_nm: f64,
    /// Bolt angle error at the end.
    pub angle_error_deg: f64,
    /// Snug angle error, where truth and answer both have one.
    pub snug_error_deg: Option<f64>,
    /// Stated standard uncertainty of the snug angle.
    pub snug_u_deg: Option<f64>,
    /// Whether the truth has a snug angle that the answer lacks.
    pub snug_missed: bool,
    /// First finding that stops, with its true bolt angle.
    pub stop: Option<Stop>,
    /// Other findings.
    pub others: Vec<String>,
    /// True angle at which the thread began to fail.
    pub onset_deg: Option<f64>,
    /// True angle of the highest torque.
    pub peak_deg: f64,
    /// Answer.
    pub verdict: String,
    /// Its reasons.
    pub reasons: String,
    /// Samples in the run.
    pub samples: usize,
    /// Time the monitor took for them, s.
    pub monitor_s: f64,
}

/// A stop: what was named, and where the bolt truly was.
#[derive(Clone, Debug, serde::Serialize)]
pub struct Stop {
    /// Name of the finding.
    pub kind: String,
    /// True bolt angle at that sample, degrees.
    pub at_deg: f64,
    /// True torque at that sample, part of the target.
    pub torque_part: f64,
}

impl Scored {
    /// Whether the thread was sound.
    pub fn sound(&self) -> bool {
        self.fault == "none"
    }

    /// Torque error as a part of the target.
    pub fn torque_part(&self) -> f64 {
        self.torque_error_nm / self.target_nm
    }

    /// Whether the stop that came is the one that was due, not before the thread began to fail.
    pub fn found(&self) -> bool {
        self.stop.as_ref().is_some_and(|s| {
            s.kind == self.fault && self.onset_deg.is_some_and(|o| s.at_deg >= o - 1.0)
        })
    }

    /// Whether a stop came that was not due: on a sound thread, or before it began to fail.
    pub fn false_stop(&self) -> bool {
        self.stop
            .as_ref()
            .is_some_and(|s| self.onset_deg.is_none_or(|o| s.at_deg < o - 1.0))
    }
}

/// Simulates a scenario and scores the monitor on it. `arm_dir` holds the simulator's `arm.urdf`.
///
/// # Panics
/// If the simulator writes a description that is refused: a fault of this program.
pub fn score(index: usize, scenario: &Scenario, arm_dir: &Path) -> Scored {
    let run = simulate(scenario);
    let text = simulate::description("campaign", scenario, &run);
    let description = Description::parse(&text, &arm_dir.join("campaign.toml"))
        .unwrap_or_else(|e| panic!("run {index}: simulated description refused: {e}"));
    let samples: Vec<_> = run.rows.iter().map(Row::sample).collect();
    let start = std::time::Instant::now();
    let outcome = replay::run::<7>(&description, None, samples.iter().copied())
        .unwrap_or_else(|e| panic!("run {index}: {e}"));
    let monitor_s = start.elapsed().as_secs_f64();

    let truth = &run.truth;
    let summary = &outcome.summary;
    let stop = outcome.stop().map(|f| {
        let k = samples
            .iter()
            .position(|s| s.time_us == f.time_us)
            .unwrap_or(0);
        Stop {
            kind: f.kind.name().to_owned(),
            at_deg: truth.bolt_angle_rad[k].to_degrees(),
            torque_part: truth.bolt_torque_nm[k] / scenario.bolt.target_nm,
        }
    });
    let spindle = matches!(scenario.mode, Mode::PoweredSpindle { .. });
    Scored {
        index,
        fault: truth.fault.clone(),
        spindle,
        target_nm: scenario.bolt.target_nm,
        floor_nm: if spindle {
            truth.spindle_floor_nm.unwrap_or(f64::NAN)
        } else {
            truth.torque_floor_nm
        },
        torque_error_nm: f64::from(summary.final_torque_nm) - truth.final_torque_nm,
        torque_u_nm: f64::from(summary.final_torque_u_nm),
        angle_error_deg: (f64::from(summary.final_angle_rad) - truth.final_angle_rad).to_degrees(),
        snug_error_deg: summary
            .snug
            .zip(truth.snug_angle_rad)
            .map(|(a, b)| (f64::from(a.angle_rad) - b).to_degrees()),
        snug_u_deg: summary.snug.map(|s| f64::from(s.angle_u_rad).to_degrees()),
        snug_missed: summary.snug.is_none() && truth.snug_angle_rad.is_some(),
        stop,
        others: outcome
            .findings
            .iter()
            .filter(|f| !f.stops())
            .map(|f| f.kind.name().to_owned())
            .collect(),
        onset_deg: truth.onset_angle_rad.map(f64::to_degrees),
        peak_deg: truth.peak_angle_rad.to_degrees(),
        verdict: summary.verdict.name().to_owned(),
        reasons: format!("{:?}", summary.reasons),
        samples: samples.len(),
        monitor_s,
    }
}
