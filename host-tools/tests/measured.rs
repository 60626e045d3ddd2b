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

use std::collections::BTreeMap;
use std::io::Read;
use std::path::{Path, PathBuf};

use common::{reports, tool};
use serde_json::Value;

/// Knees of a general three-segment fit (PyPI `pwlf`): tests/reference/three_segments.py.
const KNEES: &str = include_str!("../../tests/reference/three_segments.csv");
/// Largest difference between the snug angle and that knee, degrees.
const SNUG_LIMIT_DEG: f64 = 10.0;

const TIGHTEN: &str = r#"
schema = 1
name = "measured tightening"
[bolt]
thread = "M5"
[run]
mode = "powered_spindle"
target_torque_nm = 1.4
torque_tolerance_percent = 10.0
[tare]
duration_s = 0.0
"#;

const UNDO: &str = r#"
schema = 1
name = "measured undoing"
[bolt]
thread = "M6"
[run]
direction = "undo"
mode = "powered_spindle"
[tare]
duration_s = 0.0
"#;

/// A measured run: time in s, angle in degrees, torque in N·m.
type Curve = Vec<[f64; 3]>;

/// The file, or `None` after saying why the test is skipped.
fn measured(file: &str) -> Option<PathBuf> {
    let folder = std::env::var_os("BOLTING_SHARED_DATA").map_or_else(
        || Path::new(env!("CARGO_MANIFEST_DIR")).join("../../shared/data"),
        PathBuf::from,
    );
    let path = folder.join(file);
    if path.is_file() {
        return Some(path);
    }
    assert_ne!(
        std::env::var("CI").as_deref(),
        Ok("true"),
        "{} must be there in CI",
        path.display()
    );
    eprintln!("skipped: {} is not there", path.display());
    None
}

fn curves(csv: impl Read, run_column: &str) -> BTreeMap<String, Curve> {
    let mut reader = csv::Reader::from_reader(csv);
    let header = reader.headers().unwrap().clone();
    let place = |name: &str| header.iter().position(|column| column == name).unwrap();
    let run = place(run_column);
    let figures = ["time_s", "angle_deg", "torque_nm"].map(place);
    let mut curves = BTreeMap::<String, Curve>::new();
    for row in reader.records() {
        let row = row.unwrap();
        curves
            .entry(row[run].to_owned())
            .or_default()
            .push(figures.map(|column| row[column].parse().unwrap()));
    }
    curves
}

/// Replays every run in one folder and gives the reports by run, which fall in number with the runs.
fn replayed(
    curves: &BTreeMap<String, Curve>,
    description: &str,
    angle_sign: f64,
) -> BTreeMap<String, Value> {
    let folder = tempfile::tempdir().unwrap();
    let bolt = folder.path().join("bolt.toml");
    std::fs::write(&bolt, description).unwrap();
    for (run, curve) in curves {
        let mut text = "time_s,spindle_angle_rad,spindle_torque_nm\n".to_owned();
        for [time_s, angle_deg, torque_nm] in curve {
            let angle_rad = angle_sign * angle_deg.to_radians();
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
    let path = measured("tightening_ok_runs.csv.gz")?;
    let file = std::fs::File::open(path).unwrap();
    let curves = curves(flate2::read::GzDecoder::new(file), "run_id");
    assert_eq!(curves.len(), 7);
    Some(replayed(&curves, TIGHTEN, 1.0))
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

#[test]
fn undoing_runs_are_replayed_whichever_way_the_angle_counts() {
    let Some(path) = measured("unfasten_runs.csv.xz") else {
        return;
    };
    let file = std::io::BufReader::new(std::fs::File::open(path).unwrap());
    let curves = curves(lzma_rust2::XzReader::new(file, true), "run");
    assert_eq!(curves.len(), 605);
    for sign in [1.0, -1.0] {
        for (run, report) in replayed(&curves, UNDO, sign) {
            // This version records undoing and does not judge it.
            assert_eq!(report["verdict"], "not_assessable", "run {run}");
        }
    }
}
