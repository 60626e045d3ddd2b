//! `bolting-host rig`: a described procedure rehearsed in simulation, before it is used for real.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use bolting_host::rig::{Kept, Options, page, rig, text};
use clap::Args;

use super::error::{CliError, NOT_ACCEPTED};
use super::spare::{spare, spare_recordings};
use super::{inputs, out};

const EXAMPLES: &str = "\
Examples:
  bolting-host rig flange.toml                        figures and what to change, as text
  bolting-host rig bolt.toml --html rehearsal.html    the same as a page as well
  bolting-host rig bolt.toml --count 200 --seed 7     more bolts, others
  bolting-host rig bolt.toml --out runs               also keep every run that went wrong
  bolting-host replay --bolt bolt.toml --pass 1 runs/pass1-sound-0012.csv

For each pass that differs (a group's bolts are alike) sound bolts are drawn as the description leaves them
open, and every fault that can befall them, and run through the monitor that the description makes. The arm
is the one of the URDF, of 6 or 7 joints, stood at bolt_axis.

Exit codes: 0 where in every pass no sound bolt was stopped and enough of them were accepted (--accept), and
no more of the faulty ones went through than allowed (--allow): accepted with nothing said, or turned on where that does harm
until the hand stopped by itself. 1 where not. 3: the description has mistakes, or the arm does not reach the
bolt.

Simulated: it holds the description and its windows against simulated physics, and is no substitute for trials
on a mock-up. An aid, not a safety function; local codes and licensed practice decide.";

/// Rehearses a described procedure in simulation: would description, windows, tool and arm as stated do the
/// job, and what is to be changed?
#[derive(Args)]
#[command(after_help = EXAMPLES)]
pub struct RigArgs {
    /// The description
    #[arg(value_name = "BOLT.toml")]
    bolt: PathBuf,
    /// URDF to use instead of the one that the description names
    #[arg(long, value_name = "FILE")]
    arm_urdf: Option<PathBuf>,
    /// Sound bolts of each pass; with each fault a fifth of that
    #[arg(long, default_value_t = 30, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=100_000))]
    count: u32,
    /// Seed of every draw; another seed gives other bolts
    #[arg(long, default_value_t = 1, value_name = "N")]
    seed: u64,
    /// Samples a second
    #[arg(long, default_value_t = 500, value_name = "HZ", value_parser = clap::value_parser!(u16).range(50..=8000))]
    rate: u16,
    /// Least part of the sound bolts to be accepted in each pass
    #[arg(long, default_value_t = 95.0, value_name = "PERCENT", value_parser = percent)]
    accept: f64,
    /// Largest part of the faulty bolts that may go through, of all passes
    #[arg(long, default_value_t = 15.0, value_name = "PERCENT", value_parser = percent)]
    allow: f64,
    /// One JSON object instead of text
    #[arg(long)]
    json: bool,
    /// Write the rehearsal as one page that needs nothing else, too
    #[arg(long, value_name = "FILE")]
    html: Option<PathBuf>,
    /// Write every run that did not go as it should into this folder, too, as NAME.csv and
    /// NAME.truth.json; made if it is not there
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
}

fn percent(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(x) if (0.0..=100.0).contains(&x) => Ok(x),
        Ok(x) => Err(format!("{x} is no part: give 0 to 100 percent")),
        Err(error) => Err(error.to_string()),
    }
}

/// Runs the command.
///
/// # Errors
/// When the description has mistakes, its arm does not reach the bolt, or nothing can be written.
pub fn run(args: &RigArgs) -> Result<ExitCode, CliError> {
    let (description, stated) = inputs::described(&args.bolt, args.arm_urdf.as_deref())?;
    let read = || {
        let arm = description.arm_file.as_deref();
        arm.into_iter().chain([args.bolt.as_path()])
    };
    if let Some(html) = &args.html {
        spare_recordings(html, read())?;
    }
    description.notices.iter().for_each(out::notice);
    let options = Options {
        sound: args.count as usize,
        each_fault: (args.count as usize).div_ceil(5),
        seed: args.seed,
        rate_hz: f64::from(args.rate),
        accept_percent: args.accept,
        allow_percent: args.allow,
    };
    let mut failed = None;
    let mut keep = |kept: Kept| {
        if let (Some(folder), None) = (&args.out, &failed) {
            failed = write(folder, &kept, read()).err();
        }
    };
    if let Some(folder) = &args.out {
        std::fs::create_dir_all(folder).map_err(|source| CliError::File {
            path: folder.clone(),
            source,
        })?;
    }
    let keep: Option<&mut dyn FnMut(Kept)> = match args.out {
        Some(_) => Some(&mut keep),
        None => None,
    };
    let rehearsal = rig(&description, &stated, &options, keep)?;
    if let Some(error) = failed {
        return Err(error);
    }
    if let Some(path) = &args.html {
        out::file(path, page(&rehearsal).as_bytes())?;
    }
    let mut data = if args.json {
        serde_json::to_string(&rehearsal).map_err(|e| CliError::Bytes(e.to_string()))?
    } else {
        text(&rehearsal, out::width())
    };
    if args.json {
        data.push('\n');
    }
    out::data(&data)?;
    Ok(match rehearsal.passed {
        true => ExitCode::SUCCESS,
        false => ExitCode::from(NOT_ACCEPTED),
    })
}

/// The files of a run, none over what was read.
fn write<'a>(
    folder: &Path,
    kept: &Kept,
    read: impl Iterator<Item = &'a Path> + Clone,
) -> Result<(), CliError> {
    for (ending, content) in [("csv", &kept.csv), ("truth.json", &kept.truth)] {
        let path = folder.join(format!("{}.{ending}", kept.name));
        spare(&path, read.clone())?;
        out::file(&path, content)?;
    }
    Ok(())
}
