//! A recorded log, read back: what a controller said of each run, what of it is missing, and where the
//! record comes from.

use std::path::Path;
use std::time::{SystemTime, UNIX_EPOCH};

use bolting_monitor::detect::{Cause, Quantity};
use bolting_monitor::procedure::BoltJob;
use bolting_monitor::wire::{Alarm, Evidence, Plan};
use humantime::format_rfc3339_seconds;

use crate::description::Description;
use crate::replay::CurvePoint;
use crate::store::{LoggedRun, RawLog, Said, StoreError, Torn, View, decode};
use crate::words::{cause, finding_label, quantity_name, torque_words};

/// What a log tells.
#[derive(Clone, Debug)]
pub struct Review {
    /// The runs, in the order in which they began.
    pub runs: Vec<ReviewedRun>,
    /// Where the record comes from.
    pub origin: Vec<String>,
    /// What is missing or damaged, and what was not understood.
    pub gaps: Vec<String>,
}

/// A run that a log tells of.
#[derive(Clone, Debug)]
pub struct ReviewedRun {
    /// Name, from the job and the run's number.
    pub name: String,
    /// What was asked for; `None` where no description was given, or another one than the controller
    /// had.
    pub job: Option<BoltJob>,
    /// Whether that description says that the scenario is made up; `None` without one.
    pub invented: Option<bool>,
    /// What was told.
    pub logged: LoggedRun,
    /// When, by which controller, with which job.
    pub about: Vec<String>,
    /// What is missing from the record of this run.
    pub missing: Vec<String>,
}

impl ReviewedRun {
    /// Whether the record of this run is whole.
    pub fn is_whole(&self) -> bool {
        self.missing.is_empty()
    }
}

/// A description to hold the runs of a log against: where it stands, and what it says.
pub type Described<'a> = (&'a Path, &'a Description);

/// Reads the log at `path`. The runs whose job is that of a description are held against it.
///
/// # Errors
/// [`StoreError`] if the file cannot be read or is no log. What is missing is told, not refused.
pub fn review(path: &Path, descriptions: &[Described<'_>]) -> Result<Review, StoreError> {
    let view = decode(RawLog::open(path)?)?;
    let jobs: Vec<_> = (descriptions.iter())
        .map(|(_, description)| (*description, job_crc(description)))
        .collect();
    let runs: Vec<_> = (view.runs().into_iter())
        .map(|logged| {
            let crc = told_crc(&logged);
            let known = jobs.iter().find(|(_, job)| job.is_some() && *job == crc);
            reviewed(logged, known.map(|(description, _)| *description))
        })
        .collect();
    Ok(Review {
        runs,
        origin: origin(path, &view),
        gaps: gaps(&view),
    })
}

/// Says of each description that no run was made by, that it is not the one that the controller had.
pub fn unused<'a>(
    descriptions: &[Described<'_>],
    runs: impl Iterator<Item = &'a ReviewedRun>,
) -> Vec<String> {
    let had: Vec<_> = runs.filter_map(|run| told_crc(&run.logged)).collect();
    (descriptions.iter())
        .map(|(path, description)| (path, job_crc(description)))
        .filter(|(_, job)| !job.is_some_and(|crc| had.contains(&crc)))
        .map(|(path, job)| {
            format!(
                "{} (CRC {}) is no job that the controller had: its windows are not shown",
                path.display(),
                job.map_or("unknown".to_owned(), hex)
            )
        })
        .collect()
}

/// CRC that a controller tells of a job.
fn job_crc(description: &Description) -> Option<u32> {
    description.plan().ok().map(|blob| Plan::crc_of(&blob))
}

/// CRC of the job of a run, where the log says so.
fn told_crc(logged: &LoggedRun) -> Option<u32> {
    logged.introduced.then_some(logged.hello.job_crc)
}

fn hex(crc: u32) -> String {
    format!("{crc:08X}")
}

fn time(at: SystemTime) -> String {
    // What is older cannot be written in that form; the clock of that host stood wrong.
    if at < UNIX_EPOCH {
        return "before 1970 by the clock of the host".to_owned();
    }
    format_rfc3339_seconds(at).to_string()
}

fn reviewed(logged: LoggedRun, description: Option<&Description>) -> ReviewedRun {
    let hello = &logged.hello;
    let mut about = Vec::new();
    if let Some([first, last]) = logged.heard {
        about.push(format!("heard {} to {}", time(first), time(last)));
    }
    about.push(if logged.introduced {
        format!(
            "bolt {} of pass {}, job CRC {}",
            u32::from(hello.turn.bolt) + 1,
            u32::from(hello.turn.pass) + 1,
            hex(hello.job_crc)
        )
    } else {
        "bolt, pass and job not told".to_owned()
    });
    about.push(match (logged.introduced, logged.boot_known) {
        (true, _) => {
            let [major, minor, patch] = hello.software;
            let boot = hex(hello.boot_id);
            format!("controller boot {boot}, software {major}.{minor}.{patch}")
        }
        (false, true) => format!("controller boot {}, software not told", hex(hello.boot_id)),
        (false, false) => "controller boot and software not told".to_owned(),
    });
    ReviewedRun {
        name: name(&logged),
        job: description
            .filter(|_| logged.introduced)
            .and_then(|description| description.of_turn(hello.turn))
            .map(|description| description.job),
        invented: description.map(|description| description.invented),
        missing: missing(&logged),
        about,
        logged,
    }
}

fn name(logged: &LoggedRun) -> String {
    let job = match (logged.introduced, logged.hello.job.as_str()) {
        (false, _) => "job not told",
        (true, "") => "unnamed job",
        (true, name) => name,
    };
    match logged.number_known {
        true => format!("{job}, run {}", logged.hello.run),
        false => format!("{job}, run not told"),
    }
}

fn missing(logged: &LoggedRun) -> Vec<String> {
    let mut missing = Vec::new();
    if !logged.introduced {
        missing.push(match (logged.boot_known, logged.number_known) {
            (true, _) => format!(
                "the message that says which job, bolt and pass this was; of its number only the last byte was told, {}, the rest is that of the runs beside it",
                logged.hello.run as u8
            ),
            (false, true) => format!(
                "the message that says which job, bolt and pass this was, and of which boot of the controller; of its number only the last byte was told, {}: it may be one of the other runs, or none of them",
                logged.hello.run as u8
            ),
            (false, false) => "everything that says of which run this curve is: it may be of one of the other runs, or of none of them".to_owned(),
        });
    }
    if let Some((name, crc)) = &logged.other_job {
        missing.push(format!(
            "what was asked for, for sure: before the run was summed up the controller told of another job, \"{name}\", CRC {}; the first that it told is shown",
            hex(*crc)
        ));
    }
    if logged.summary_unknown {
        missing.push(
            "the controller summed this run up in a form that this version does not know: read the log with a newer one"
                .to_owned(),
        );
    } else if !logged.summed_up {
        missing.push(
            "the controller never summed this run up, or the log does not hold it: no verdict, no final torque"
                .to_owned(),
        );
    }
    missing.extend(logged.bare_alarms.iter().map(bare_alarm));
    missing.extend(logged.stray_evidence.iter().map(stray_evidence));
    if logged.outcome.curve.is_empty() {
        missing.push("the log holds nothing of its curve".to_owned());
    }
    let backwards = |p: &[CurvePoint]| p[1].time_s < p[0].time_s;
    if logged.outcome.curve.windows(2).any(backwards) {
        missing.push(
            "its curve goes back in time: points of another run may be among them".to_owned(),
        );
    }
    if logged.points_left_out > 0 {
        missing.push(format!(
            "{} points of the curve were left out while the link was slow or down",
            logged.points_left_out
        ));
    }
    missing
}

/// An alarm of which no more is known.
fn bare_alarm(alarm: &Alarm) -> String {
    let what = match alarm.kind() {
        Some(kind) => format!("alarm \"{}\"", finding_label(kind)),
        None => format!(
            "alarm number {}, which this version does not know (read the log with a newer one)",
            alarm.code
        ),
    };
    format!(
        "{what} at {:.1}°, torque {}: its evidence is not in the log",
        alarm.angle_rad.to_degrees(),
        torque_words(alarm.kind(), alarm.torque_nm)
    )
}

/// Evidence of an alarm that never came.
fn stray_evidence(evidence: &Evidence) -> String {
    let likely = (evidence.likely.and_then(Cause::from_wire_code))
        .map_or(String::new(), |likely| {
            format!(", most likely {}", cause(likely))
        });
    let quantity = Quantity::from_wire_code(evidence.quantity).map_or("a figure", quantity_name);
    format!(
        "evidence without its alarm: {quantity} {:.2} against {:.2}{likely}",
        evidence.value, evidence.limit
    )
}

fn origin(path: &Path, view: &View) -> Vec<String> {
    let digest: String = (view.digest.sha256.iter())
        .map(|byte| format!("{byte:02x}"))
        .collect();
    let mut origin = vec![format!(
        "{}: {} bytes, SHA-256 {digest}",
        path.display(),
        view.digest.bytes
    )];
    origin.extend(view.entries.iter().filter_map(|entry| match &entry.said {
        Said::Connected(source) => Some(format!("{} link up: {source}", time(entry.at))),
        _ => None,
    }));
    origin
}

/// What is wrong with a log as a whole.
fn gaps(view: &View) -> Vec<String> {
    let mut gaps = Vec::new();
    let mut unknown: Vec<(u8, u32, String)> = Vec::new();
    for entry in &view.entries {
        match &entry.said {
            Said::Lost(reason) => gaps.push(format!("{} link lost: {reason}", time(entry.at))),
            Said::NotUnderstood { kind, error, .. } => {
                match unknown.iter_mut().find(|(k, ..)| k == kind) {
                    Some((_, times, _)) => *times += 1,
                    None => unknown.push((*kind, 1, error.to_string())),
                }
            }
            _ => {}
        }
    }
    gaps.extend(unknown.iter().map(|(_, times, error)| {
        format!("{times} messages were not understood: {error}; their bytes are kept in the log")
    }));
    let counts = view.counts;
    if counts.garbled > 0 {
        gaps.push(format!("{} frames came garbled", counts.garbled));
    }
    if counts.lost > 0 {
        gaps.push(format!("{} frames never came", counts.lost));
    }
    gaps.extend(view.torn.map(torn_end));
    gaps
}

fn torn_end(torn: Torn) -> String {
    let Torn { offset, bytes, .. } = torn;
    if torn.cut_short {
        format!(
            "the log ends within the record at byte {offset}: its {bytes} bytes were not read; either it is still being recorded (review it again when that has ended), or the recording was cut off and may lack further alarms and runs (look for another copy or the controller's own record)"
        )
    } else {
        format!(
            "the record at byte {offset} is damaged: the {bytes} bytes from there to the end were not read and may hold further alarms and runs; keep the file, and look for another copy or the controller's own record"
        )
    }
}
