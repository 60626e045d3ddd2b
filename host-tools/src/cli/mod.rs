//! The command line: standard output carries data only, standard error the talk.

mod calibrate;
mod constants;
mod describe;
mod error;
mod forecast;
mod inputs;
mod out;
mod plan;
mod replay;
mod review;
mod rig;
mod run;
mod spare;
mod table;

use std::process::ExitCode;

use bolting_host::simulate::{self, cli::SimulateError};
use bolting_host::{campaign, demo, record};
use clap::{Parser, Subcommand};

use error::CliError;

const EXIT_CODES: &str = "\
Exit codes:
  0  every run was accepted, or there was nothing to judge
  1  it ran, but a verdict is not \"accepted\", an alarm was raised, or a rehearsal did not pass
  2  wrong use of the command line
  3  bad or damaged data
  4  a link or device failed
  5  the store failed, or a file could not be written";

/// Host tools of bolting-monitor: bolt torque and thread findings from a manipulator's samples
#[derive(Parser)]
#[command(version, after_help = EXIT_CODES)]
struct Cli {
    #[command(flatten)]
    color: colorchoice_clap::Color,
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    Replay(replay::ReplayArgs),
    Review(review::ReviewArgs),
    Describe(describe::DescribeArgs),
    Forecast(forecast::ForecastArgs),
    Calibrate(calibrate::CalibrateArgs),
    Constants(constants::ConstantsArgs),
    Plan(plan::PlanArgs),
    Rig(rig::RigArgs),
    Simulate(simulate::cli::SimulateArgs),
    /// Record what a controller sends, from a serial port, TCP or standard input; survives unplugging
    Record(record::RecordArgs),
    /// Show the main job on four simulated, invented bolts: table, log and report
    Demo(demo::DemoArgs),
    Campaign(campaign::cli::CampaignArgs),
}

/// Runs the command line.
pub fn main() -> ExitCode {
    let cli = Cli::parse();
    cli.color.write_global();
    let done = |_| ExitCode::SUCCESS;
    let ended = match &cli.command {
        Command::Replay(args) => replay::run(args),
        Command::Review(args) => review::run(args),
        Command::Describe(args) => describe::run(args),
        Command::Forecast(args) => forecast::run(args),
        Command::Calibrate(args) => calibrate::run(args),
        Command::Constants(args) => constants::run(args),
        Command::Plan(args) => plan::run(args),
        Command::Rig(args) => rig::run(args),
        Command::Simulate(args) => simulated(args),
        Command::Record(args) => record::run(args).map_err(CliError::from).map(done),
        Command::Demo(args) => demo::run(args).map_err(CliError::from).map(done),
        Command::Campaign(args) => out::unless_gone(campaign::cli::run(args))
            .map_err(CliError::from)
            .map(done),
    };
    ended.unwrap_or_else(|error| {
        out::error(&error);
        error.exit_code()
    })
}

fn simulated(args: &simulate::cli::SimulateArgs) -> Result<ExitCode, CliError> {
    match simulate::cli::run(args) {
        Err(SimulateError::Output(error)) => out::unless_gone(Err(error))?,
        done => done?,
    }
    Ok(ExitCode::SUCCESS)
}
