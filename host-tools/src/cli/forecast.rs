//! `bolting-host forecast`: what a bolt's run should look like, before it is turned.

use std::path::PathBuf;
use std::process::ExitCode;

use bolting_host::forecast::{expectation, page, text};
use clap::Args;

use super::error::CliError;
use super::spare::spare_recordings;
use super::{inputs, out};

const EXAMPLES: &str = "\
Examples:
  bolting-host forecast bolt.toml                        figures and corridor as text
  bolting-host forecast bolt.toml --html forecast.html   the same as a page as well
  bolting-host forecast flange.toml --pass 2 --json      one object, figures with unit and source

A computed torque is an aid: the joint's approved procedure and licensed practice decide.
Exit code 3: the description has mistakes or is impossible; all of it is told with its line.";

/// Tells what to expect of a bolt before it is turned: every figure with interval, formula and source,
/// and the torque-angle corridor.
#[derive(Args)]
#[command(after_help = EXAMPLES)]
pub struct ForecastArgs {
    /// The description
    #[arg(value_name = "BOLT.toml")]
    bolt: PathBuf,
    /// URDF to use instead of the one that the description names
    #[arg(long, value_name = "FILE")]
    arm_urdf: Option<PathBuf>,
    /// Only this pass of the description, from 1 [default: all of them]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u8).range(1..))]
    pass: Option<u8>,
    /// Write the forecast as one page that needs nothing else, too
    #[arg(long, value_name = "FILE")]
    html: Option<PathBuf>,
    /// One JSON object instead of text
    #[arg(long)]
    json: bool,
}

/// Runs the command.
///
/// # Errors
/// When the description has mistakes or has no such pass, or nothing can be written.
pub fn run(args: &ForecastArgs) -> Result<ExitCode, CliError> {
    let (description, stated) = inputs::described(&args.bolt, args.arm_urdf.as_deref())?;
    if let Some(html) = &args.html {
        let inputs = description.arm_file.as_deref();
        spare_recordings(html, inputs.into_iter().chain([args.bolt.as_path()]))?;
    }
    description.notices.iter().for_each(out::notice);
    let asked = args.pass.map(|n| n - 1);
    let expected = expectation(&description, &stated, asked);
    if expected.passes.is_empty() {
        return Err(CliError::NoPass {
            path: args.bolt.clone(),
            passes: description.procedure.passes.len(),
        });
    }
    if let Some(path) = &args.html {
        out::file(path, page(&expected).as_bytes())?;
    }
    let mut data = if args.json {
        serde_json::to_string(&expected).map_err(|e| CliError::Bytes(e.to_string()))?
    } else {
        text(&expected, out::width())
    };
    if args.json {
        data.push('\n');
    }
    out::data(&data)?;
    Ok(ExitCode::SUCCESS)
}
