//! One rehearsed run: simulated, fed to the monitor made from the description, held to the truth.

use bolting_monitor::detect::FindingKind;
use bolting_monitor::procedure::{Direction as Way, Reason, Verdict};
use bolting_monitor::sample::JointSample;
use rand::Rng;
use rand_distr::StandardNormal;

use super::draw::Rehearsed;
use super::faults::Ill;
use super::missing::Missing;
use crate::campaign::{Scored, answer};
use crate::description::Description;
use crate::replay::{self, Outcome};
use crate::simulate::{
    JOINTS, Mode, Return, Row, Scenario, SimulatedRun, simulate, simulate_with, stream,
};

/// Play of a socket that is lifted off, where none is stated, rad: 4° (see `description/job.rs`).
const PLAY_RAD: f32 = 0.07;

/// One run and what was said of it.
pub struct Trial {
    /// What was put in; `None`: a sound bolt.
    pub ill: Option<Ill>,
    /// What was simulated.
    pub scenario: Scenario,
    /// Answer against truth.
    pub scored: Scored,
    /// The verdict.
    pub verdict: Verdict,
    /// Its reasons.
    pub reasons: Vec<Reason>,
    /// What was found, in order, and whether it stops.
    pub findings: Vec<(FindingKind, bool)>,
    /// Expanded uncertainty (k = 2) of the final torque, N·m; `None` where no torque was told.
    pub torque_u_nm: Option<f64>,
    /// Final torque as told and as it was, N·m, without sign.
    pub torque_nm: Option<[f64; 2]>,
    /// Bolt angle at snug as told, turns.
    pub snug_turns: Option<f64>,
    /// Bolt angle at the end, degrees, without sign: as told, and as it was.
    pub end_deg: [f64; 2],
    /// Torque at the first stop as a part of the target, where one came before the hand stopped by
    /// itself.
    pub stopped_at: Option<f64>,
    /// Whether the fault began.
    pub began: bool,
    /// The same run with one more key stated.
    pub with: Vec<(Missing, Brief)>,
}

/// What is compared between a description and a fuller one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Brief {
    /// Whether the bolt was accepted.
    pub accepted: bool,
    /// See [`Trial::let_through`].
    pub let_through: bool,
    /// See [`Trial::stopped_at`].
    pub stopped_at: Option<f64>,
}

impl Trial {
    /// Whether it was told in any way: anything said against the bolt, or no acceptance.
    pub fn told(&self) -> bool {
        self.scored.detected() || self.verdict != Verdict::Accepted
    }

    /// Whether a bolt that is not sound went through: nothing was said of it, or it was turned on where
    /// that does harm.
    pub fn let_through(&self) -> bool {
        let harmed = self.scored.needs_stop && self.stopped_at.is_none();
        !self.scored.sound && (!self.told() || harmed)
    }

    /// What is compared.
    pub fn brief(&self) -> Brief {
        Brief {
            accepted: self.verdict == Verdict::Accepted,
            let_through: self.let_through(),
            stopped_at: self.stopped_at,
        }
    }

    /// First finding that stops.
    pub fn stop(&self) -> Option<FindingKind> {
        self.findings.iter().find(|(_, stops)| *stops).map(|f| f.0)
    }
}

/// Rehearses run `index` of a pass. `number` keeps apart what is drawn for different passes and faults.
pub fn rehearse(
    at: &Rehearsed<'_>,
    description: &Description,
    ill: Option<Ill>,
    seed: u64,
    number: u64,
) -> (Trial, Vec<Row>, SimulatedRun) {
    let mut rng = stream(seed, number);
    let mut scenario = at.draw(&mut rng);
    if let Some(ill) = ill {
        at.spoil(ill, &mut scenario, &mut rng);
    }
    let run = match at.site {
        Some(site) => simulate_with(&scenario, &site.machine),
        None => simulate(&scenario),
    };
    let zero_nm: f64 =
        f64::from(at.job.sensing.spindle_zero_u_nm) * rng.sample::<f64, _>(StandardNormal);
    let rows: Vec<Row> = (run.rows.iter())
        .map(|row| read(row, at, zero_nm))
        .collect();
    let mut told = description.clone();
    told.job = as_worked(at, &scenario);
    told.procedure = bolting_monitor::procedure::Procedure::single(told.job.goal);
    let joints = at.site.map_or(0, |site| site.machine.joints());
    let outcome = monitored(joints, &told, &rows);
    let mut trial = judged(ill, scenario, &run, &outcome);
    for missing in at.missing() {
        let mut fuller = told.clone();
        missing.state(&mut fuller.job, &trial.scenario);
        let outcome = monitored(joints, &fuller, &rows);
        let brief = judged(ill, trial.scenario.clone(), &run, &outcome).brief();
        trial.with.push((missing, brief));
    }
    (trial, rows, run)
}

fn monitored(joints: usize, told: &Description, rows: &[Row]) -> Outcome {
    match joints {
        0 => monitor::<0>(told, rows),
        6 => monitor::<6>(told, rows),
        _ => monitor::<JOINTS>(told, rows),
    }
}

/// The description of the run: without the ratchet where the socket is lifted off instead.
fn as_worked(at: &Rehearsed<'_>, scenario: &Scenario) -> bolting_monitor::procedure::BoltJob {
    let mut job = at.job.clone();
    if let Mode::WristStrokes {
        back: Return::LiftAndReseat { .. },
        ..
    } = scenario.mode
        && job.tool.ratchet_tooth_rad.take().is_some()
    {
        job.tool.socket_play_rad.get_or_insert(PLAY_RAD);
    }
    job
}

/// The row as the described sensors read it.
fn read(row: &Row, at: &Rehearsed<'_>, zero_nm: f64) -> Row {
    let mut row = row.clone();
    if let Some(site) = at.site {
        for (tau, most) in row.tau.iter_mut().zip(site.ranges_nm) {
            *tau = tau.clamp(-most, most);
        }
    }
    let undone = at.job.goal.direction() == Way::Undo;
    if let Some([angle, torque]) = &mut row.spindle {
        *torque += zero_nm;
        if at.job.sensing.spindle_angle_counts_driving && undone != at.job.fastener.left_hand {
            *angle = -*angle;
        }
    }
    row
}

fn monitor<const N: usize>(description: &Description, rows: &[Row]) -> Outcome {
    let samples: Vec<JointSample<N>> = rows.iter().map(Row::of_last).collect();
    // The description was checked, and its monitor made once before.
    replay::run::<N>(description, None, samples.into_iter())
        .unwrap_or_else(|e| panic!("a checked description makes a monitor: {e}"))
}

fn judged(ill: Option<Ill>, scenario: Scenario, run: &SimulatedRun, outcome: &Outcome) -> Trial {
    let times_us: Vec<u64> = (run.rows.iter())
        .map(|row| (row.time_s * 1e6).round() as u64)
        .collect();
    let mut scored = answer(0, &scenario, run, &times_us, outcome);
    if ill == Some(Ill::Lost) {
        "lost_torque".clone_into(&mut scored.fault);
        (scored.sound, scored.onset_deg) = (false, Some(0.0));
    }
    let summary = &outcome.summary;
    let truth = &run.truth;
    let before_hand = |time_us: u64| time_us as f64 * 1e-6 <= truth.stop_time_s;
    let stop = outcome.stop();
    let stopped_at = (stop.filter(|f| before_hand(f.time_us)))
        .and(scored.stop())
        .map(|said| said.torque_part);
    let final_nm = outcome.final_torque_nm().map(f64::from);
    Trial {
        ill,
        began: ill.is_some() && (scored.onset_deg.is_some()),
        verdict: summary.verdict,
        reasons: summary.reasons.to_vec(),
        findings: outcome
            .findings
            .iter()
            .map(|f| (f.kind, f.stops()))
            .collect(),
        torque_u_nm: final_nm.map(|_| 2.0 * f64::from(summary.final_torque_u_nm)),
        torque_nm: final_nm.map(|told| [told.abs(), truth.final_torque_nm.abs()]),
        snug_turns: summary
            .snug
            .map(|s| f64::from(s.angle_rad.abs()) / std::f64::consts::TAU),
        end_deg: [f64::from(summary.final_angle_rad), truth.final_angle_rad]
            .map(|rad| rad.abs().to_degrees()),
        stopped_at,
        with: Vec::new(),
        scored,
        scenario,
    }
}
