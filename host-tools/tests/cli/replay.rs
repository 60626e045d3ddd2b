//! What `replay` says of recordings that it can use.

use bolting_host::simulate::{Existing, Fault, simulate, write_run};
use serde_json::Value;

use crate::bench::{
    Bench, SPINDLE_BOLT, number, only_report, read, reordered, said, short, spindle_run,
};
use crate::common::{reports, tool};

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
    write_run(bench.0.path(), "strips", &scenario, &run, Existing::Keep).unwrap();
    // Its own description lies beside it.
    let output = bench.run(&["replay", "--json", "strips.csv"]);
    assert_eq!(output.status.code(), Some(1));
    let report = only_report(&output);
    let alarms = report["alarms"].as_array().unwrap();
    let strip = alarms.iter().find(|a| a["kind"] == "strip").unwrap();
    assert_eq!(strip["stops"], true);
    assert!(number(strip, "value") >= number(strip, "limit"));
    let (_, table, _) = said(&bench.run(&["replay", "strips.csv"]));
    assert!(
        table.contains("the torque fell while the bolt turned on: it fell by"),
        "{table}"
    );
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
    // A whole tightening is no free motion: its mean torque would be taken off every torque.
    let (code, stdout, talk) = said(&bench.run(&[&command[..], &["--tare", "arm.csv"]].concat()));
    assert_eq!((code, stdout.as_str()), (Some(3), ""));
    assert!(talk.contains("the torque at the socket moves by"), "{talk}");
}

#[test]
fn joint_angles_in_degrees_are_no_angles_of_this_arm() {
    let bench = Bench::new();
    bench.sound_run_of_the_arm();
    let csv = read(&bench.path("arm.csv"));
    let header: Vec<_> = csv.lines().next().unwrap().split(',').collect();
    let mut degrees = header.join(",") + "\n";
    for line in csv.lines().skip(1) {
        let fields: Vec<_> = (line.split(',').zip(&header))
            .map(|(field, name)| match name.strip_prefix('q') {
                Some(_) => field.parse::<f64>().unwrap().to_degrees().to_string(),
                None => field.to_owned(),
            })
            .collect();
        degrees += &(fields.join(",") + "\n");
    }
    bench.put("degrees.csv", &degrees);
    let (code, stdout, talk) = said(&bench.run(&["replay", "--bolt", "arm.toml", "degrees.csv"]));
    assert_eq!((code, stdout.as_str()), (Some(3), ""));
    assert!(talk.contains("in degrees"), "{talk}");
}

#[test]
fn a_spindle_angle_that_starts_anew_with_every_turn_is_joined_and_said() {
    let bench = Bench::new();
    let whole = spindle_run(24.0);
    let mut wrapped = String::new();
    for line in whole.lines() {
        let fields: Vec<_> = line.split(',').collect();
        wrapped += &match fields[1].parse::<f64>() {
            Ok(rad) => {
                let rad = (rad + 3.0).rem_euclid(std::f64::consts::TAU) - std::f64::consts::PI;
                format!("{},{rad},{}\n", fields[0], fields[2])
            }
            Err(_) => format!("{line}\n"),
        };
    }
    bench.put("whole.csv", &whole);
    bench.put("wrapped.csv", &wrapped);
    let of = |name| said(&bench.run(&["replay", "--json", "--bolt", "bolt.toml", name]));
    let (code, report, talk) = of("wrapped.csv");
    assert_eq!(code, Some(0), "{report}");
    assert!(talk.contains("joined at 2 steps"), "{talk}");
    let angle = |report: &str| number(&reports(report.as_bytes())[0], "final_angle_rad");
    assert!((angle(&report) - angle(&of("whole.csv").1)).abs() < 1e-3);
}

#[test]
fn every_form_says_that_it_is_invented_and_the_table_ends_with_the_caution() {
    let bench = Bench::new();
    bench.put("run.csv", &spindle_run(24.0));
    let invented = SPINDLE_BOLT.replace("[bolt]", "invented = true\n[bolt]");
    bench.put("made-up.toml", &invented);
    for (bolt, is) in [("made-up.toml", true), ("bolt.toml", false)] {
        let command = ["replay", "--bolt", bolt, "run.csv"];
        let (_, table, _) = said(&bench.run(&command));
        assert_eq!(table.contains("invented scenario"), is, "{table}");
        assert!(
            table.contains("not replace a calibrated verification"),
            "{table}"
        );
        let report = only_report(&bench.run(&[&command[..], &["--json"]].concat()));
        assert_eq!(report["invented"], is);
        let forecast = ["forecast", bolt, "--html", "forecast.html"];
        let (code, text, _) = said(&bench.run(&forecast));
        assert_eq!(code, Some(0));
        assert_eq!(text.contains("Invented scenario"), is, "{text}");
        let page = read(&bench.path("forecast.html"));
        assert_eq!(page.contains("Invented scenario"), is);
        let (_, json, _) = said(&bench.run(&["forecast", bolt, "--json"]));
        let json: Value = serde_json::from_str(&json).unwrap();
        assert_eq!(json["invented"], is);
    }
}

#[test]
fn a_pass_that_is_not_there_is_told_with_those_that_are() {
    let bench = Bench::new();
    bench.put("run.csv", &spindle_run(24.0));
    let two = format!("{SPINDLE_BOLT}[[pass]]\npercent = 50.0\n[[pass]]\n");
    bench.put("two.toml", &two);
    let (code, _, talk) =
        said(&bench.run(&["replay", "--bolt", "two.toml", "--pass", "9", "run.csv"]));
    assert_eq!(code, Some(3));
    assert!(talk.contains("give --pass 1 to 2"), "{talk}");
}

#[test]
fn a_key_that_would_have_made_a_verdict_possible_is_named() {
    let bench = Bench::new();
    bench.put("run.csv", &spindle_run(24.0));
    let undo = SPINDLE_BOLT.replace("[run]", "[run]\ndirection = \"undo\"");
    bench.put("bolt.toml", &undo);
    let (_, table, _) = said(&bench.run(&[
        "replay",
        "--bolt",
        "bolt.toml",
        "--html",
        "report.html",
        "run.csv",
    ]));
    assert!(table.contains("state run.breakaway_torque_nm"), "{table}");
    let page = read(&bench.path("report.html"));
    assert!(page.contains("State run.breakaway_torque_nm"));
    assert!(page.contains("<td>did not turn</td>"));
}

#[test]
fn a_bolt_that_never_turns_has_no_torque_and_a_hint_at_the_signs() {
    let bench = Bench::new();
    // Turned the way that does a bolt up, described as undoing.
    bench.put("run.csv", &spindle_run(24.0));
    let undo = SPINDLE_BOLT.replace("[run]", "[run]\ndirection = \"undo\"");
    bench.put("bolt.toml", &undo);
    let command = ["replay", "--bolt", "bolt.toml", "run.csv"];
    let (code, table, _) = said(&bench.run(&command));
    assert_eq!(code, Some(1));
    assert!(table.contains("did not turn"), "{table}");
    assert!(table.contains("check the signs"), "{table}");
    let report = only_report(&bench.run(&[&command[..], &["--json"]].concat()));
    assert_eq!(report["final_torque_nm"], Value::Null);
}

#[test]
fn a_report_and_curves_are_written_where_they_are_asked_for() {
    let bench = Bench::new();
    bench.put("run.csv", &spindle_run(24.0));
    let arguments = [
        "replay",
        "--bolt",
        "bolt.toml",
        "--html",
        "report.html",
        "--curves",
        "curves/new",
        "run.csv",
    ];
    assert_eq!(bench.run(&arguments).status.code(), Some(0));
    let page = read(&bench.path("report.html"));
    assert!(page.contains("Replayed recordings") && page.contains("<b>accepted</b>"));
    assert!(!page.contains("class=\"invented\">I"));
    assert!(!page.contains("{{") && !page.contains("id=\"signoff\""));
    let curve = read(&bench.path("curves/new/run.curve.csv"));
    let last: Vec<f64> = (curve.lines().last().unwrap().split(','))
        .map(|figure| figure.parse().unwrap())
        .collect();
    // The last point of the recording: 24 N·m at 540° + 47°.
    assert!(
        (last[1].to_degrees() - 587.0).abs() < 1.0 && (last[2] - 24.0).abs() < 0.5,
        "{last:?}"
    );
    let (code, _, talk) = said(&bench.run(&[
        "replay",
        "--bolt",
        "bolt.toml",
        "--html",
        "no/such/folder/report.html",
        "run.csv",
    ]));
    assert_eq!(code, Some(5));
    assert!(
        talk.contains("no/such/folder/report.html: cannot be written"),
        "{talk}"
    );
}

#[test]
fn a_log_is_reviewed_and_another_file_refused() {
    let bench = Bench::new();
    let demo = bench.run(&["demo", "--in-process", "--no-page", "--out", "demo"]);
    assert_eq!(demo.status.code(), Some(0));
    let arguments = [
        "review",
        "demo/flange.wirelog",
        "--bolt",
        "demo/flange-bolt-4.toml",
        "--html",
        "record.html",
        "--curves",
        "curves",
    ];
    let (code, table, _) = said(&bench.run(&arguments));
    assert_eq!(code, Some(1));
    assert!(
        table.contains("flange-bolt-3, run 3: an alarm stands against the bolt"),
        "{table}"
    );
    // Of bolt 4 alone the window is known.
    assert!(
        table.contains("below its window, 43.20 to 52.80 N·m"),
        "{table}"
    );
    let page = read(&bench.path("record.html"));
    assert!(page.contains("id=\"signoff\"") && page.contains("SHA-256"));
    assert!(page.contains("runs without a description may be invented too"));
    // As its description says; the other three runs came without one.
    assert_eq!(
        page.matches("<small>invented, simulated</small>").count(),
        1
    );
    assert!(bench.path("curves/flange-bolt-4-run-4.curve.csv").is_file());

    let output = bench.run(&["review", "--json", "demo/flange.wirelog"]);
    let runs: Vec<Value> = (output.stdout.split(|byte| *byte == b'\n'))
        .filter(|line| !line.is_empty())
        .map(|line| serde_json::from_slice(line).unwrap())
        .collect();
    assert_eq!(runs.len(), 4);
    assert_eq!(runs[0]["invented"], Value::Null, "without a description");
    assert_eq!(
        (&runs[3]["run_number"], &runs[3]["summed_up"]),
        (&4.into(), &true.into())
    );
    assert_eq!(runs[3]["alarms"][0]["kind"], "strip");

    // One that is no log is told, the others go on.
    bench.put("run.csv", &spindle_run(24.0));
    let (code, table, talk) =
        said(&bench.run(&["review", "run.csv", "demo", "demo/flange.wirelog"]));
    assert_eq!(code, Some(3));
    assert!(talk.contains("run.csv is no wire log"), "{talk}");
    assert!(talk.contains("demo: is a folder"), "{talk}");
    assert!(table.contains("flange-bolt-1, run 1"), "{table}");

    // A forgotten file name must not cost a recording.
    let before = std::fs::read(bench.path("demo/flange.wirelog")).unwrap();
    let (code, _, talk) = said(&bench.run(&["review", "--html", "demo/flange.wirelog", "run.csv"]));
    assert_eq!(code, Some(2));
    assert!(
        talk.contains("written over what is named like a recording"),
        "{talk}"
    );
    assert_eq!(
        std::fs::read(bench.path("demo/flange.wirelog")).unwrap(),
        before
    );
}
