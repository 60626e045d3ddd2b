//! What a command finds it keeps; what it reads tells the terminal nothing.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::SystemTime;

use bolting_host::store::{Content, RawWriter, Record};
use bolting_monitor::wire::{Hello, MAX_WIRE, Point, Points, encode};

use crate::bench::{Bench, SPINDLE_BOLT, read, said, spindle_run};

/// Each command that writes, told to write where it reads.
#[test]
fn nothing_that_is_read_is_written_over() {
    let bench = Bench::new();
    bench.sound_run_of_the_arm();
    bench.put("run.csv", &spindle_run(24.0));
    bench.put("other.toml", SPINDLE_BOLT);
    bench.put("runs/a.csv", &spindle_run(24.0));
    bench.put("runs/a.toml", SPINDLE_BOLT);
    bench.put("free.csv", "time_s,q1,tau1\n0,0,0\n");
    std::fs::copy(bench.path("arm.urdf"), bench.path("own.urdf")).unwrap();
    let before = contents(bench.0.path());
    let arm = "--arm-urdf=own.urdf";
    for (command, over) in [
        (
            &["plan", "bolt.toml", "--out", "bolt.toml"][..],
            "bolt.toml",
        ),
        (&["plan", "bolt.toml", "--out", "./bolt.toml"], "bolt.toml"),
        (&["plan", "bolt.toml", "--out", "run.csv"], "run.csv"),
        (&["plan", "arm.toml", "--out", "arm.urdf"], "arm.urdf"),
        (&["plan", "arm.toml", arm, "--out", "own.urdf"], "own.urdf"),
        (
            &["forecast", "bolt.toml", "--html", "bolt.toml"],
            "bolt.toml",
        ),
        (&["forecast", "arm.toml", "--html", "arm.urdf"], "arm.urdf"),
        (
            &[
                "replay",
                "--bolt",
                "bolt.toml",
                "run.csv",
                "--html",
                "bolt.toml",
            ],
            "bolt.toml",
        ),
        (&["replay", "arm.csv", "--html", "arm.toml"], "arm.toml"),
        (&["replay", "arm.csv", "--html", "arm.urdf"], "arm.urdf"),
        (
            &["replay", "arm.csv", arm, "--html", "own.urdf"],
            "own.urdf",
        ),
        (&["replay", "runs", "--html", "runs/a.toml"], "a.toml"),
        (&["replay", "runs", "--html", "new.wirelog"], "new.wirelog"),
    ] {
        let (code, stdout, talk) = said(&bench.run(command));
        assert_eq!(
            (code, stdout.as_str()),
            (Some(2), ""),
            "{command:?}: {talk}"
        );
        assert!(
            talk.contains(over) && talk.contains("written over"),
            "{talk}"
        );
        assert_eq!(contents(bench.0.path()), before, "{command:?}");
    }
}

/// Names and bytes of the files in a folder and the folder below it.
fn contents(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut found = BTreeMap::new();
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            found.extend(contents(&path));
        } else {
            found.insert(path.clone(), std::fs::read(path).unwrap());
        }
    }
    found
}

#[test]
fn a_curve_is_no_recording_and_goes_over_none() {
    let bench = Bench::new();
    bench.put("runs/a.csv", &spindle_run(24.0));
    bench.put("runs/a.toml", SPINDLE_BOLT);
    let replay = ["replay", "--json", "runs", "--curves", "runs"];
    for _ in 0..2 {
        let (code, stdout, talk) = said(&bench.run(&replay));
        assert_eq!((code, stdout.lines().count()), (Some(0), 1), "{talk}");
    }
    assert!(bench.path("runs/a.curve.csv").is_file());
    // Named, it is read: and then not written over.
    let recording = spindle_run(24.0);
    bench.put("one/a.csv", &recording);
    bench.put("one/a.curve.csv", &recording);
    let both = ["one/a.csv", "one/a.curve.csv", "--curves", "one"];
    let (code, _, talk) =
        said(&bench.run(&[&["replay", "--bolt", "bolt.toml"], &both[..]].concat()));
    assert_eq!(code, Some(2), "{talk}");
    assert_eq!(read(&bench.path("one/a.curve.csv")), recording);
}

#[test]
fn a_simulation_keeps_what_it_finds_unless_it_is_its_own_again() {
    let bench = Bench::new();
    let simulate = |seed: &str| {
        let command = ["simulate", "--plain", "--mode", "spindle", "--out", "runs"];
        said(&bench.run(&[&command[..], &["--seed", seed]].concat()))
    };
    assert_eq!(simulate("1").0, Some(0));
    let before = contents(&bench.path("runs"));
    assert_eq!(simulate("1").0, Some(0), "the same bytes again");
    let (code, _, talk) = simulate("2");
    assert_eq!(code, Some(5), "{talk}");
    assert!(
        talk.contains("run-0001") && talk.contains("it is kept"),
        "{talk}"
    );
    assert_eq!(contents(&bench.path("runs")), before);
    // A foreign arm would go with descriptions that are not of it.
    let bench = Bench::new();
    bench.put("runs/arm.urdf", "<robot/>");
    let (code, _, talk) = said(&bench.run(&["simulate", "--plain", "--out", "runs"]));
    assert_eq!(code, Some(5), "{talk}");
    assert!(
        talk.contains("arm.urdf") && talk.contains("it is kept"),
        "{talk}"
    );
    assert_eq!(contents(&bench.path("runs")).len(), 1);
}

#[test]
fn a_name_gives_the_terminal_no_orders() {
    let bench = Bench::new();
    let mut frame = [0; MAX_WIRE];
    let hello = Hello {
        run: 1,
        job: "\x1b[31mX\x1b]0;t\x07".try_into().unwrap(),
        ..Hello::default()
    };
    let n = encode(0, &hello, &mut frame).unwrap();
    let mut bytes = frame[..n].to_vec();
    let point = Point {
        time_us: 0,
        angle_rad: 1.0,
        torque_nm: 1.0,
        torque_u_nm: 1.0,
        flags: 0,
    };
    let points = [point].into_iter().collect();
    let n = encode(1, &Points { points }, &mut frame).unwrap();
    bytes.extend(&frame[..n]);
    let mut log = RawWriter::create(&bench.path("cell.wirelog")).unwrap();
    let at = SystemTime::UNIX_EPOCH;
    for content in [
        Content::Connected("tcp:\x1b[31mX".into()),
        Content::Received(bytes),
        Content::Lost("\x1b[31mX".into()),
    ] {
        log.append(&Record { at, content }).unwrap();
    }
    let (code, stdout, talk) = said(&bench.run(&["review", "--color", "always", "cell.wirelog"]));
    assert_eq!(code, Some(1), "{talk}");
    for text in [&stdout, &talk] {
        assert!(text.contains("\u{FFFD}[31mX"), "{text}");
        assert!(
            !text.contains("\x1b[31mX") && !text.contains("\x1b]"),
            "{text}"
        );
    }
}
