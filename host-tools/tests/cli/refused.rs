//! Wrong use, damaged recordings and bad descriptions: exit codes 2 and 3.

use serde_json::Value;

use crate::bench::{Bench, SPINDLE_BOLT, only_report, said, spindle_run};
use crate::common::reports;

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
fn acknowledging_without_a_way_back_is_wrong_use() {
    let bench = Bench::new();
    let (code, _, talk) =
        said(&bench.run(&["record", "--from", "-", "--ack", "--out", "new.wirelog"]));
    assert_eq!(code, Some(2), "{talk}");
    assert!(talk.contains("standard input has none"), "{talk}");
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
    bench.put("versionless.toml", &SPINDLE_BOLT.replace("schema = 1", ""));
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
        ("versionless.toml", &["add schema = 1"]),
        (
            "two.toml",
            &[
                "line 8: run.target_torque_nm",
                "line 10: spindle.torque_noise_nm",
            ],
        ),
        (
            "no-urdf.toml",
            &["line 12: arm.urdf", "none.urdf", "--arm-urdf"],
        ),
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
