//! Measured screw runs, where they are; see `measured.rs` for their sources.

use std::collections::BTreeMap;
use std::io::Read;
use std::path::{Path, PathBuf};

pub const TIGHTEN: &str = r#"
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

pub const UNDO: &str = r#"
schema = 1
name = "measured undoing"
[bolt]
thread = "M6"
[run]
direction = "undo"
mode = "powered_spindle"
[spindle]
# Torque is negative here, the angle positive.
angle_counts = "driving"
# Scatter of the torque around its run-out, median over the design half 0.0035.
torque_noise_nm = 0.005
[tare]
duration_s = 0.0
"#;

/// A measured run: time in s, angle in degrees, torque in N·m.
pub type Curve = Vec<[f64; 3]>;

/// The file, or `None` after saying why the test is skipped.
pub fn measured(file: &str) -> Option<PathBuf> {
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

/// The good tightening runs.
pub fn tightening_curves() -> Option<BTreeMap<String, Curve>> {
    let file = std::fs::File::open(measured("tightening_ok_runs.csv.gz")?).unwrap();
    let curves = curves(flate2::read::GzDecoder::new(file), "run_id");
    assert_eq!(curves.len(), 7);
    Some(curves)
}

/// The undoing runs.
pub fn undoing_curves() -> Option<BTreeMap<String, Curve>> {
    let file = std::fs::File::open(measured("unfasten_runs.csv.xz")?).unwrap();
    let curves = curves(lzma_rust2::XzReader::new(file, true), "run");
    assert_eq!(curves.len(), 605);
    Some(curves)
}
