//! A run as the commands show it, and the files that are made of it.

use std::path::PathBuf;

use bolting_host::page::{PageContext, PageFinding, PageRun, render};
use bolting_host::replay::{CurvePoint, Outcome};
use bolting_host::words::finding_label;
use bolting_monitor::procedure::{BoltJob, Verdict};
use bolting_monitor::wire::Alarm;
use clap::Args;

use super::error::CliError;
use super::out;

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
    /// Refuses to write the report over one of these files, or over any log.
    ///
    /// # Errors
    /// The file of `--html` is one of them.
    pub fn spare(&self, inputs: &[PathBuf]) -> Result<(), CliError> {
        let Some(path) = &self.html else {
            return Ok(());
        };
        let same = |input: &PathBuf| {
            input == path
                || matches!((input.canonicalize(), path.canonicalize()), (Ok(a), Ok(b)) if a == b)
        };
        let recorded = path
            .extension()
            .is_some_and(|e| e == "csv" || e == "wirelog");
        if recorded || inputs.iter().any(same) {
            return Err(CliError::Overwrites(path.clone()));
        }
        Ok(())
    }

    /// Writes what was asked for; `context` is what the report says of itself.
    ///
    /// # Errors
    /// A file cannot be written.
    pub fn write(&self, title: &str, runs: &[Run], context: &PageContext) -> Result<(), CliError> {
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
        for (index, run) in runs.iter().enumerate() {
            let name = file_name(&run.name);
            let taken = runs[..index].iter().any(|r| file_name(&r.name) == name);
            let name = if taken {
                format!("{name}-{}.curve.csv", index + 1)
            } else {
                format!("{name}.curve.csv")
            };
            out::file(&folder.join(name), &csv(&run.outcome.curve)?)?;
        }
        Ok(())
    }
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
        torque_nm: Some(alarm.torque_nm.into()),
        evidence: format!("At {angle_deg:.1}°: its evidence is not in the log."),
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
