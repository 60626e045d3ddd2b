//! `bolting-host describe`: what a description was read as.

use std::path::PathBuf;
use std::process::ExitCode;

use bolting_host::description::listing;
use clap::Args;
use comfy_table::{Table, presets};

use super::error::CliError;
use super::{inputs, out};

const EXAMPLES: &str = "\
Example:
  bolting-host describe bolt.toml

Exit code 3: the description has mistakes; all of them are told.";

/// Checks a description and prints every figure as it is used, with unit and origin.
#[derive(Args)]
#[command(after_help = EXAMPLES)]
pub struct DescribeArgs {
    /// The description
    #[arg(value_name = "BOLT.toml")]
    bolt: PathBuf,
    /// URDF to use instead of the one that the description names
    #[arg(long, value_name = "FILE")]
    arm_urdf: Option<PathBuf>,
}

/// Runs the command.
///
/// # Errors
/// When the description has mistakes, or nothing can be written.
pub fn run(args: &DescribeArgs) -> Result<ExitCode, CliError> {
    let (description, stated) = inputs::described(&args.bolt, args.arm_urdf.as_deref())?;
    description.notices.iter().for_each(out::notice);
    let mut table = Table::new();
    table
        .load_style(presets::NOTHING)
        .set_header(["key", "read as", "from"]);
    for entry in listing(&description, &stated) {
        table.add_row([
            entry.key.as_str(),
            &entry.value,
            entry.default.unwrap_or("file"),
        ]);
    }
    out::data(&format!("{}\n", table.trim_fmt()))?;
    Ok(ExitCode::SUCCESS)
}
