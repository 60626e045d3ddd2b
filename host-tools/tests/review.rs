//! A log is reviewed whole: every run, every alarm, and what is missing is said.

#[path = "common/told.rs"]
mod told;

use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use bolting_host::description::Description;
use bolting_host::review::{Review, review, unused};
use bolting_host::store::{Content, RawWriter, Record};
use bolting_monitor::detect::FindingKind;
use bolting_monitor::procedure::{Reason, Turn, Verdict};
use bolting_monitor::wire::{
    Alarm, Evidence, Hello, MAX_WIRE, Payload, Plan, Point, Points, Summary, Thinned, encode,
    encode_raw,
};
use told::{START_US, finding, summary};

/// What a controller says, in frames.
#[derive(Default)]
struct Said {
    bytes: Vec<u8>,
    seq: u32,
}

impl Said {
    fn say<T: Payload>(&mut self, message: &T) -> &mut Self {
        let mut frame = [0; MAX_WIRE];
        let n = encode(self.seq, message, &mut frame).expect("fits");
        self.bytes.extend(&frame[..n]);
        self.seq += 1;
        self
    }

    fn hello(&mut self, run: u32) -> &mut Self {
        self.job(run, 77, "flange")
    }

    fn job(&mut self, run: u32, job_crc: u32, job: &str) -> &mut Self {
        self.say(&Hello {
            boot_id: 0xBEE5,
            run,
            run_start_us: START_US,
            ticks_per_s: 1_000_000,
            joints: 7,
            software: [0, 1, 0],
            job_crc,
            job: job.try_into().expect("short"),
            turn: Turn { pass: 0, bolt: 0 },
        })
    }

    fn points(&mut self) -> &mut Self {
        let point = |angle_rad, flags| Point {
            time_us: 1_000,
            angle_rad,
            torque_nm: 20.0,
            torque_u_nm: 0.25,
            flags,
        };
        self.say(&Points {
            points: [point(9.0, Point::OBSERVABLE), point(9.1, 0)]
                .into_iter()
                .collect(),
        })
    }

    fn alarm(&mut self, id: u8, run: u32, kind: FindingKind, time_us: u64) -> &mut Self {
        let (alarm, evidence) = Evidence::split(&finding(kind, time_us), id, run, START_US);
        self.say(&alarm).say(&evidence)
    }

    fn summary(&mut self, run: u32) -> &mut Self {
        let summary = summary(Verdict::Accepted, &[Reason::TorqueInWindow]);
        self.say(&Summary::new(&summary, 9, run))
    }

    fn log(&self) -> (tempfile::TempDir, PathBuf) {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("cell.wirelog");
        let mut log = RawWriter::create(&path).expect("made");
        let mut keep = |seconds, content| {
            let at: SystemTime = UNIX_EPOCH + Duration::from_secs(seconds);
            log.append(&Record { at, content }).expect("kept");
        };
        keep(1_700_000_000, Content::Connected("a test".into()));
        keep(1_700_000_060, Content::Received(self.bytes.clone()));
        (folder, path)
    }

    fn review(&self) -> Review {
        let (_folder, path) = self.log();
        review(&path, &[]).expect("a log")
    }
}

#[test]
fn each_run_is_told_with_its_origin() {
    let mut said = Said::default();
    said.hello(0).hello(1).points().summary(1);
    said.hello(2).points().summary(2);
    let told = said.review();
    let names: Vec<_> = told.runs.iter().map(|r| r.name.as_str()).collect();
    assert_eq!(names, ["flange, run 1", "flange, run 2"]);
    assert!(told.gaps.is_empty() && told.runs.iter().all(|r| r.is_whole()));
    assert_eq!(
        told.runs[0].about[0],
        "heard 2023-11-14T22:14:20Z to 2023-11-14T22:14:20Z"
    );
    assert!(told.origin[0].contains("SHA-256 ") && told.origin[1].ends_with("link up: a test"));
    let curve = &told.runs[0].logged.outcome.curve;
    assert_eq!([curve[0].observable, curve[1].observable], [true, false]);
}

#[test]
fn a_run_that_was_never_summed_up_is_told_and_not_assessable() {
    let mut said = Said::default();
    said.hello(1)
        .points()
        .alarm(3, 1, FindingKind::Strip, 5_400_000);
    let told = said.review();
    let [run] = &told.runs[..] else {
        panic!("{told:?}")
    };
    let outcome = &run.logged.outcome;
    assert_eq!(outcome.summary.verdict, Verdict::NotAssessable);
    assert_eq!(
        (outcome.final_torque_nm(), outcome.observable),
        (None, None)
    );
    assert_eq!(outcome.findings, [finding(FindingKind::Strip, 5_400_000)]);
    assert!(run.missing[0].contains("never summed this run up"));
}

#[test]
fn figures_that_nobody_summed_up_are_told_by_no_form() {
    let mut said = Said::default();
    said.hello(1).points();
    let (folder, _path) = said.log();
    let run = |arguments: &[&str]| {
        let output = assert_cmd::Command::cargo_bin("bolting-host")
            .expect("the tool")
            .current_dir(folder.path())
            .args(["review", "cell.wirelog"])
            .args(arguments)
            .output()
            .expect("run");
        String::from_utf8(output.stdout).expect("text")
    };
    let json: serde_json::Value =
        serde_json::from_str(run(&["--json"]).lines().next().expect("a run")).expect("JSON");
    for key in [
        "final_torque_nm",
        "final_torque_u_nm",
        "final_angle_rad",
        "final_angle_u_rad",
        "samples",
        "unusable_samples",
        "gaps",
        "invented",
    ] {
        assert!(json[key].is_null(), "{key} in {json}");
    }
    let table = run(&[]);
    // Torque, angle, snug twice, samples and gaps.
    assert_eq!(table.matches("not told").count(), 6, "{table}");
}

#[test]
fn what_is_retained_goes_to_its_run_however_late_it_comes() {
    let mut said = Said::default();
    // The link was down while run 2 began: run 1's alarm and summary come after it.
    said.hello(1).points().hello(2).points();
    said.alarm(4, 1, FindingKind::CrossThread, 5_200_000);
    said.summary(1).summary(2);
    // And once more, for want of an acknowledgement.
    said.alarm(4, 1, FindingKind::CrossThread, 5_200_000);
    let told = said.review();
    assert_eq!(told.runs.len(), 2);
    let [first, second] = [0, 1].map(|i| &told.runs[i].logged);
    assert_eq!(first.outcome.findings.len(), 1);
    assert!(second.outcome.findings.is_empty() && first.summed_up && second.summed_up);
}

#[test]
fn two_alarms_of_one_number_keep_their_own_evidence() {
    let mut said = Said::default();
    said.hello(1);
    said.alarm(4, 1, FindingKind::FalseSnug, 5_200_000);
    said.alarm(4, 1, FindingKind::Strip, 5_900_000);
    let told = said.summary(1).review();
    assert_eq!(
        told.runs[0].logged.outcome.findings,
        [
            finding(FindingKind::FalseSnug, 5_200_000),
            finding(FindingKind::Strip, 5_900_000)
        ]
    );
}

#[test]
fn an_alarm_without_evidence_and_one_that_is_not_known_are_told() {
    let mut said = Said::default();
    let (alarm, _) = Evidence::split(&finding(FindingKind::Strip, 5_400_000), 3, 1, START_US);
    let newer = Alarm {
        id: 5,
        code: 250,
        ..alarm
    };
    said.hello(1).say(&alarm).say(&newer).summary(1);
    let told = said.review();
    let missing = told.runs[0].missing.join("\n");
    assert!(
        missing.contains("alarm \"stripping\" at 573.0°, torque 21.00 N·m"),
        "{missing}"
    );
    assert!(missing.contains("alarm number 250, which this version does not know"));
    assert!(!told.runs[0].is_whole());
}

#[test]
fn what_came_before_anyone_said_who_is_speaking_is_told() {
    let mut said = Said::default();
    said.points()
        .alarm(1, 7, FindingKind::Strip, 5_400_000)
        .summary(7);
    let told = said.review();
    assert!(
        (told.runs.iter())
            .any(|run| run.logged.outcome.findings.len() == 1 && run.logged.summed_up)
    );
    assert!(
        told.runs
            .iter()
            .any(|run| !run.logged.outcome.curve.is_empty())
    );
}

#[test]
fn points_left_out_are_counted_run_by_run() {
    let mut said = Said::default();
    said.hello(1)
        .points()
        .say(&Thinned { points: 40 })
        .summary(1);
    said.hello(2)
        .points()
        .say(&Thinned { points: 55 })
        .summary(2);
    said.hello(3).points().summary(3);
    let left_out = said
        .review()
        .runs
        .iter()
        .map(|r| r.logged.points_left_out)
        .collect::<Vec<_>>();
    assert_eq!(left_out, [40, 15, 0]);
}

#[test]
fn damage_and_what_a_newer_version_says_are_told() {
    let mut said = Said::default();
    said.hello(1).points().summary(1);
    let mut frame = [0; MAX_WIRE];
    let n = encode_raw(63, said.seq, &[1, 2, 3], &mut frame).expect("fits");
    said.bytes.extend(&frame[..n]);
    said.bytes.extend([9, 9, 9, 9, 0]);
    let (_folder, path) = said.log();
    let mut bytes = std::fs::read(&path).expect("the log");
    bytes.extend([1, 200, 0]);
    std::fs::write(&path, bytes).expect("torn");
    let told = review(&path, &[]).expect("a log");
    let gaps = told.gaps.join("\n");
    for part in [
        "message kind 63 is not known",
        "1 frames came garbled",
        "were not read",
    ] {
        assert!(gaps.contains(part), "{part}: {gaps}");
    }
    assert_eq!(told.runs.len(), 1);
}

#[test]
fn windows_are_those_of_the_description_that_the_controller_had_and_of_no_other() {
    let describe = |target: &str| {
        let text = format!(
            "schema = 1\nname = \"bolt\"\n[bolt]\nthread = \"M10\"\n[run]\nmode = \"powered_spindle\"\ntarget_torque_nm = {target}\n"
        );
        Description::parse(&text, Path::new("bolt.toml")).expect("sound")
    };
    let (had, other) = (describe("48.0"), describe("30.0"));
    let mut said = Said::default();
    let crc = Plan::crc_of(&had.plan().expect("a blob"));
    said.job(1, crc, "bolt").points().summary(1);
    let (_folder, path) = said.log();
    let known = review(&path, &[(Path::new("a.toml"), &had)]).expect("a log");
    assert_eq!(
        known.runs[0].job.as_ref().map(|j| &j.name),
        Some(&had.job.name)
    );
    assert!(known.gaps.is_empty());
    let unknown = review(&path, &[(Path::new("b.toml"), &other)]).expect("a log");
    assert_eq!(unknown.runs[0].job, None);
    let described = [(Path::new("b.toml"), &other), (Path::new("a.toml"), &had)];
    let said = unused(&described, unknown.runs.iter());
    assert!(
        said.len() == 1 && said[0].starts_with("b.toml (CRC "),
        "{said:?}"
    );
}

#[test]
fn alarms_that_come_before_who_is_speaking_go_to_their_run() {
    let mut said = Said::default();
    // The link was down as run 2 began: its alarm goes first, and that of run 1 as well.
    said.alarm(1, 1, FindingKind::LateSnug, 5_100_000);
    said.alarm(2, 2, FindingKind::Strip, 5_400_000);
    said.hello(2).points().summary(2).summary(1);
    let told = said.review();
    let found: Vec<_> = (told.runs.iter())
        .map(|run| {
            let logged = &run.logged;
            (
                logged.hello.run,
                logged.outcome.findings.len(),
                logged.summed_up,
            )
        })
        .collect();
    assert_eq!(found, [(1, 1, true), (2, 1, true)]);
}

#[test]
fn after_a_new_boot_an_alarm_is_none_of_the_old_run_of_that_number() {
    let mut said = Said::default();
    said.hello(1).points().summary(1);
    let (folder, path) = said.log();
    let mut again = Said::default();
    again.alarm(1, 1, FindingKind::Strip, 5_400_000);
    again.say(&Hello {
        boot_id: 0xCAFE,
        run: 1,
        run_start_us: START_US,
        ..Hello::default()
    });
    let (_other, second) = again.log();
    // The header of a log is eight bytes: the records of the second follow the first's.
    let mut bytes = std::fs::read(&path).expect("a log");
    bytes.extend(&std::fs::read(&second).expect("a log")[8..]);
    std::fs::write(&path, bytes).expect("joined");
    let told = review(&path, &[]).expect("a log");
    let found: Vec<_> = (told.runs.iter())
        .map(|run| (run.logged.hello.boot_id, run.logged.outcome.findings.len()))
        .collect();
    assert_eq!(found, [(0xBEE5, 0), (0xCAFE, 1)]);
    drop(folder);
}

#[test]
fn evidence_without_its_alarm_is_told() {
    let mut said = Said::default();
    let (_, evidence) = Evidence::split(&finding(FindingKind::Strip, 5_400_000), 3, 1, START_US);
    said.hello(1).points().say(&evidence).summary(1);
    let missing = said.review().runs[0].missing.join(" ");
    assert!(
        missing.contains("evidence without its alarm: torque_nm 21.00 against 3.00"),
        "{missing}"
    );
}

#[test]
fn a_summary_without_a_curve_tells_its_torque() {
    let mut said = Said::default();
    said.hello(1).summary(1);
    let told = said.review();
    assert_eq!(told.runs[0].logged.outcome.final_torque_nm(), Some(24.5));
    assert_eq!(told.runs[0].missing, ["the log holds nothing of its curve"]);
}
