//! A recorded log, read back: what a controller said of each run, what of it is missing, and where the
//! record comes from.

use std::fs;
use std::path::{Path, PathBuf};
use std::time::SystemTime;

use bolting_monitor::detect::{Cause, Quantity};
use bolting_monitor::procedure::BoltJob;
use bolting_monitor::wire::{Alarm, Evidence, Plan};
use humantime::format_rfc3339_seconds;
use sha2::{Digest, Sha256};

use crate::description::Description;
use crate::replay::CurvePoint;
use crate::store::{LoggedRun, RawLog, Said, StoreError, View, decode};
use crate::words::{cause, finding_label, quantity_name};

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
            let crc = logged.hello.job_crc;
            let known = jobs.iter().find(|(_, job)| *job == Some(crc));
            reviewed(logged, known.map(|(description, _)| *description))
        })
        .collect();
    Ok(Review {
        runs,
        origin: origin(path, &view)?,
        gaps: gaps(&view),
    })
}

/// Says of each description that no run was made by, that it is not the one that the controller had.
pub fn unused<'a>(
    descriptions: &[Described<'_>],
    runs: impl Iterator<Item = &'a ReviewedRun>,
) -> Vec<String> {
    let had: Vec<_> = runs.map(|run| run.logged.hello.job_crc).collect();
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

fn hex(crc: u32) -> String {
    format!("{crc:08X}")
}

fn time(at: SystemTime) -> String {
    format_rfc3339_seconds(at).to_string()
}

fn reviewed(logged: LoggedRun, description: Option<&Description>) -> ReviewedRun {
    let hello = &logged.hello;
    let job_name = match hello.job.as_str() {
        "" => "unnamed job",
        name => name,
    };
    let mut about = Vec::new();
    if let Some([first, last]) = logged.heard {
        about.push(format!("heard {} to {}", time(first), time(last)));
    }
    about.push(format!(
        "bolt {} of pass {}, job CRC {}",
        u32::from(hello.turn.bolt) + 1,
        u32::from(hello.turn.pass) + 1,
        hex(hello.job_crc)
    ));
    let [major, minor, patch] = hello.software;
    about.push(format!(
        "controller boot {}, software {major}.{minor}.{patch}",
        hex(hello.boot_id)
    ));
    ReviewedRun {
        name: format!("{job_name}, run {}", hello.run),
        job: description
            .and_then(|description| description.of_turn(hello.turn))
            .map(|description| description.job),
        invented: description.map(|description| description.invented),
        missing: missing(&logged),
        about,
        logged,
    }
}

fn missing(logged: &LoggedRun) -> Vec<String> {
    let mut missing = Vec::new();
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
            "its curve goes back in time: points of the run before may be among them".to_owned(),
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
        "{what} at {:.1}° with {:.2} N·m: its evidence is not in the log",
        alarm.angle_rad.to_degrees(),
        alarm.torque_nm
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

fn origin(path: &Path, view: &View) -> Result<Vec<String>, StoreError> {
    let bytes = fs::read(path).map_err(|error| StoreError::Io {
        path: PathBuf::from(path),
        what: "read",
        error,
    })?;
    let digest: String = (Sha256::digest(&bytes).iter())
        .map(|byte| format!("{byte:02x}"))
        .collect();
    let mut origin = vec![format!(
        "{}: {} bytes, SHA-256 {digest}",
        path.display(),
        bytes.len()
    )];
    origin.extend(view.entries.iter().filter_map(|entry| match &entry.said {
        Said::Connected(source) => Some(format!("{} link up: {source}", time(entry.at))),
        _ => None,
    }));
    Ok(origin)
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
    if let Some(torn) = view.torn {
        gaps.push(format!(
            "the record at byte {} is torn or damaged: the {} bytes from there to the end were not read and may hold further alarms and runs; keep the file, and look for another copy or the controller's own record",
            torn.offset, torn.bytes
        ));
    }
    gaps
}
