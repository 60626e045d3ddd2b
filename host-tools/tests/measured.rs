//! Measured screw runs, replayed as recordings of a spindle alone.
//!
//! The data lie outside the repository, at `../shared/data` beside the workspace or where
//! `BOLTING_SHARED_DATA` says; without them these tests say that they were skipped, in CI they fail.
//!
//! Attribution, both CC BY 4.0:
//! - 7 tightening runs, all good, thread-forming, target 1.4 N·m, 833 Hz: West, Deuse, dataset
//!   collection from industrial screw driving experiments, arXiv 2505.11925 (2025). Changed: JSON to
//!   CSV, half of the runs; here degrees to radians.
//! - 605 undoing runs, M4 to M8: Al Assadi, Holtz, Naegele, Nitsche, Kraus, Huber, "Machine learning
//!   based screw drive state detection for unfastening screw connections", Journal of Manufacturing
//!   Systems 65 (2022) 19–32. Changed: JSON to CSV, labels translated, half of the runs; here degrees
//!   to radians.

mod common;
#[path = "common/recorded.rs"]
mod recorded;

use std::collections::BTreeMap;

use common::{reports, tool};
use recorded::{Curve, TIGHTEN, UNDO, measured, tightening_curves, undoing_curves};
use serde_json::Value;
use sha2::{Digest, Sha256};

/// Knees of a general three-segment fit (PyPI `pwlf`): tests/reference/three_segments.py.
const KNEES: &str = include_str!("../../tests/reference/three_segments.csv");
/// Largest difference between the snug angle and that knee, degrees.
const SNUG_LIMIT_DEG: f64 = 10.0;

/// Replays every run in one folder and gives the reports by run, which fall in number with the runs.
fn replayed(curves: &BTreeMap<String, Curve>, description: &str) -> BTreeMap<String, Value> {
    let folder = tempfile::tempdir().unwrap();
    let bolt = folder.path().join("bolt.toml");
    std::fs::write(&bolt, description).unwrap();
    for (run, curve) in curves {
        let mut text = "time_s,spindle_angle_rad,spindle_torque_nm\n".to_owned();
        for [time_s, angle_deg, torque_nm] in curve {
            let angle_rad = angle_deg.to_radians();
            text += &format!("{time_s},{angle_rad},{torque_nm}\n");
        }
        std::fs::write(folder.path().join(format!("{run}.csv")), text).unwrap();
    }
    let output = tool()
        .args(["replay", "--json", "--bolt"])
        .args([&bolt, folder.path()])
        .output()
        .unwrap();
    let talk = String::from_utf8_lossy(&output.stderr);
    assert!(matches!(output.status.code(), Some(0 | 1)), "{talk}");
    let reports: BTreeMap<_, _> = reports(&output.stdout)
        .into_iter()
        .map(|report| (report["run"].as_str().unwrap().to_owned(), report))
        .collect();
    assert!(reports.keys().eq(curves.keys()), "{talk}");
    for (run, report) in &reports {
        assert_eq!(report["samples"], curves[run].len(), "run {run}");
        assert_eq!(report["unusable_samples"], 0, "run {run}");
    }
    reports
}

fn tightening() -> Option<BTreeMap<String, Value>> {
    let curves = tightening_curves()?;
    Some(replayed(&curves, TIGHTEN))
}

#[test]
fn good_tightening_runs_raise_no_finding() {
    let Some(reports) = tightening() else { return };
    let alarmed: Vec<_> = reports
        .iter()
        .filter(|(_, report)| report["alarms"] != Value::Array(vec![]))
        .map(|(run, report)| format!("{run}: {}", report["alarms"]))
        .collect();
    assert!(alarmed.is_empty(), "{}", alarmed.join("\n"));
}

#[test]
fn snug_lies_where_a_general_fit_puts_it() {
    let Some(reports) = tightening() else { return };
    let mut compared = 0;
    let mut off = Vec::new();
    for row in csv::Reader::from_reader(KNEES.as_bytes()).deserialize() {
        let knee: BTreeMap<String, String> = row.unwrap();
        let run = &knee["run_id"];
        let knee_deg: f64 = knee["knee2_deg"].parse().unwrap();
        let snug_deg = reports[run]["snug_angle_rad"].as_f64().map(f64::to_degrees);
        let difference = snug_deg.map(|snug| snug - knee_deg);
        eprintln!("run {run}: knee {knee_deg:.1}°, snug minus knee {difference:.1?}°");
        if !difference.is_some_and(|d| d.abs() <= SNUG_LIMIT_DEG) {
            off.push(format!(
                "run {run}: knee {knee_deg:.1}°, snug {snug_deg:.1?}°"
            ));
        }
        compared += 1;
    }
    assert_eq!(compared, reports.len());
    assert!(off.is_empty(), "{}", off.join("\n"));
}

/// How the undoing runs of one half were told apart; numbers of runs.
#[derive(Default)]
struct Told {
    good: usize,
    stripped: usize,
    /// Good drives that raised an alarm that stops.
    false_alarms: Vec<String>,
    /// Stripped drives that were found, and that were not.
    found: usize,
    missed: Vec<String>,
    /// Right within the first turn of the tool.
    right_in_a_turn: usize,
    /// Turns of the tool until a stripped drive was found, and until a good one broke loose.
    found_turns: Vec<f64>,
    loose_turns: Vec<f64>,
}

impl Told {
    fn add(&mut self, run: &str, stripped: bool, report: &Value) {
        let alarms = report["alarms"].as_array().unwrap();
        let turns = |kind: &dyn Fn(&Value) -> bool| {
            let alarm = alarms.iter().find(|alarm| kind(alarm))?;
            Some(alarm["angle_rad"].as_f64().unwrap().abs() / std::f64::consts::TAU)
        };
        let stop = turns(&|alarm| alarm["stops"] == true);
        let in_a_turn = stop.is_some_and(|turns| turns <= 1.0);
        self.right_in_a_turn += usize::from(in_a_turn == stripped);
        if stripped {
            self.stripped += 1;
            let found = turns(&|alarm| alarm["kind"] == "drive_stripped");
            self.found += usize::from(found.is_some());
            if found.is_none() {
                self.missed.push(run.to_owned());
            }
            self.found_turns.extend(found);
        } else {
            self.good += 1;
            self.loose_turns
                .extend(turns(&|alarm| alarm["kind"] == "breakaway"));
            if stop.is_some() {
                self.false_alarms.push(run.to_owned());
            }
        }
    }

    fn print(&mut self, half: &str) {
        let all = self.good + self.stripped;
        let right = self.found + self.good - self.false_alarms.len();
        for (what, count, of) in [
            ("right", right, all),
            ("right within a turn", self.right_in_a_turn, all),
            ("stripped drives found", self.found, self.stripped),
            ("false alarms", self.false_alarms.len(), self.good),
            ("breakaways seen", self.loose_turns.len(), self.good),
        ] {
            let [low, high] = wilson(count, of);
            eprintln!("{half}: {what} {count} of {of}, 95 % interval {low:.3} to {high:.3}");
        }
        for (what, turns) in [
            ("stripped drive found", &mut self.found_turns),
            ("breakaway said", &mut self.loose_turns),
        ] {
            turns.sort_by(f64::total_cmp);
            let at = |part: f64| turns[(part * (turns.len() - 1) as f64).round() as usize];
            let (median, late, last) = (at(0.5), at(0.95), at(1.0));
            eprintln!("{half}: {what} after {median:.2} turns, 95 % {late:.2}, last {last:.2}");
        }
        let (false_alarms, missed) = (&self.false_alarms, &self.missed);
        eprintln!("{half}: false alarms in runs {false_alarms:?}, missed {missed:?}");
    }
}

/// Wilson score interval of a proportion at 95 % (the usual formula of statistics textbooks; PyPI
/// `statsmodels` calls it `method="wilson"`).
fn wilson(count: usize, of: usize) -> [f64; 2] {
    const Z: f64 = 1.959_964;
    let (n, p) = (of as f64, count as f64 / of as f64);
    let middle = p + Z * Z / (2.0 * n);
    let half = Z * (p * (1.0 - p) / n + Z * Z / (4.0 * n * n)).sqrt();
    [-half, half].map(|h| (middle + h) / (1.0 + Z * Z / n))
}

/// The runs on which the detectors of undoing were designed; the others were first looked at when
/// the design stood; what was changed since was decided on simulated runs, never on them. Decided by
/// the last bit of the SHA-256 of the run's number as text.
fn design_half(run: &str) -> bool {
    Sha256::digest(run).last().unwrap() % 2 == 0
}

/// Stripped drives told from good ones. Attribution of the data: head of this file.
#[test]
fn a_stripped_drive_is_told_from_a_good_one_within_a_turn() {
    let (Some(curves), Some(index)) = (undoing_curves(), measured("unfasten_index.csv")) else {
        return;
    };
    let stripped: BTreeMap<String, bool> = csv::Reader::from_path(index)
        .unwrap()
        .deserialize::<BTreeMap<String, String>>()
        .map(Result::unwrap)
        .map(|row| (row["run"].clone(), row["label"] == "stripped_drive"))
        .collect();
    let [mut design, mut held_out] = [Told::default(), Told::default()];
    for (run, report) in replayed(&curves, UNDO) {
        let half = if design_half(&run) {
            &mut design
        } else {
            &mut held_out
        };
        half.add(&run, stripped[&run], &report);
    }
    design.print("design half");
    held_out.print("held-out half");
    assert_eq!((held_out.good, held_out.stripped), (244, 62));
    // Reached: 304 right of 306, all within a turn, 60 of 62 found, no false alarm. One-number rules
    // reach 0.975, 87 % and none; the network of the paper 0.98 within a turn.
    assert!(held_out.false_alarms.is_empty());
    assert!(held_out.found >= 59, "{}", held_out.found);
    assert!(
        held_out.right_in_a_turn >= 303,
        "{}",
        held_out.right_in_a_turn
    );
    assert!(
        held_out.loose_turns.len() >= 242,
        "{}",
        held_out.loose_turns.len()
    );
    // Labelled good, run 152 lets go and grips again five times 60° apart in its first turn: by what
    // the spindle sees the socket slips.
    assert_eq!(design.false_alarms, ["152"]);
}
