//! `bolting-host replay`: recordings through the crate, a verdict for each.

use std::io::{IsTerminal, Read};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use bolting_host::description::Description;
use bolting_host::page::PageContext;
use bolting_host::replay::{Report, replay};
use bolting_host::samples::{BadRows, Fault, Recording, SamplesError};
use bolting_monitor::procedure::Turn;
use clap::error::ErrorKind;
use clap::{Args, CommandFactory};
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use rayon::prelude::*;

use super::error::{CliError, DATA, NOT_ACCEPTED};
use super::inputs::{self, Input};
use super::run::{FileArgs, Run};
use super::{out, table};

const EXAMPLES: &str = "\
Examples:
  bolting-host replay --bolt bolt.toml run-0001.csv
  bolting-host replay --json runs/ > verdicts.jsonl
  bolting-host replay runs/ --html report.html --curves curves
  generate-samples | bolting-host replay --bolt bolt.toml -

Exit code 0: every run accepted, no alarm. 1: some verdict is not \"accepted\" or an alarm was raised.
3: a file could not be used; the others are still replayed.
A verdict is an aid for the operator, not a calibrated verification of the bolt.";

/// Replays recordings through the monitor and prints a verdict for each.
#[derive(Args)]
#[command(after_help = EXAMPLES)]
pub struct ReplayArgs {
    /// Recordings (CSV), folders of them, or - for standard input
    #[arg(required = true, value_name = "SAMPLES.csv|FOLDER|-")]
    samples: Vec<PathBuf>,
    /// Description of bolt, tool and arm; in a folder a run's own NAME.toml goes first
    #[arg(long, value_name = "BOLT.toml")]
    bolt: Option<PathBuf>,
    /// URDF to use instead of the one that the description names
    #[arg(long, value_name = "FILE")]
    arm_urdf: Option<PathBuf>,
    /// Which pass of the description the recordings are of, from 1 [default: the only one]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u8).range(1..))]
    pass: Option<u8>,
    /// Recording of free motion from which the torque bias is taken
    #[arg(long, value_name = "FREE.csv")]
    tare: Option<PathBuf>,
    /// Leave out rows that cannot be used, and count them, instead of refusing the file
    #[arg(long)]
    lenient: bool,
    /// Print one JSON object a line instead of a table
    #[arg(long)]
    json: bool,
    /// Runs replayed at a time [default: as many as there are processors]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..))]
    jobs: Option<u16>,
    #[command(flatten)]
    files: FileArgs,
}

/// What is the same for every run.
struct Common {
    bolt: Option<PathBuf>,
    description: Option<Description>,
    tare: Option<Recording>,
    arm_urdf: Option<PathBuf>,
    pass: Option<u8>,
    bad_rows: BadRows,
}

/// Runs the command.
///
/// # Errors
/// When the common description or tare cannot be used, or nothing can be written. A recording that
/// cannot be used is told, and the others go on.
pub fn run(args: &ReplayArgs) -> Result<ExitCode, CliError> {
    let inputs = inputs::find(&args.samples, args.bolt.is_some());
    args.files.spare(named(args, &inputs))?;
    refuse_wrong_use(args, &inputs);
    let bad_rows = if args.lenient {
        BadRows::Skip
    } else {
        BadRows::Refuse
    };
    let urdf = args.arm_urdf.as_deref();
    let common = Common {
        bolt: args.bolt.clone(),
        description: args
            .bolt
            .as_deref()
            .map(|path| Description::load_with(path, urdf))
            .transpose()?,
        tare: args
            .tare
            .as_deref()
            .map(|path| Recording::load(path, bad_rows))
            .transpose()?,
        arm_urdf: args.arm_urdf.clone(),
        pass: args.pass,
        bad_rows,
    };

    for notice in common.tare.iter().flat_map(notices_of) {
        out::notice(&format!("free motion: {notice}"));
    }

    let results = replay_all(inputs, &common, args.jobs);
    let mut runs = Vec::new();
    let mut failed = false;
    for result in results {
        match result {
            Ok(run) => runs.push(run),
            Err(error) => {
                failed = true;
                out::error(&error);
            }
        }
    }
    tell_notices(&runs);
    let context = PageContext {
        software_version: env!("CARGO_PKG_VERSION").to_owned(),
        how_samples_ran: "from recordings, through the monitor in this program".to_owned(),
        notes: notes(&runs),
        ..PageContext::default()
    };
    for run in &mut runs {
        run.read.extend(args.tare.clone());
    }
    args.files.write("Replayed recordings", &runs, &context)?;
    out::data(&if args.json {
        json_lines(&runs)?
    } else {
        table::for_people(&runs)
    })?;
    Ok(if failed {
        ExitCode::from(DATA)
    } else if runs.iter().all(Run::is_accepted) {
        ExitCode::SUCCESS
    } else {
        ExitCode::from(NOT_ACCEPTED)
    })
}

/// The files that are read, as far as they are known before any is.
fn named<'a>(
    args: &'a ReplayArgs,
    inputs: &'a [Result<Input, CliError>],
) -> impl Iterator<Item = &'a Path> {
    let of_runs = (inputs.iter().flatten()).flat_map(|input| {
        [Some(&input.path), input.own_description.as_ref()]
            .into_iter()
            .flatten()
    });
    let for_all = [&args.bolt, &args.arm_urdf, &args.tare];
    (args.samples.iter())
        .chain(of_runs)
        .chain(for_all.into_iter().flatten())
        .map(PathBuf::as_path)
}

/// Ends the program, as wrong use does, where a recording that was named has no description at all,
/// or standard input would be read twice.
fn refuse_wrong_use(args: &ReplayArgs, inputs: &[Result<Input, CliError>]) {
    let refuse = |kind, message: String| super::Cli::command().error(kind, message).exit();
    if args.samples.iter().filter(|p| inputs::is_stdin(p)).count() > 1 {
        refuse(
            ErrorKind::ArgumentConflict,
            "standard input (-) can be read only once".to_owned(),
        );
    }
    let bare = inputs.iter().flatten().find(|input| {
        input.own_description.is_none() && args.bolt.is_none() && args.samples.contains(&input.path)
    });
    if let Some(bare) = bare {
        refuse(
            ErrorKind::MissingRequiredArgument,
            CliError::NoDescription(bare.path.clone()).to_string(),
        );
    }
}

fn replay_all(
    inputs: Vec<Result<Input, CliError>>,
    common: &Common,
    jobs: Option<u16>,
) -> Vec<Result<Run, CliError>> {
    let bar = ProgressBar::with_draw_target(Some(inputs.len() as u64), draw_target(inputs.len()));
    if let Ok(style) = ProgressStyle::with_template("{bar:40} {pos}/{len} runs, {eta} left") {
        bar.set_style(style);
    }
    let replay_each = || {
        inputs
            .into_par_iter()
            .map(|input| {
                let result = input.and_then(|input| replay_one(&input, common));
                bar.inc(1);
                result
            })
            .collect()
    };
    let pool = jobs.map(|jobs| {
        rayon::ThreadPoolBuilder::new()
            .num_threads(usize::from(jobs))
            .build()
    });
    let results = match pool {
        Some(Ok(pool)) => pool.install(replay_each),
        Some(Err(error)) => {
            out::notice(&format!("--jobs is left out: {error}"));
            replay_each()
        }
        None => replay_each(),
    };
    bar.finish_and_clear();
    results
}

fn draw_target(runs: usize) -> ProgressDrawTarget {
    if runs > 1 && std::io::stderr().is_terminal() {
        ProgressDrawTarget::stderr()
    } else {
        ProgressDrawTarget::hidden()
    }
}

fn replay_one(input: &Input, common: &Common) -> Result<Run, CliError> {
    let own = input
        .own_description
        .as_deref()
        .map(|path| Description::load_with(path, common.arm_urdf.as_deref()))
        .transpose()?;
    let description = own
        .as_ref()
        .or(common.description.as_ref())
        .ok_or_else(|| CliError::NoDescription(input.path.clone()))?;
    let description = &of_pass(description, common.pass, &input.path)?;
    let recording = read(&input.path, common.bad_rows)?;
    let replayed = replay(description, common.tare.as_ref(), &recording).map_err(|source| {
        CliError::Replay {
            path: input.path.clone(),
            source,
        }
    })?;
    let notices = [
        description.notices.clone(),
        notices_of(&recording),
        replayed.notices,
    ]
    .concat();
    Ok(Run {
        name: input.run.clone(),
        job: Some(description.job.clone()),
        invented: Some(description.invented),
        outcome: replayed.outcome,
        skipped_rows: recording.skipped,
        notices,
        about: Vec::new(),
        missing: Vec::new(),
        bare_alarms: Vec::new(),
        summed_up: true,
        read: [
            Some(input.path.clone()),
            input.own_description.clone(),
            common.bolt.clone(),
            description.arm_file.clone(),
        ]
        .into_iter()
        .flatten()
        .collect(),
    })
}

/// The windows of one pass. Which one cannot be guessed: a wrong window makes a wrong verdict.
fn of_pass(
    description: &Description,
    pass: Option<u8>,
    path: &Path,
) -> Result<Description, CliError> {
    let passes = description.procedure.passes.len();
    if pass.is_some_and(|n| usize::from(n) > passes) {
        return Err(CliError::NoPass {
            path: path.to_owned(),
            passes,
        });
    }
    pass.map(|n| n - 1)
        .or((passes == 1).then_some(0))
        .and_then(|pass| description.of_turn(Turn { pass, bolt: 0 }))
        .ok_or_else(|| CliError::WhichPass {
            path: path.to_owned(),
            passes,
        })
}

/// What the user should know of a recording.
fn notices_of(recording: &Recording) -> Vec<String> {
    let mut notices = recording.notices.clone();
    if recording.skipped > 0 {
        let faults: Vec<_> = recording
            .faults
            .iter()
            .map(|(line, fault)| format!("line {line}: {fault}"))
            .collect();
        notices.push(format!(
            "{} rows were left out, the first of them: {}",
            recording.skipped,
            faults.join("; ")
        ));
    }
    notices
}

fn read(path: &Path, bad_rows: BadRows) -> Result<Recording, SamplesError> {
    if !inputs::is_stdin(path) {
        return Recording::load(path, bad_rows);
    }
    let path = Path::new("standard input");
    let mut bytes = Vec::new();
    std::io::stdin()
        .read_to_end(&mut bytes)
        .map_err(|source| SamplesError {
            path: path.to_owned(),
            line: None,
            fault: Fault::Unreadable(source.to_string()),
        })?;
    Recording::parse(&bytes, path, bad_rows)
}

fn notes(runs: &[Run]) -> Vec<String> {
    (runs.iter())
        .flat_map(|run| (run.notices.iter()).map(|notice| format!("{}: {notice}", run.name)))
        .collect()
}

/// Tells each notice once, with the first run that gave it.
fn tell_notices(runs: &[Run]) {
    let mut told: Vec<(&str, &str, usize)> = Vec::new();
    for run in runs {
        for notice in &run.notices {
            match told.iter_mut().find(|(text, _, _)| text == notice) {
                Some((_, _, more)) => *more += 1,
                None => told.push((notice, &run.name, 0)),
            }
        }
    }
    for (notice, run, more) in told {
        match more {
            0 => out::notice(&format!("{run}: {notice}")),
            _ => out::notice(&format!("{run} and {more} more: {notice}")),
        }
    }
}

fn json_lines(runs: &[Run]) -> std::io::Result<String> {
    let mut lines = String::new();
    for run in runs {
        let report = Report::new(&run.name, &run.outcome, run.skipped_rows, run.invented);
        lines += &serde_json::to_string(&report)?;
        lines.push('\n');
    }
    Ok(lines)
}
