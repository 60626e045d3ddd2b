//! `bolting-host review`: what a recorded log tells, run by run.

use std::path::PathBuf;
use std::process::ExitCode;

use bolting_host::description::Description;
use bolting_host::page::PageContext;
use bolting_host::replay::Report;
use bolting_host::review::{Review, ReviewedRun, review};
use clap::Args;
use serde::Serialize;

use super::error::{CliError, NOT_ACCEPTED};
use super::run::{FileArgs, Run};
use super::{out, table};

const EXAMPLES: &str = "\
Examples:
  bolting-host review cell.wirelog
  bolting-host review cell.wirelog --bolt flange.toml --html report.html --curves curves
  bolting-host review --json monday.wirelog tuesday.wirelog

Every run is told, also one that was never summed up, and every alarm, also one whose evidence is
missing. With the description that the controller was given, its windows are shown, too. An aid, not a
calibrated verification: a person signs for the bolts.
Exit code 0: every run accepted, no alarm, record whole. 1: not so. 3: a file that is no log.";

/// Tells what recorded logs hold: each run with verdict, torque, angle and alarms, and what is missing
#[derive(Args)]
#[command(after_help = EXAMPLES)]
pub struct ReviewArgs {
    /// Logs that `record` made
    #[arg(required = true, value_name = "LOG")]
    logs: Vec<PathBuf>,
    /// A description that a controller was given; may be given several times
    #[arg(long, value_name = "BOLT.toml")]
    bolt: Vec<PathBuf>,
    /// Print one JSON object a line instead of a table
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    files: FileArgs,
}

/// The JSON form of a run in a log: that of a replayed one, and what the log adds.
#[derive(Serialize)]
struct LoggedReport<'a> {
    #[serde(flatten)]
    report: Report,
    log: String,
    boot_id: u32,
    run_number: u32,
    job: &'a str,
    job_crc: u32,
    pass: u32,
    bolt: u32,
    summed_up: bool,
    missing: &'a [String],
}

/// Runs the command.
///
/// # Errors
/// A description has mistakes, a file is no log or cannot be read, or nothing can be written.
pub fn run(args: &ReviewArgs) -> Result<ExitCode, CliError> {
    let descriptions = (args.bolt.iter())
        .map(|path| Ok((path.as_path(), Description::load(path)?)))
        .collect::<Result<Vec<_>, CliError>>()?;
    let described: Vec<_> = (descriptions.iter())
        .map(|(path, description)| (*path, description))
        .collect();
    let (mut runs, mut lines, mut notes) = (Vec::new(), String::new(), Vec::new());
    let mut whole = true;
    for path in &args.logs {
        let Review {
            runs: told,
            origin,
            gaps,
        } = review(path, &described)?;
        gaps.iter()
            .for_each(|gap| out::notice(&format!("{}: {gap}", path.display())));
        whole &= gaps.is_empty();
        notes.extend(origin);
        notes.extend(gaps);
        for run in &told {
            lines += &serde_json::to_string(&json(run, path.display().to_string()))
                .map_err(|e| CliError::Bytes(e.to_string()))?;
            lines.push('\n');
        }
        runs.extend(told.into_iter().map(shown));
    }
    if runs.is_empty() {
        out::notice(&"the log tells of no run: was anything done up while it was recorded?");
    }
    let context = PageContext {
        software_version: env!("CARGO_PKG_VERSION").to_owned(),
        how_samples_ran: "on the controller, as its log tells".to_owned(),
        notes,
        sign_off: true,
        ..PageContext::default()
    };
    args.files.write("Bolting record", &runs, &context)?;
    out::data(&if args.json {
        lines
    } else {
        table::for_people(&runs)
    })?;
    Ok(if whole && runs.iter().all(Run::is_accepted) {
        ExitCode::SUCCESS
    } else {
        ExitCode::from(NOT_ACCEPTED)
    })
}

fn json(run: &ReviewedRun, log: String) -> LoggedReport<'_> {
    let hello = &run.logged.hello;
    LoggedReport {
        report: Report::new(&run.name, &run.logged.outcome, 0),
        log,
        boot_id: hello.boot_id,
        run_number: hello.run,
        job: hello.job.as_str(),
        job_crc: hello.job_crc,
        pass: u32::from(hello.turn.pass) + 1,
        bolt: u32::from(hello.turn.bolt) + 1,
        summed_up: run.logged.summed_up,
        missing: &run.missing,
    }
}

fn shown(run: ReviewedRun) -> Run {
    Run {
        name: run.name,
        job: run.job,
        outcome: run.logged.outcome,
        skipped_rows: 0,
        notices: Vec::new(),
        about: run.about,
        missing: run.missing,
        summed_up: run.logged.summed_up,
    }
}
