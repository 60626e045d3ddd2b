//! `bolting-host plan`: the blob that a controller loads.

use std::path::PathBuf;
use std::process::ExitCode;

use bolting_host::description::Description;
use clap::Args;

use super::error::CliError;
use super::out;
use super::spare::spare_recordings;

const EXAMPLES: &str = "\
Example:
  bolting-host plan bolt.toml --out bolt.plan

The controller checks the blob as this command does and refuses one that is damaged or of another
version. A computed or stated torque is an aid: the joint's approved procedure and licensed practice
decide.";

/// Compiles a description to the blob that a controller loads: bolt, arm and passes.
#[derive(Args)]
#[command(after_help = EXAMPLES)]
pub struct PlanArgs {
    /// The description
    #[arg(value_name = "BOLT.toml")]
    bolt: PathBuf,
    /// URDF to use instead of the one that the description names
    #[arg(long, value_name = "FILE")]
    arm_urdf: Option<PathBuf>,
    /// Where to write the blob
    #[arg(long, value_name = "FILE")]
    out: PathBuf,
}

/// Runs the command.
///
/// # Errors
/// When the description has mistakes, or the file cannot be written.
pub fn run(args: &PlanArgs) -> Result<ExitCode, CliError> {
    let description = Description::load_with(&args.bolt, args.arm_urdf.as_deref())?;
    let inputs = description.arm_file.as_deref();
    spare_recordings(&args.out, inputs.into_iter().chain([args.bolt.as_path()]))?;
    description.notices.iter().for_each(out::notice);
    let blob = description
        .plan()
        .map_err(|error| CliError::Bytes(error.to_string()))?;
    out::file(&args.out, &blob)?;
    out::notice(&format!(
        "{}: {} bytes, {} passes over {} bolts",
        args.out.display(),
        blob.len(),
        description.procedure.passes.len(),
        description.procedure.bolts
    ));
    Ok(ExitCode::SUCCESS)
}
