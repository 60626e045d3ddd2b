//! `bolting-host review`: what a recorded log tells, run by run.

use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::time::SystemTime;

use bolting_host::description::Description;
use bolting_host::page::PageContext;
use bolting_host::replay::Report;
use bolting_host::review::{Described, Review, ReviewedRun, review, unused};
use bolting_host::words::observable_nm;
use clap::Args;
use serde::Serialize;

use super::error::{CliError, DATA, NOT_ACCEPTED};
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
Exit code 0: every run accepted, no alarm, record whole. 1: not so. 3: a file that is no log, the others are
still told; or a bad description. 5: a file could not be written.";

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
    /// What nobody told is null.
    boot_id: Option<u32>,
    run_number: Option<u32>,
    /// The last byte of the number, which every alarm and summary tells.
    run_number_low_byte: Option<u8>,
    job: Option<&'a str>,
    job_crc: Option<u32>,
    pass: Option<u32>,
    bolt: Option<u32>,
    summed_up: bool,
    bare_alarms: Vec<BareAlarm>,
    missing: &'a [String],
}

/// An alarm of which no more than the alarm was received; `kind` is null where this version does not know
/// its number.
#[derive(Serialize)]
struct BareAlarm {
    number: u8,
    kind: Option<&'static str>,
    /// Null where it is no figure.
    angle_rad: f32,
    /// Null where it was not observable.
    torque_nm: Option<f32>,
}

/// What is missing from a log as a whole: a line of its own behind the log's runs.
#[derive(Serialize)]
struct LogGaps<'a> {
    log: &'a str,
    gaps: Vec<String>,
}

/// Runs the command.
///
/// # Errors
/// A description has mistakes, a file is no log or cannot be read, or nothing can be written.
pub fn run(args: &ReviewArgs) -> Result<ExitCode, CliError> {
    let inputs = || (args.logs.iter().chain(&args.bolt)).map(PathBuf::as_path);
    args.files.spare(inputs())?;
    let descriptions = (args.bolt.iter())
        .map(|path| Ok((path.as_path(), Description::load(path)?)))
        .collect::<Result<Vec<_>, CliError>>()?;
    let urdfs = descriptions.iter().filter_map(|(_, d)| d.arm_file.clone());
    let read_for_all: Vec<_> = inputs().map(Path::to_owned).chain(urdfs).collect();
    let described: Vec<_> = (descriptions.iter())
        .map(|(path, description)| (*path, description))
        .collect();
    let (mut told, mut lines, mut notes) = (Vec::new(), String::new(), Vec::new());
    let (mut whole, mut failed) = (true, false);
    for path in &args.logs {
        let name = path.display().to_string();
        let Review { runs, origin, gaps } = match read(path, &described) {
            Ok(review) => review,
            Err(error) => {
                failed = true;
                out::error(&error);
                continue;
            }
        };
        gaps.iter()
            .for_each(|gap| out::notice(&format!("{name}: {gap}")));
        if runs.is_empty() {
            out::notice(&format!("{name}: tells of no run"));
        }
        whole &= gaps.is_empty();
        notes.extend(origin);
        notes.extend(gaps.iter().map(|gap| format!("{name}: {gap}")));
        for run in &runs {
            lines += &line(&json(run, name.clone()))?;
        }
        if !gaps.is_empty() {
            lines += &line(&LogGaps { log: &name, gaps })?;
        }
        told.extend(runs);
    }
    for text in unused(&described, told.iter()) {
        out::notice(&text);
        notes.push(text);
    }
    args.files
        .spare(read_for_all.iter().map(PathBuf::as_path))?;
    let mut runs: Vec<_> = told.into_iter().map(shown).collect();
    for run in &mut runs {
        run.read.clone_from(&read_for_all);
    }
    let context = PageContext {
        software_version: env!("CARGO_PKG_VERSION").to_owned(),
        generated_at: humantime::format_rfc3339_seconds(SystemTime::now()).to_string(),
        how_samples_ran: "on the controller, as its log tells".to_owned(),
        notes,
        sign_off: true,
    };
    args.files.write("Bolting record", &runs, &context)?;
    out::data(&if args.json {
        lines
    } else {
        table::for_people(&runs)
    })?;
    Ok(if failed {
        ExitCode::from(DATA)
    } else if whole && runs.iter().all(Run::is_accepted) {
        ExitCode::SUCCESS
    } else {
        ExitCode::from(NOT_ACCEPTED)
    })
}

fn read(path: &Path, described: &[Described<'_>]) -> Result<Review, CliError> {
    if path.is_dir() {
        return Err(CliError::LogFolder(path.to_owned()));
    }
    Ok(review(path, described)?)
}

fn line(value: &impl Serialize) -> Result<String, CliError> {
    let text = serde_json::to_string(value).map_err(|e| CliError::Bytes(e.to_string()))?;
    Ok(text + "\n")
}

fn json(run: &ReviewedRun, log: String) -> LoggedReport<'_> {
    let logged = &run.logged;
    let hello = &logged.hello;
    let told = logged.introduced;
    LoggedReport {
        report: {
            let report = Report::new(&run.name, &run.logged.outcome, 0, run.invented);
            if run.logged.summed_up {
                report
            } else {
                report.never_summed_up()
            }
        },
        log,
        boot_id: logged.boot_known.then_some(hello.boot_id),
        run_number: told.then_some(hello.run),
        run_number_low_byte: logged.number_known.then_some(hello.run as u8),
        job: told.then_some(hello.job.as_str()),
        job_crc: told.then_some(hello.job_crc),
        pass: told.then_some(u32::from(hello.turn.pass) + 1),
        bolt: told.then_some(u32::from(hello.turn.bolt) + 1),
        summed_up: logged.summed_up,
        bare_alarms: (logged.bare_alarms.iter())
            .map(|alarm| BareAlarm {
                number: alarm.code,
                kind: alarm.kind().map(|kind| kind.name()),
                angle_rad: alarm.angle_rad,
                torque_nm: observable_nm(alarm.kind(), alarm.torque_nm),
            })
            .collect(),
        missing: &run.missing,
    }
}

fn shown(run: ReviewedRun) -> Run {
    Run {
        name: run.name,
        job: run.job,
        invented: run.invented,
        outcome: run.logged.outcome,
        skipped_rows: 0,
        notices: Vec::new(),
        about: run.about,
        missing: run.missing,
        bare_alarms: run.logged.bare_alarms,
        summed_up: run.logged.summed_up,
        read: Vec::new(),
    }
}
