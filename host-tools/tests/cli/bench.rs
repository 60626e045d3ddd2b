//! A folder with recordings and descriptions to run the tool in.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::Output;
use std::sync::LazyLock;

use bolting_host::simulate::{Existing, Fault, Scenario, SimulatedRun, simulate, write_run};
use serde_json::Value;
use tempfile::TempDir;

use crate::common::{reports, tool};

/// A spindle, 24 N·m within 10 %. The noise is stated, so that the uncertainty is small.
pub const SPINDLE_BOLT: &str = r#"
schema = 1
name = "invented bolt"
[bolt]
thread = "M8"
[run]
mode = "powered_spindle"
target_torque_nm = 24.0
[spindle]
torque_noise_nm = 0.02
"#;

/// Rundown of a turn and a half at 0.5 N·m, then 0.5 N·m per degree up to `final_nm`.
pub fn spindle_run(final_nm: f64) -> String {
    let mut csv = "time_s,spindle_angle_rad,spindle_torque_nm\n".to_owned();
    let last_deg = 540.0 + (final_nm - 0.5) / 0.5;
    for row in 0..4000 {
        let time_s = f64::from(row) * 1e-3;
        let deg = (200.0 * (time_s - 0.6)).clamp(0.0, last_deg);
        let torque_nm = match deg {
            0.0 => 0.0,
            _ => 0.5 + 0.5 * (deg - 540.0).max(0.0),
        };
        // Writing to a string cannot fail.
        let _ = writeln!(csv, "{time_s},{},{torque_nm}", deg.to_radians());
    }
    csv
}

/// A folder to work in.
pub struct Bench(pub TempDir);

impl Bench {
    pub fn new() -> Self {
        let bench = Self(tempfile::tempdir().unwrap());
        bench.put("bolt.toml", SPINDLE_BOLT);
        bench
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    pub fn put(&self, name: &str, text: &str) {
        let path = self.path(name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, text).unwrap();
    }

    /// Runs the tool in the folder.
    pub fn run(&self, arguments: &[&str]) -> Output {
        tool()
            .current_dir(self.0.path())
            .args(arguments)
            .output()
            .unwrap()
    }

    /// Replays one recording; gives exit code, standard output and standard error.
    pub fn replay(&self, csv: &str) -> (Option<i32>, String, String) {
        self.put("run.csv", csv);
        said(&self.run(&["replay", "--json", "--bolt", "bolt.toml", "run.csv"]))
    }

    /// The files of a sound run of the arm: `arm.csv`, `arm.toml`, `arm.urdf`.
    pub fn sound_run_of_the_arm(&self) {
        let keep = Existing::Keep;
        write_run(self.0.path(), "arm", &short(Fault::None), &SOUND, keep).unwrap();
    }
}

/// One turn down to snug by strokes of the wrist: the physics takes its time.
pub fn short(fault: Fault) -> Scenario {
    let mut scenario = Scenario {
        fault,
        seed: 5,
        ..Scenario::default()
    };
    scenario.bolt.rundown_turns = 1.0;
    scenario.stated.rundown_turns = 1.0;
    scenario.stated.rundown_tolerance_turns = 0.25;
    scenario.sampling.rate_hz = 250.0;
    scenario
}

pub static SOUND: LazyLock<SimulatedRun> = LazyLock::new(|| simulate(&short(Fault::None)));

pub fn said(output: &Output) -> (Option<i32>, String, String) {
    let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
    (
        output.status.code(),
        text(&output.stdout),
        text(&output.stderr),
    )
}

pub fn only_report(output: &Output) -> Value {
    let mut all = reports(&output.stdout);
    assert_eq!(all.len(), 1, "{}", String::from_utf8_lossy(&output.stderr));
    all.remove(0)
}

pub fn number(report: &Value, key: &str) -> f64 {
    report[key].as_f64().unwrap()
}

/// The columns of a recording in the order that `places` gives.
pub fn reordered(csv: &str, places: impl Fn(usize) -> Vec<usize>) -> String {
    let mut text = String::new();
    for line in csv.lines() {
        let fields: Vec<_> = line.split(',').collect();
        let row: Vec<_> = places(fields.len()).iter().map(|i| fields[*i]).collect();
        text += &row.join(",");
        text.push('\n');
    }
    text
}

pub fn read(path: &Path) -> String {
    std::fs::read_to_string(path).unwrap()
}
