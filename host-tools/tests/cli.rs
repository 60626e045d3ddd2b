//! The command line as a user meets it: exit codes, data on standard output, talk on standard error.

mod common;

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::Output;
use std::sync::LazyLock;

use bolting_host::simulate::{Fault, Scenario, SimulatedRun, simulate, write_run};
use common::{reports, tool};
use serde_json::Value;
use tempfile::TempDir;

/// A spindle, 24 N·m within 10 %. The noise is stated, so that the uncertainty is small.
const SPINDLE_BOLT: &str = r#"
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
fn spindle_run(final_nm: f64) -> String {
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
struct Bench(TempDir);

impl Bench {
    fn new() -> Self {
        let bench = Self(tempfile::tempdir().unwrap());
        bench.put("bolt.toml", SPINDLE_BOLT);
        bench
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn put(&self, name: &str, text: &str) {
        let path = self.path(name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, text).unwrap();
    }

    /// Runs the tool in the folder.
    fn run(&self, arguments: &[&str]) -> Output {
        tool()
            .current_dir(self.0.path())
            .args(arguments)
            .output()
            .unwrap()
    }

    /// Replays one recording; gives exit code, standard output and standard error.
    fn replay(&self, csv: &str) -> (Option<i32>, String, String) {
        self.put("run.csv", csv);
        said(&self.run(&["replay", "--json", "--bolt", "bolt.toml", "run.csv"]))
    }

    /// The files of a sound run of the arm: `arm.csv`, `arm.toml`, `arm.urdf`.
    fn sound_run_of_the_arm(&self) {
        write_run(self.0.path(), "arm", &short(Fault::None), &SOUND).unwrap();
    }
}

/// One turn down to snug by strokes of the wrist: the physics takes its time.
fn short(fault: Fault) -> Scenario {
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

static SOUND: LazyLock<SimulatedRun> = LazyLock::new(|| simulate(&short(Fault::None)));

fn said(output: &Output) -> (Option<i32>, String, String) {
    let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
    (
        output.status.code(),
        text(&output.stdout),
        text(&output.stderr),
    )
}

fn only_report(output: &Output) -> Value {
    let mut all = reports(&output.stdout);
    assert_eq!(all.len(), 1, "{}", String::from_utf8_lossy(&output.stderr));
    all.remove(0)
}

fn number(report: &Value, key: &str) -> f64 {
    report[key].as_f64().unwrap()
}

/// The columns of a recording in the order that `places` gives.
fn reordered(csv: &str, places: impl Fn(usize) -> Vec<usize>) -> String {
    let mut text = String::new();
    for line in csv.lines() {
        let fields: Vec<_> = line.split(',').collect();
        let row: Vec<_> = places(fields.len()).iter().map(|i| fields[*i]).collect();
        text += &row.join(",");
        text.push('\n');
    }
    text
}

fn read(path: &Path) -> String {
    std::fs::read_to_string(path).unwrap()
}

#[test]
fn help_and_version_are_data_and_success() {
    let bench = Bench::new();
    let (code, help, talk) = said(&bench.run(&["--help"]));
    assert_eq!((code, talk.as_str()), (Some(0), ""));
    for command in ["replay", "describe", "constants", "simulate", "Exit codes"] {
        assert!(help.contains(command), "{command} in {help}");
        if command != "Exit codes" {
            let (code, help, _) = said(&bench.run(&[command, "--help"]));
            assert_eq!(code, Some(0));
            assert!(help.contains("Example"), "{help}");
        }
    }
    let (code, version, _) = said(&bench.run(&["--version"]));
    assert_eq!(code, Some(0));
    assert_eq!(
        version.trim(),
        concat!("bolting-host ", env!("CARGO_PKG_VERSION"))
    );
}

#[test]
fn wrong_use_ends_with_2() {
    let bench = Bench::new();
    bench.put("run.csv", &spindle_run(24.0));
    for wrong in [
        &[][..],
        &["replay"],
        &["replay", "--bolt", "bolt.toml", "--unknown", "run.csv"],
        &["replay", "--bolt", "bolt.toml", "--jobs", "0", "run.csv"],
        &["replay", "--bolt", "bolt.toml", "-", "-"],
        // Neither --bolt nor a description beside it.
        &["replay", "run.csv"],
        &["replay", "-"],
    ] {
        let (code, stdout, talk) = said(&bench.run(wrong));
        assert_eq!((code, stdout.as_str()), (Some(2), ""), "{wrong:?}");
        assert!(talk.contains("--help") || talk.contains("Usage"), "{talk}");
    }
}

#[test]
fn an_accepted_run_ends_with_0_and_tells_what_was_fed() {
    let bench = Bench::new();
    bench.put("run.csv", &spindle_run(24.0));
    let output = bench.run(&["replay", "--json", "--bolt", "bolt.toml", "run.csv"]);
    assert_eq!(output.status.code(), Some(0));
    assert!(output.stderr.is_empty());
    let report = only_report(&output);
    assert_eq!(report["run"], "run");
    assert_eq!(report["verdict"], "accepted");
    assert_eq!(report["reasons"][0], "torque_in_window");
    assert_eq!(
        (&report["samples"], &report["gaps"]),
        (&4000.into(), &0.into())
    );
    let torque_u_nm = number(&report, "final_torque_u_nm");
    assert!((number(&report, "final_torque_nm") - 24.0).abs() < 2.0 * torque_u_nm);
    // The knee of the recording lies at 540°.
    let snug_deg = number(&report, "snug_angle_rad").to_degrees();
    assert!((snug_deg - 540.0).abs() < 5.0, "{snug_deg}");
}

#[test]
fn a_run_below_its_window_ends_with_1_and_says_so_in_figures() {
    let bench = Bench::new();
    bench.put("low.csv", &spindle_run(15.0));
    let (code, table, talk) = said(&bench.run(&["replay", "--bolt", "bolt.toml", "low.csv"]));
    assert_eq!((code, talk.as_str()), (Some(1), ""));
    assert!(table.contains("rejected"), "{table}");
    assert!(
        table.contains("lies below its window, 21.60 to 26.40 N·m"),
        "{table}"
    );
    assert!(!table.contains('\u{1b}'), "colour without a terminal");
}

#[test]
fn a_stripping_run_of_the_arm_ends_with_1_and_shows_its_evidence() {
    let bench = Bench::new();
    let scenario = short(Fault::strip());
    let run = simulate(&scenario);
    write_run(bench.0.path(), "strips", &scenario, &run).unwrap();
    // Its own description lies beside it.
    let output = bench.run(&["replay", "--json", "strips.csv"]);
    assert_eq!(output.status.code(), Some(1));
    let report = only_report(&output);
    let alarms = report["alarms"].as_array().unwrap();
    let strip = alarms.iter().find(|a| a["kind"] == "strip").unwrap();
    assert_eq!(strip["stops"], true);
    assert!(number(strip, "value") >= number(strip, "limit"));
    let (_, table, _) = said(&bench.run(&["replay", "strips.csv"]));
    assert!(table.contains("strip: the torque had fallen by"), "{table}");
}

#[test]
fn torque_that_is_not_observable_is_no_number() {
    let bench = Bench::new();
    bench.sound_run_of_the_arm();
    // Joints that may be off by 500 N·m tell nothing of the bolt.
    let description = read(&bench.path("arm.toml"));
    let blind: Vec<_> = description
        .lines()
        .map(|line| match line.split_once(" = ") {
            Some(("torque_zero_u_nm", _)) => "torque_zero_u_nm = 500.0",
            _ => line,
        })
        .collect();
    bench.put("blind.toml", &blind.join("\n"));
    let output = bench.run(&["replay", "--json", "--bolt", "blind.toml", "arm.csv"]);
    let report = only_report(&output);
    assert_eq!(output.status.code(), Some(1));
    assert_eq!(report["final_torque_nm"], Value::Null);
    assert_eq!(report["verdict"], "not_assessable");
    let alarm = &report["alarms"][0];
    assert_eq!(alarm["kind"], "torque_not_observable");
    assert_eq!(alarm["torque_nm"], Value::Null);
    let (_, table, _) = said(&bench.run(&["replay", "--bolt", "blind.toml", "arm.csv"]));
    let row = table.lines().find(|line| line.contains("arm")).unwrap();
    assert!(row.contains("not observable"), "{table}");
    assert!(!row.contains('±'), "{table}");
}

#[test]
fn damaged_recordings_end_with_3_and_name_file_and_line() {
    let bench = Bench::new();
    let header = "time_s,spindle_angle_rad,spindle_torque_nm\n";
    for (csv, line, what) in [
        (format!("{header}0,0,0\n0.1,NaN,0\n"), "line 3", "NaN"),
        (
            format!("{header}0,0,0\n0.2,0,0\n0.1,0,0\n"),
            "line 4",
            "backwards",
        ),
        (format!("{header}0,0,0\n0.1,0\n"), "line 3", "2 fields"),
        (
            "time_s,q1,q2,q3,tau1,tau2\n0,0,0,0,0,0\n".to_owned(),
            "line 1",
            "\"tau3\" is missing",
        ),
        (String::new(), "line 1", "empty"),
    ] {
        let (code, stdout, talk) = bench.replay(&csv);
        assert_eq!((code, stdout.as_str()), (Some(3), ""), "{csv}");
        for part in ["run.csv", line, what] {
            assert!(talk.contains(part), "{part} in {talk}");
        }
    }
}

#[test]
fn bad_descriptions_end_with_3_and_tell_every_mistake() {
    let bench = Bench::new();
    bench.put("run.csv", &spindle_run(24.0));
    bench.put("typo.toml", &SPINDLE_BOLT.replace("thread", "tread"));
    bench.put(
        "two.toml",
        &SPINDLE_BOLT
            .replace("24.0", "-24.0")
            .replace("0.02", "-1.0"),
    );
    bench.put(
        "no-urdf.toml",
        &(SPINDLE_BOLT.to_owned() + "[arm]\nurdf = \"none.urdf\"\ntip_link = \"tip\"\n"),
    );
    bench.put("bad.urdf", "<robot name=\"r\"><link");
    for (bolt, parts) in [
        ("typo.toml", &["typo.toml", "line 5", "tread"][..]),
        (
            "two.toml",
            &[
                "line 8: run.target_torque_nm",
                "line 10: spindle.torque_noise_nm",
            ],
        ),
        ("no-urdf.toml", &["line 12: arm.urdf", "none.urdf"]),
        ("absent.toml", &["absent.toml", "cannot be read"]),
    ] {
        for command in [
            &["replay", "--bolt", bolt, "run.csv"][..],
            &["describe", bolt],
            &["constants", bolt],
        ] {
            let (code, stdout, talk) = said(&bench.run(command));
            assert_eq!((code, stdout.as_str()), (Some(3), ""), "{command:?}");
            for part in parts {
                assert!(talk.contains(part), "{part} in {talk}");
            }
        }
    }
    let over = ["describe", "no-urdf.toml", "--arm-urdf", "bad.urdf"];
    let (code, _, talk) = said(&bench.run(&over));
    assert_eq!(code, Some(3));
    assert!(talk.contains("bad.urdf"), "{talk}");
}

#[test]
fn joints_that_do_not_fit_end_with_3_and_both_counts_are_named() {
    let bench = Bench::new();
    bench.sound_run_of_the_arm();
    bench.put("two.csv", "time_s,q1,q2,tau1,tau2\n0,0,0,0,0\n");
    let (code, _, talk) = said(&bench.run(&["replay", "--bolt", "arm.toml", "two.csv"]));
    assert_eq!(code, Some(3));
    for part in ["two.csv", "2 joints", "description 7"] {
        assert!(talk.contains(part), "{part} in {talk}");
    }
}

#[test]
fn one_bad_file_of_a_folder_leaves_the_others() {
    let bench = Bench::new();
    bench.put("runs/a.csv", &spindle_run(24.0));
    bench.put("runs/b.csv", "time_s,spindle_angle_rad\n0,0\n");
    bench.put("runs/c.csv", &spindle_run(15.0));
    // Goes before --bolt, for this run alone.
    bench.put("runs/c.toml", &SPINDLE_BOLT.replace("24.0", "15.0"));
    let output = bench.run(&[
        "replay",
        "--json",
        "--bolt",
        "bolt.toml",
        "--jobs",
        "2",
        "runs",
    ]);
    assert_eq!(output.status.code(), Some(3));
    let talk = String::from_utf8_lossy(&output.stderr);
    assert!(talk.contains("b.csv"), "{talk}");
    assert!(!talk.contains("runs,"), "no progress bar: {talk}");
    let found: Vec<_> = reports(&output.stdout)
        .iter()
        .map(|r| (r["run"].clone(), r["verdict"].clone()))
        .collect();
    let accepted = |run: &str| (Value::from(run), Value::from("accepted"));
    assert_eq!(found, [accepted("a"), accepted("c")]);
}

#[test]
fn a_folder_without_recordings_ends_with_3() {
    let bench = Bench::new();
    bench.put("empty/readme.txt", "");
    let (code, _, talk) = said(&bench.run(&["replay", "--bolt", "bolt.toml", "empty"]));
    assert_eq!(code, Some(3));
    assert!(talk.contains("no .csv"), "{talk}");
}

#[test]
fn lenient_leaves_bad_rows_out_and_counts_them() {
    let bench = Bench::new();
    let mut lines: Vec<_> = spindle_run(24.0).lines().map(str::to_owned).collect();
    lines[50] = "0.049,NaN,0".to_owned();
    lines[60] = "0.059,0".to_owned();
    bench.put("run.csv", &lines.join("\n"));
    let strict = ["replay", "--json", "--bolt", "bolt.toml", "run.csv"];
    assert_eq!(bench.run(&strict).status.code(), Some(3));
    let output = bench.run(&[&strict[..], &["--lenient"]].concat());
    assert_eq!(output.status.code(), Some(0));
    let report = only_report(&output);
    assert_eq!(report["skipped_rows"], 2);
    assert_eq!(report["samples"], 3998);
    let talk = String::from_utf8_lossy(&output.stderr);
    assert!(
        talk.contains("2 rows") && talk.contains("line 51"),
        "{talk}"
    );
}

#[test]
fn standard_input_is_read_like_a_file() {
    let bench = Bench::new();
    let csv = spindle_run(24.0);
    let (_, from_file, _) = bench.replay(&csv);
    let output = tool()
        .current_dir(bench.0.path())
        .args(["replay", "--json", "--bolt", "bolt.toml", "-"])
        .write_stdin(csv)
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(0));
    let mut report = only_report(&output);
    assert_eq!(report["run"], "stdin");
    report["run"] = "run".into();
    assert_eq!(report, reports(from_file.as_bytes())[0]);
}

#[test]
fn a_reader_that_goes_away_is_no_error() {
    let bench = Bench::new();
    bench.put("run.csv", &spindle_run(24.0));
    let (reader, writer) = std::io::pipe().unwrap();
    drop(reader);
    let mut command = std::process::Command::new(tool().get_program());
    let output = command
        .current_dir(bench.0.path())
        .args(["replay", "--bolt", "bolt.toml", "run.csv"])
        .stdout(writer)
        .stderr(std::process::Stdio::piped())
        .spawn()
        .unwrap()
        .wait_with_output()
        .unwrap();
    assert_eq!(output.status.code(), Some(0));
    assert!(output.stderr.is_empty());
}

#[test]
fn a_spindle_alone_needs_no_arm_and_no_spindle_mode() {
    let bench = Bench::new();
    bench.sound_run_of_the_arm();
    let target_nm = short(Fault::None).bolt.target_nm;
    let run = spindle_run(target_nm);
    bench.put("run.csv", &run);
    // The description is of an arm that strokes; the recording is not.
    let output = bench.run(&["replay", "--json", "--bolt", "arm.toml", "run.csv"]);
    let talk = String::from_utf8_lossy(&output.stderr);
    assert!(talk.contains("plain torque over angle"), "{talk}");
    let report = only_report(&output);
    let torque_nm = number(&report, "final_torque_nm");
    assert!((torque_nm - target_nm).abs() < 0.05 * target_nm);

    // The recording has joints, the description no arm.
    let mut lines = run.lines();
    let mut wide = lines.next().unwrap().to_owned() + ",q1,tau1\n";
    lines.for_each(|line| wide += &format!("{line},0.1,0.2\n"));
    let (code, with_joints, talk) = bench.replay(&wide);
    assert!(talk.contains("the description has no arm"), "{talk}");
    let (same_code, without, _) = bench.replay(&run);
    assert_eq!((code, with_joints), (same_code, without));
}

#[test]
fn the_order_of_columns_and_unknown_columns_change_nothing() {
    let bench = Bench::new();
    bench.sound_run_of_the_arm();
    let csv = read(&bench.path("arm.csv"));
    bench.put("first/arm.csv", &csv);
    bench.put(
        "backwards/arm.csv",
        &reordered(&csv, |n| (0..n).rev().collect()),
    );
    let mut extra = String::new();
    for (row, line) in csv.lines().enumerate() {
        extra += line;
        extra += if row == 0 { ",mood\n" } else { ",7\n" };
    }
    bench.put("extra/arm.csv", &extra);
    let of = |folder| {
        let bolt = bench.path("arm.toml");
        said(&bench.run(&["replay", "--json", "--bolt", bolt.to_str().unwrap(), folder]))
    };
    let first = of("first");
    assert_eq!(reports(first.1.as_bytes()).len(), 1);
    assert_eq!(of("backwards"), first);
    let extra = of("extra");
    assert_eq!((extra.0, extra.1), (first.0, first.1));
    assert!(extra.2.contains("\"mood\" is not known"), "{}", extra.2);
}

#[test]
fn velocities_may_be_left_out() {
    let bench = Bench::new();
    bench.sound_run_of_the_arm();
    let csv = read(&bench.path("arm.csv"));
    let header: Vec<_> = csv.lines().next().unwrap().split(',').collect();
    let kept: Vec<_> = (0..header.len())
        .filter(|i| !header[*i].starts_with("dq"))
        .collect();
    assert_eq!(kept.len() + 7, header.len());
    bench.put("slow.csv", &reordered(&csv, |_| kept.clone()));
    let of = |name| only_report(&bench.run(&["replay", "--json", "--bolt", "arm.toml", name]));
    let (with, without) = (of("arm.csv"), of("slow.csv"));
    assert_eq!(with["verdict"], without["verdict"]);
    let off = number(&with, "final_torque_nm") - number(&without, "final_torque_nm");
    // U, k = 2.
    assert!(
        off.abs() < 2.0 * number(&with, "final_torque_u_nm"),
        "{off}"
    );
}

#[test]
fn free_motion_is_taken_for_the_tare() {
    let bench = Bench::new();
    bench.sound_run_of_the_arm();
    let csv = read(&bench.path("arm.csv"));
    // The run starts with free motion.
    let free: Vec<_> = csv.lines().take(400).collect();
    bench.put("free.csv", &free.join("\n"));
    let command = ["replay", "--json", "--bolt", "arm.toml", "arm.csv"];
    let own = only_report(&bench.run(&command));
    let with = only_report(&bench.run(&[&command[..], &["--tare", "free.csv"]].concat()));
    assert_eq!(own["verdict"], with["verdict"]);
    let off = number(&own, "final_torque_nm") - number(&with, "final_torque_nm");
    assert!(off.abs() < 2.0 * number(&own, "final_torque_u_nm"), "{off}");
    bench.put("other.csv", "time_s,q1,tau1\n0,0,0\n");
    let (code, _, talk) = said(&bench.run(&[&command[..], &["--tare", "other.csv"]].concat()));
    assert_eq!(code, Some(3));
    assert!(talk.contains("free motion has 1 joints"), "{talk}");
}

#[test]
fn colour_comes_when_asked_for_only() {
    let bench = Bench::new();
    bench.put("low.csv", &spindle_run(15.0));
    let colored = |always: &[&str], no_color: bool| {
        let mut command = tool();
        command.current_dir(bench.0.path());
        if no_color {
            command.env("NO_COLOR", "1");
        }
        let base = ["replay", "--bolt", "bolt.toml", "low.csv"];
        let output = command.args(always).args(base).output().unwrap();
        assert_eq!(output.status.code(), Some(1));
        output.stdout.contains(&0x1b)
    };
    assert!(colored(&["--color", "always"], false));
    assert!(!colored(&["--color", "never"], false));
    assert!(!colored(&[], false));
    assert!(!colored(&["--color", "auto"], true));
}

#[test]
fn describe_tells_stated_figures_from_defaults() {
    let bench = Bench::new();
    let (code, text, talk) = said(&bench.run(&["describe", "bolt.toml"]));
    assert_eq!((code, talk.as_str()), (Some(0), ""));
    let line = |key: &str| {
        let found = text.lines().find(|line| line.trim_start().starts_with(key));
        let words = found.unwrap_or_else(|| panic!("{key} in {text}"));
        words.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    assert_eq!(
        line("run.target_torque_nm"),
        "run.target_torque_nm 24 N·m file"
    );
    assert_eq!(
        line("run.torque_tolerance_percent"),
        "run.torque_tolerance_percent 10 % default"
    );
    // ISO 261: coarse pitch of M8.
    assert!(line("bolt.pitch_mm").contains("1.25 mm"), "{text}");
}

#[test]
fn constants_are_the_description_as_bytes() {
    let bench = Bench::new();
    bench.sound_run_of_the_arm();
    let (code, both, _) = said(&bench.run(&["constants", "arm.toml"]));
    assert_eq!(code, Some(0));
    for name in ["ARM", "BOLT"] {
        assert_eq!(both.matches(&format!("pub const {name}: &[u8]")).count(), 1);
    }
    let (_, bolt, _) = said(&bench.run(&["constants", "--only", "bolt", "arm.toml"]));
    assert!(!bolt.contains("const ARM") && both.ends_with(&bolt));
    let (code, _, talk) = said(&bench.run(&["constants", "--only", "arm", "bolt.toml"]));
    assert_eq!(code, Some(3));
    assert!(talk.contains("[arm]"), "{talk}");
}

#[test]
fn simulated_runs_are_written_and_a_folder_that_cannot_be_made_ends_with_5() {
    let bench = Bench::new();
    let (code, stdout, _) = said(&bench.run(&["simulate", "--plain", "--out", "runs"]));
    assert_eq!((code, stdout.as_str()), (Some(0), ""));
    assert_eq!(
        reports(&bench.run(&["replay", "--json", "runs"]).stdout).len(),
        1
    );
    // A file stands in the way.
    let (code, _, talk) = said(&bench.run(&["simulate", "--plain", "--out", "bolt.toml"]));
    assert_eq!(code, Some(5), "{talk}");
}
