//! The other commands, and what holds for all: help, colour, a closed pipe.

use crate::bench::{Bench, said, spindle_run};
use crate::common::{reports, tool};

#[test]
fn help_and_version_are_data_and_success() {
    let bench = Bench::new();
    let (code, help, talk) = said(&bench.run(&["--help"]));
    assert_eq!((code, talk.as_str()), (Some(0), ""));
    for command in [
        "replay",
        "review",
        "describe",
        "forecast",
        "constants",
        "rig",
        "simulate",
        "Exit codes",
    ] {
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
    let (code, stdout, _) =
        said(&bench.run(&["simulate", "--plain", "--mode", "spindle", "--out", "runs"]));
    assert_eq!((code, stdout.as_str()), (Some(0), ""));
    assert_eq!(
        reports(&bench.run(&["replay", "--json", "runs"]).stdout).len(),
        1
    );
    // A file stands in the way.
    let (code, _, talk) = said(&bench.run(&["simulate", "--plain", "--out", "bolt.toml"]));
    assert_eq!(code, Some(5), "{talk}");
}
