//! Whose word a log holds: runs whose introduction was lost, another boot, another job.

#[path = "common/told.rs"]
mod told;

use std::time::{Duration, SystemTime, UNIX_EPOCH};

use bolting_host::review::{Review, ReviewedRun, review};
use bolting_host::store::{Content, RawWriter, Record};
use bolting_monitor::detect::{Finding, FindingKind};
use bolting_monitor::procedure::{RunSummary, Snug, Turn, Verdict};
use bolting_monitor::wire::{
    Alarm, Evidence, Hello, MAX_WIRE, Payload, Point, Points, SnugAngle, Summary, encode,
};
use told::{START_US, finding, summary};

const BOOT: u32 = 0xBEE5;
const NEXT_BOOT: u32 = 0xCAFE;

/// What comes over a link, and its breaks.
#[derive(Default)]
struct Heard {
    records: Vec<Content>,
    seq: u32,
}

impl Heard {
    fn say<T: Payload>(&mut self, message: &T) -> &mut Self {
        let mut frame = [0; MAX_WIRE];
        let n = encode(self.seq, message, &mut frame).expect("fits");
        self.seq += 1;
        self.records.push(Content::Received(frame[..n].to_vec()));
        self
    }

    fn hello(&mut self, boot_id: u32, run: u32, job: &str) -> &mut Self {
        self.say(&Hello {
            boot_id,
            run,
            run_start_us: START_US,
            job_crc: job.len() as u32,
            job: job.try_into().expect("short"),
            turn: Turn { pass: 0, bolt: 3 },
            ..Hello::default()
        })
    }

    fn points(&mut self, angle_rad: f32) -> &mut Self {
        let point = Point {
            time_us: (1e6 * angle_rad) as u32,
            angle_rad,
            torque_nm: 20.0,
            torque_u_nm: 0.25,
            flags: Point::OBSERVABLE,
        };
        let points = [point].into_iter().collect();
        self.say(&Points { points })
    }

    fn strip(&mut self, run: u32) -> &mut Self {
        let (alarm, evidence) = Evidence::split(&strip(21.0), 1, run, START_US);
        self.say(&alarm).say(&evidence)
    }

    fn summary(&mut self, run: u32, final_torque_nm: f32) -> &mut Self {
        let summary = RunSummary {
            final_torque_nm,
            ..summary(Verdict::Accepted, &[])
        };
        self.say(&Summary::new(&summary, 9, run))
    }

    fn cut(&mut self) -> &mut Self {
        self.records.push(Content::Lost("a test".into()));
        self.records.push(Content::Connected("a test".into()));
        self
    }

    fn review_at(&self, at: SystemTime) -> Review {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("cell.wirelog");
        let mut log = RawWriter::create(&path).expect("made");
        let up = Content::Connected("a test".into());
        for content in [up].into_iter().chain(self.records.clone()) {
            log.append(&Record { at, content }).expect("kept");
        }
        review(&path, &[]).expect("a log")
    }

    fn review(&self) -> Review {
        self.review_at(UNIX_EPOCH + Duration::from_secs(1_700_000_000))
    }
}

fn strip(torque_nm: f32) -> Finding {
    Finding {
        torque_nm,
        ..finding(FindingKind::Strip, 5_400_000)
    }
}

fn names(told: &Review) -> Vec<&str> {
    told.runs.iter().map(|run| run.name.as_str()).collect()
}

fn counts(run: &ReviewedRun) -> (usize, usize, bool) {
    let outcome = &run.logged.outcome;
    (
        outcome.findings.len(),
        outcome.curve.len(),
        run.logged.summed_up,
    )
}

#[test]
fn what_came_before_a_link_was_lost_is_none_of_the_next_boot() {
    let mut heard = Heard::default();
    heard.strip(1).points(1.0).cut();
    heard
        .hello(NEXT_BOOT, 1, "flange")
        .points(2.0)
        .summary(1, 24.0);
    let told = heard.review();
    // Run 1 of whoever spoke first, a curve of nobody knows which, and the run of the new boot.
    let [stripped, curve, sound] = &told.runs[..] else {
        panic!("{told:?}")
    };
    assert_eq!(counts(stripped), (1, 0, false));
    assert_eq!(counts(curve), (0, 1, false));
    assert_eq!(counts(sound), (0, 1, true));
    assert!(sound.is_whole());
    for run in [stripped, curve] {
        assert!(!run.logged.introduced && !run.logged.boot_known);
        let about = run.about.join("; ");
        assert!(about.contains("boot and software not told"), "{about}");
        assert!(about.contains("bolt, pass and job not told"), "{about}");
    }
    assert_eq!(
        names(&told),
        [
            "job not told, run 1",
            "job not told, run not told",
            "flange, run 1"
        ]
    );
    assert!(stripped.missing[0].contains("of which boot"));
}

#[test]
fn what_is_said_again_after_a_break_is_no_second_run() {
    let mut heard = Heard::default();
    heard.strip(1).cut();
    heard
        .strip(1)
        .hello(BOOT, 1, "flange")
        .points(1.0)
        .summary(1, 24.0);
    let told = heard.review();
    assert_eq!(
        told.runs.iter().map(counts).collect::<Vec<_>>(),
        [(1, 1, true)]
    );
}

#[test]
fn points_that_come_before_who_speaks_go_to_the_run_under_way_of_that_boot() {
    let mut heard = Heard::default();
    heard.hello(BOOT, 1, "flange").points(1.0).cut();
    heard
        .points(2.0)
        .hello(BOOT, 1, "flange")
        .summary(1, 24.0)
        .cut();
    heard
        .points(1.5)
        .hello(NEXT_BOOT, 1, "flange")
        .summary(1, 25.0);
    let told = heard.review();
    let found: Vec<_> = told.runs.iter().map(counts).collect();
    assert_eq!(found, [(0, 2, true), (0, 1, true)]);
}

#[test]
fn a_run_whose_introduction_was_lost_has_no_job_and_keeps_its_place() {
    let mut heard = Heard::default();
    heard.hello(BOOT, 1, "flange").points(1.0).summary(1, 24.0);
    // That of run 2 is lost.
    heard.strip(2).points(1.0).summary(2, 20.0);
    heard.hello(BOOT, 3, "flange").points(1.0).summary(3, 24.0);
    let told = heard.review();
    assert_eq!(
        names(&told),
        ["flange, run 1", "job not told, run 2", "flange, run 3"]
    );
    let lost = &told.runs[1];
    assert_eq!(counts(lost), (1, 1, true));
    assert!(
        lost.missing[0].contains("which job, bolt and pass"),
        "{lost:?}"
    );
    assert!(lost.about.join("; ").contains("controller boot 0000BEE5"));
    // The start of the run, from alarm and evidence.
    let outcome = &lost.logged.outcome;
    assert!((outcome.time_s(&outcome.findings[0]) - 0.4).abs() < 1e-9);
    assert!(told.runs[0].is_whole() && told.runs[2].is_whole());
}

#[test]
fn a_run_keeps_the_job_it_began_with_and_a_change_is_told() {
    let mut heard = Heard::default();
    heard.hello(BOOT, 1, "bolt done up").points(1.0);
    heard.hello(BOOT, 1, "next plan").summary(1, 24.0);
    let told = heard.review();
    assert_eq!(names(&told), ["bolt done up, run 1"]);
    assert_eq!(told.runs[0].logged.hello.job_crc, 12);
    let missing = told.runs[0].missing.join("; ");
    assert!(
        missing.contains("another job, \"next plan\", CRC 00000009"),
        "{missing}"
    );
}

#[test]
fn a_job_that_is_loaded_after_the_run_is_no_change_of_it() {
    let mut heard = Heard::default();
    heard.hello(BOOT, 0, "none").hello(BOOT, 0, "bolt done up");
    heard
        .hello(BOOT, 1, "bolt done up")
        .points(1.0)
        .summary(1, 24.0);
    heard.hello(BOOT, 1, "next plan");
    let told = heard.review();
    assert_eq!(names(&told), ["bolt done up, run 1"]);
    assert!(told.runs[0].is_whole(), "{told:?}");
}

#[test]
fn a_snug_point_alone_is_a_run() {
    let mut heard = Heard::default();
    let snug = Snug {
        angle_rad: 10.0,
        angle_u_rad: 0.1,
        torque_nm: 0.6,
    };
    heard.hello(BOOT, 1, "flange").say(&SnugAngle {
        id: 1,
        run: 1,
        angle_rad: snug.angle_rad,
        angle_u_rad: snug.angle_u_rad,
        torque_nm: snug.torque_nm,
    });
    let told = heard.review();
    assert_eq!(names(&told), ["flange, run 1"]);
    assert_eq!(told.runs[0].logged.outcome.summary.snug, Some(snug));
}

#[test]
fn an_alarm_whose_torque_was_not_observable_is_told_once_and_in_words() {
    let mut heard = Heard::default();
    let (alarm, _) = Evidence::split(&strip(f32::NAN), 1, 1, START_US);
    heard.hello(BOOT, 1, "flange").points(1.0);
    (0..3).for_each(|_| {
        heard.say(&alarm);
    });
    let told = heard.summary(1, 24.0).review();
    assert_eq!(told.runs[0].logged.bare_alarms.len(), 1);
    let missing = told.runs[0].missing.join("; ");
    assert!(missing.contains("torque not observable"), "{missing}");
    assert!(!missing.contains("NaN"), "{missing}");
}

#[test]
fn a_host_whose_clock_stood_before_1970_is_no_reason_to_fail() {
    let mut heard = Heard::default();
    heard
        .hello(BOOT, 1, "flange")
        .points(1.0)
        .summary(1, 24.0)
        .cut();
    let told = heard.review_at(UNIX_EPOCH - Duration::from_secs(10));
    assert!(told.runs[0].about[0].contains("before 1970"), "{told:?}");
    assert!(told.gaps[0].contains("before 1970"), "{told:?}");
}

#[test]
fn two_alarms_that_differ_in_a_bit_are_two() {
    let mut heard = Heard::default();
    let (alarm, _) = Evidence::split(&strip(0.0), 1, 1, START_US);
    let other = Alarm {
        torque_nm: -0.0,
        ..alarm
    };
    heard.hello(BOOT, 1, "flange").say(&alarm).say(&other);
    assert_eq!(heard.review().runs[0].logged.bare_alarms.len(), 2);
}
