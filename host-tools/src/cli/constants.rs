//! `bolting-host constants`: a checked description as Rust source for firmware.

use std::path::PathBuf;
use std::process::ExitCode;

use bolting_host::constant::rust_constant;
use bolting_host::description::Description;
use clap::{Args, ValueEnum};

use super::error::CliError;
use super::out;

const EXAMPLES: &str = "\
Example:
  bolting-host constants bolt.toml > src/built_in.rs

The bytes of ARM and BOLT are postcard: read them with postcard::from_bytes::<ArmDescription> and
::<BoltJob>. To load bolt, arm and passes as one checked blob, use bolting-host plan.";

/// Prints a description as Rust constants, for firmware that carries arm and bolt built in.
#[derive(Args)]
#[command(after_help = EXAMPLES)]
pub struct ConstantsArgs {
    /// The description
    #[arg(value_name = "BOLT.toml")]
    bolt: PathBuf,
    /// URDF to use instead of the one that the description names
    #[arg(long, value_name = "FILE")]
    arm_urdf: Option<PathBuf>,
    /// Only one of the two
    #[arg(long, value_enum)]
    only: Option<Part>,
}

#[derive(Clone, Copy, PartialEq, ValueEnum)]
enum Part {
    /// The arm with its tool
    Arm,
    /// The bolt and how it is turned
    Bolt,
}

/// Runs the command.
///
/// # Errors
/// When the description cannot be used, or lacks the arm that was asked for.
pub fn run(args: &ConstantsArgs) -> Result<ExitCode, CliError> {
    let Description {
        job, arm, notices, ..
    } = Description::load_with(&args.bolt, args.arm_urdf.as_deref())?;
    notices.iter().for_each(out::notice);
    let bytes = |error: postcard::Error| CliError::Bytes(error.to_string());
    let mut text = String::new();
    match arm {
        _ if args.only == Some(Part::Bolt) => {}
        Some(arm) => {
            let about = format!(
                "`ArmDescription` of {} joints as postcard bytes.",
                arm.joints.len()
            );
            text += &rust_constant("ARM", &about, &arm).map_err(bytes)?;
        }
        None if args.only == Some(Part::Arm) => return Err(CliError::NoArm(args.bolt.clone())),
        None => {}
    }
    if args.only != Some(Part::Arm) {
        let about = format!("`BoltJob` \"{}\" as postcard bytes.", job.name);
        text += &rust_constant("BOLT", &about, &job).map_err(bytes)?;
    }
    out::data(&text)?;
    Ok(ExitCode::SUCCESS)
}
