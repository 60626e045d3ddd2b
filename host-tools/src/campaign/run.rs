//! One simulated run through the monitor, and how far the answer was from the truth.

use std::path::Path;

use bolting_monitor::detect::Finding;

use crate::description::Description;
use crate::replay;
use crate::simulate::{self, Mode, Row, Scenario, simulate};

/// Findings that say how the run goes, not that anything is wrong with it.
const NOT_ADVERSE: [&str; 2] = ["breakaway", "thread_free"];
/// How much too early a finding may come by the rounding of angles, degrees.
const EARLY_DEG: f64 = 1.0;
/// Part of the target from which a torque is too much, less what a reading may be off: scenarios state a
/// window of ten in the hundred.
const OVER_PART: f64 = 1.09;
/// Likewise of the recorded torque from which a bolt that stands is seized.
const SEIZED_PART: f64 = 0.99;
/// Part of the torque at which a sensor is cut off from which it may be said to stand at its end: data
/// sheets state a range no better than to some hundredths (common practice, no source).
const AT_THE_END: f64 = 0.95;

/// Half of the step in which samples state their time, s.
const HALF_US: f64 = 0.5e-6;

/// Answer against truth of one run. Torques in N·m, angles in degrees in the direction of the run.
#[derive(Clone, Debug, serde::Serialize)]
pub struct Scored {
    /// Number in the campaign.
    pub index: usize,
    /// Finding that was due; `"none"` without fault.
    pub fault: String,
    /// What caused it.
    pub cause: String,
    /// Whether the bolt was sound at the end all the same.
    pub sound: bool,
    /// Whether the finding was due as a stop.
    pub needs_stop: bool,
    /// Whether the bolt was undone.
    pub undone: bool,
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
    /// True angle from snug to the target without grain.
    pub elastic_deg: f64,
    /// Snug angle error, where truth and answer both have one.
    pub snug_error_deg: Option<f64>,
    /// Bolt angle error at snug: the nearest point of the curve against the truth.
    pub snug_angle_error_deg: Option<f64>,
    /// Stated standard uncertainty of the snug angle.
    pub snug_u_deg: Option<f64>,
    /// Whether the truth has a snug angle that the answer lacks.
    pub snug_missed: bool,
    /// Findings in the order in which they were made.
    pub said: Vec<Said>,
    /// True angle at which the fault began.
    pub onset_deg: Option<f64>,
    /// True torque there, part of the target.
    pub onset_part: Option<f64>,
    /// True angle of the highest torque.
    pub peak_deg: f64,
    /// True angle at which the last thread left.
    pub free_deg: Option<f64>,
    /// True torque at which an undone bolt broke loose, part of what it was done up with.
    pub breakaway_part: Option<f64>,
    /// Answer.
    pub verdict: String,
    /// Its reasons.
    pub reasons: String,
    /// Samples in the run.
    pub samples: usize,
    /// Time the monitor took for them, s.
    pub monitor_s: f64,
}

/// What was named, and where the bolt truly was.
#[derive(Clone, Debug, serde::Serialize)]
pub struct Said {
    /// Name of the finding.
    pub kind: String,
    /// Whether it withdraws the permit.
    pub stops: bool,
    /// True bolt angle at that sample, degrees.
    pub at_deg: f64,
    /// True torque at that sample, part of the target.
    pub torque_part: f64,
}

impl Said {
    fn adverse(&self) -> bool {
        !NOT_ADVERSE.contains(&self.kind.as_str())
    }
}

impl Scored {
    /// Whether nothing at all went wrong with a bolt that was done up: its figures can be judged.
    pub fn plain(&self) -> bool {
        self.fault == "none" && !self.undone
    }

    /// Whether a fault was put in and came to show before the run ended.
    pub fn faulty(&self) -> bool {
        self.fault != "none" && self.onset_deg.is_some()
    }

    /// Torque error as a part of the target.
    pub fn torque_part(&self) -> f64 {
        self.torque_error_nm / self.target_nm
    }

    /// First finding that stops.
    pub fn stop(&self) -> Option<&Said> {
        self.said.iter().find(|s| s.stops)
    }

    fn in_time(&self, said: &Said) -> bool {
        let near_the_end = self.fault == "sensor_saturated"
            && self
                .onset_part
                .is_some_and(|o| said.torque_part >= AT_THE_END * o);
        near_the_end || self.onset_deg.is_some_and(|o| said.at_deg >= o - EARLY_DEG)
    }

    /// Whether a stop was right by itself before the one that is due: what breaks has yielded, been given
    /// too much, or stood against all of its tightening torque; what strips late, been given too much.
    fn heralds(&self, said: &Said) -> bool {
        match (self.fault.as_str(), said.kind.as_str()) {
            ("fracture", "early_yield") => true,
            ("fracture" | "strip", "over_torque") => said.torque_part >= OVER_PART,
            ("fracture", "seized") => said.torque_part >= SEIZED_PART,
            _ => false,
        }
    }

    /// The finding that was due: the first stop but for heralds where a stop is due, else any, not before
    /// the onset.
    pub fn found(&self) -> Option<&Said> {
        let due = |s: &&Said| s.kind == self.fault && self.in_time(s);
        if self.needs_stop {
            let stop = self.said.iter().find(|s| s.stops && !self.heralds(s));
            stop.filter(due)
        } else {
            self.said.iter().find(due)
        }
    }

    /// Whether anything was said against the bolt once the fault had begun.
    pub fn detected(&self) -> bool {
        self.said.iter().any(|s| s.adverse() && self.in_time(s))
    }

    /// Name of what was first said against the bolt.
    pub fn first_adverse(&self) -> &str {
        let first = self.said.iter().find(|s| s.adverse());
        first.map_or("none", |s| s.kind.as_str())
    }

    /// Whether a stop came that was not due: on a sound bolt, or before the fault began and no herald.
    pub fn false_stop(&self) -> bool {
        self.stop()
            .is_some_and(|s| self.sound || !(self.in_time(s) || self.heralds(s)))
    }

    /// A finding of this name.
    pub fn saying(&self, kind: &str) -> Option<&Said> {
        self.said.iter().find(|s| s.kind == kind)
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
    let times_us: Vec<u64> = samples.iter().map(|s| s.time_us).collect();
    Scored {
        monitor_s,
        ..answer(index, scenario, &run, &times_us, &outcome)
    }
}

/// The monitor's answer against the truth of a run, whose samples came at `times_us`.
pub(crate) fn answer(
    index: usize,
    scenario: &Scenario,
    run: &simulate::SimulatedRun,
    times_us: &[u64],
    outcome: &replay::Outcome,
) -> Scored {
    let truth = &run.truth;
    let summary = &outcome.summary;
    let sense = if truth.undone { -1.0 } else { 1.0 };
    let said = |f: &Finding| {
        let k = (times_us.iter()).position(|t| *t >= f.time_us).unwrap_or(0);
        Said {
            kind: f.kind.name().to_owned(),
            stops: f.stops(),
            at_deg: sense * truth.bolt_angle_rad[k].to_degrees(),
            torque_part: sense * truth.bolt_torque_nm[k] / scenario.bolt.target_nm,
        }
    };
    let degrees = |angle: Option<f64>| angle.map(|a| sense * a.to_degrees());
    let spindle = matches!(scenario.mode, Mode::PoweredSpindle { .. });
    Scored {
        index,
        fault: truth.fault.clone(),
        cause: truth.cause.clone(),
        sound: truth.sound,
        needs_stop: truth.needs_stop,
        undone: truth.undone,
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
        elastic_deg: scenario.bolt.elastic_deg,
        snug_error_deg: summary
            .snug
            .zip(truth.snug_angle_rad)
            .map(|(a, b)| (f64::from(a.angle_rad) - b).to_degrees()),
        snug_angle_error_deg: angle_error_at_snug(run, outcome),
        snug_u_deg: summary.snug.map(|s| f64::from(s.angle_u_rad).to_degrees()),
        snug_missed: summary.snug.is_none() && truth.snug_angle_rad.is_some(),
        said: outcome.findings.iter().map(said).collect(),
        onset_deg: degrees(truth.onset_angle_rad),
        onset_part: truth.onset_time_s.and_then(|onset| {
            let k = run.rows.iter().position(|r| r.time_s >= onset)?;
            Some(sense * truth.bolt_torque_nm[k] / scenario.bolt.target_nm)
        }),
        peak_deg: sense * truth.peak_angle_rad.to_degrees(),
        free_deg: degrees(truth.free_angle_rad),
        breakaway_part: truth.breakaway_ratio,
        verdict: summary.verdict.name().to_owned(),
        reasons: format!("{:?}", summary.reasons),
        samples: times_us.len(),
        monitor_s: 0.0,
    }
}

/// Bolt angle error where the head truly got snug, degrees.
fn angle_error_at_snug(run: &simulate::SimulatedRun, outcome: &replay::Outcome) -> Option<f64> {
    let start_s = run.rows.first()?.time_s;
    let snug_s = run.truth.snug_time_s? - start_s;
    let point = outcome.curve.iter().find(|p| p.time_s >= snug_s)?;
    let k = (run.rows.iter()).position(|r| r.time_s - start_s >= point.time_s - HALF_US)?;
    Some((f64::from(point.angle_rad) - run.truth.bolt_angle_rad[k]).to_degrees())
}
