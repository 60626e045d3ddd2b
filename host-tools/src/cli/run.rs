//! A run as the commands show it, and the files that are made of it.

use std::collections::HashSet;
use std::path::{Path, PathBuf};

use bolting_host::page::{PageContext, PageFinding, PageRun, render};
use bolting_host::replay::{CurvePoint, Outcome};
use bolting_host::words::{finding_label, observable_nm, torque_words};
use bolting_monitor::procedure::{BoltJob, Verdict};
use bolting_monitor::wire::Alarm;
use clap::Args;

use super::error::CliError;
use super::out;
use super::spare::{spare, spare_recordings};

/// Ending of a curve's file.
pub const CURVE: &str = ".curve.csv";

/// A run that was replayed, or read in a log.
pub struct Run {
    pub name: String,
    /// What was asked for, where it is known.
    pub job: Option<BoltJob>,
    /// Whether its description says that the scenario is made up; `None` without a description.
    pub invented: Option<bool>,
    pub outcome: Outcome,
    pub skipped_rows: usize,
    pub notices: Vec<String>,
    /// Where it comes from.
    pub about: Vec<String>,
    /// What is missing from its record.
    pub missing: Vec<String>,
    /// Alarms of which no more than the alarm was received.
    pub bare_alarms: Vec<Alarm>,
    /// Whether the monitor summed it up.
    pub summed_up: bool,
    /// Files that were read for it.
    pub read: Vec<PathBuf>,
}

impl Run {
    /// Whether nothing stands against the bolt, and nothing of its record is missing.
    pub fn is_accepted(&self) -> bool {
        self.outcome.summary.verdict == Verdict::Accepted
            && self.outcome.findings.is_empty()
            && self.missing.is_empty()
    }
}

/// Files to make of the runs.
#[derive(Args)]
pub struct FileArgs {
    /// Write a report with curves, figures and alarms, too: one page that needs nothing else
    #[arg(long, value_name = "FILE")]
    html: Option<PathBuf>,
    /// Write each run's torque-angle curve as CSV into this folder, too; made if it is not there
    #[arg(long, value_name = "DIR")]
    curves: Option<PathBuf>,
}

impl FileArgs {
    /// Refuses to write the report over one of these files, or over any recording.
    ///
    /// # Errors
    /// The file of `--html` is one of them.
    pub fn spare<'a>(&self, inputs: impl IntoIterator<Item = &'a Path>) -> Result<(), CliError> {
        match &self.html {
            Some(path) => spare_recordings(path, inputs),
            None => Ok(()),
        }
    }

    /// Writes what was asked for; `context` is what the report says of itself.
    ///
    /// # Errors
    /// A file cannot be written, or is one that was read for a run.
    pub fn write(&self, title: &str, runs: &[Run], context: &PageContext) -> Result<(), CliError> {
        let read = || runs.iter().flat_map(|run| &run.read).map(PathBuf::as_path);
        self.spare(read())?;
        let names = curve_names(runs.iter().map(|run| run.name.as_str()));
        for path in (self.curves.iter()).flat_map(|dir| names.iter().map(|name| dir.join(name))) {
            spare(&path, read())?;
        }
        if let Some(path) = &self.html {
            let shown: Vec<_> = runs.iter().map(page_run).collect();
            out::file(path, render(title, &shown, context).as_bytes())?;
        }
        let Some(folder) = &self.curves else {
            return Ok(());
        };
        std::fs::create_dir_all(folder).map_err(|source| CliError::File {
            path: folder.clone(),
            source,
        })?;
        for (run, name) in runs.iter().zip(names) {
            out::file(&folder.join(name), &csv(&run.outcome.curve)?)?;
        }
        Ok(())
    }
}

/// A file's name for the curve of each run. No two are the same, not even where capitals count for
/// nothing; a run that is alone in its name has it without a number.
fn curve_names<'a>(runs: impl Iterator<Item = &'a str>) -> Vec<String> {
    let plain: Vec<_> = runs.map(file_name).collect();
    let mut taken: HashSet<_> = plain.iter().map(|name| name.to_lowercase()).collect();
    let mut seen = HashSet::new();
    let mut names = Vec::new();
    for (index, mut name) in plain.into_iter().enumerate() {
        if !seen.insert(name.to_lowercase()) {
            let mut free = (index + 1..).map(|n| format!("{name}-{n}"));
            if let Some(free) = free.find(|name| taken.insert(name.to_lowercase())) {
                name = free;
            }
        }
        names.push(name + CURVE);
    }
    names
}

fn page_run(run: &Run) -> PageRun {
    let mut page = PageRun::new(
        &run.name,
        run.job.as_ref(),
        &run.outcome,
        run.invented == Some(true),
    );
    page.about.clone_from(&run.about);
    page.missing.clone_from(&run.missing);
    page.summed_up = run.summed_up;
    page.no_torque = run.outcome.no_torque_words(run.summed_up);
    page.described = run.job.is_some();
    page.findings.extend(run.bare_alarms.iter().map(bare_alarm));
    page
}

/// An alarm of which no more was received. One that this version does not know may stop.
fn bare_alarm(alarm: &Alarm) -> PageFinding {
    let angle_deg = f64::from(alarm.angle_rad).to_degrees();
    PageFinding {
        label: (alarm.kind()).map_or_else(
            || format!("alarm {}", alarm.code),
            |kind| finding_label(kind).to_owned(),
        ),
        stops: alarm.kind().is_none_or(|kind| kind.stops()),
        angle_deg,
        torque_nm: observable_nm(alarm.kind(), alarm.torque_nm).map(f64::from),
        evidence: format!(
            "At {angle_deg:.1}°, torque {}: its evidence is not in the log.",
            torque_words(alarm.kind(), alarm.torque_nm)
        ),
        advice:
            "usual next step: have the bolt judged (common practice; the joint's procedure decides)"
                .to_owned(),
    }
}

/// Letters, digits, dots and dashes only: no name of a job leads out of the folder.
fn file_name(name: &str) -> String {
    let plain = |c: char| {
        if c.is_alphanumeric() || c == '.' {
            c
        } else {
            '-'
        }
    };
    let name: String = name.chars().map(plain).collect();
    let said = |part: &&str| part.chars().any(|c| c != '.');
    let parts: Vec<_> = name.split('-').filter(said).collect();
    match parts.join("-").trim_matches('.') {
        "" => "run".to_owned(),
        name => name.to_owned(),
    }
}

/// The curve, tightening positive; a torque that is not observable is left empty.
fn csv(curve: &[CurvePoint]) -> Result<Vec<u8>, CliError> {
    let mut file = csv::Writer::from_writer(Vec::new());
    let written = file
        .write_record(["time_s", "bolt_angle_rad", "torque_nm", "torque_u_nm"])
        .and_then(|()| {
            curve.iter().try_for_each(|p| {
                let torque = |x: f32| match p.observable && x.is_finite() {
                    true => x.to_string(),
                    false => String::new(),
                };
                file.write_record([
                    p.time_s.to_string(),
                    p.angle_rad.to_string(),
                    torque(p.torque_nm),
                    torque(p.torque_u_nm),
                ])
            })
        });
    written.map_err(|e| CliError::Bytes(e.to_string()))?;
    file.into_inner()
        .map_err(|e| CliError::Bytes(e.to_string()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_becomes_a_file_in_its_folder_whatever_it_says() {
        for (name, file) in [
            ("flange-bolt-1", "flange-bolt-1"),
            ("cell 7 flange, run 3", "cell-7-flange-run-3"),
            ("../../etc/passwd", "etc-passwd"),
            ("..", "run"),
            ("", "run"),
        ] {
            assert_eq!(file_name(name), file);
        }
    }

    #[test]
    fn each_curve_has_a_file_of_its_own() {
        for (runs, files) in [
            (&["x-3", "x", "x"][..], ["x-3", "x", "x-4"]),
            (&["x", "x", "x-2"], ["x", "x-3", "x-2"]),
            (&["x", "X", "x"], ["x", "X-2", "x-3"]),
        ] {
            let expected = files.map(|name| format!("{name}{CURVE}"));
            assert_eq!(curve_names(runs.iter().copied()), expected);
        }
    }

    #[test]
    fn a_torque_that_is_not_observable_is_no_figure_in_a_curve() {
        let point = CurvePoint {
            time_s: 0.5,
            angle_rad: 1.25,
            torque_nm: 20.0,
            torque_u_nm: 0.5,
            observable: true,
        };
        let lost = CurvePoint {
            observable: false,
            ..point
        };
        let text = String::from_utf8(csv(&[point, lost]).expect("a curve")).expect("text");
        assert_eq!(
            text,
            "time_s,bolt_angle_rad,torque_nm,torque_u_nm\n0.5,1.25,20,0.5\n0.5,1.25,,\n"
        );
    }
}
