//! `bolting-host simulate`: files of simulated runs.

use std::io::Write as _;
use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::campaign::with_fault;
use super::{
    Existing, FaultKind, Mode, Scenario, WriteError, campaign, simulate, write_free, write_run,
};

const EXAMPLES: &str = "\
Examples:
  One sound run with default figures:
    bolting-host simulate --out runs --plain
  Twenty runs of the campaign (half sound, the others with one fault each):
    bolting-host simulate --out runs --count 20 --seed 7
  Ten stripping runs with a powered spindle:
    bolting-host simulate --out runs --count 10 --fault strip --mode spindle
  A minute of free motion, to try `calibrate` on:
    bolting-host simulate --out free --free-motion 60 --plain
  A run of your own; print the keys to start from with --print-scenario:
    bolting-host simulate --print-scenario > mine.toml
    bolting-host simulate --out runs --scenario mine.toml

Each run gives NAME.csv (samples), NAME.toml (description for `replay`) and NAME.truth.json (what
really happened); the folder gets one arm.urdf. The same seed gives the same bytes. Other files of those
names are never written over.";

/// Simulates an arm turning bolts and writes the runs as files.
#[derive(Args, Clone, Debug)]
#[command(after_help = EXAMPLES)]
pub struct SimulateArgs {
    /// Folder for the runs; made if it is not there
    #[arg(long, value_name = "DIR", required_unless_present = "print_scenario")]
    pub out: Option<PathBuf>,
    /// Number of runs
    #[arg(long, default_value_t = 1, value_name = "N")]
    pub count: usize,
    /// Seed of every random draw [default: that of the scenario file, else 1]
    #[arg(long, value_name = "S")]
    pub seed: Option<u64>,
    /// Scenario file instead of the campaign's own draws; runs differ by their seed
    #[arg(long, value_name = "FILE.toml", conflicts_with_all = ["fault", "mode", "plain"])]
    pub scenario: Option<PathBuf>,
    /// Default figures instead of the campaign's own draws (the fault's own are still drawn)
    #[arg(long)]
    pub plain: bool,
    /// Only runs with this fault
    #[arg(long, value_enum)]
    pub fault: Option<FaultKind>,
    /// Only runs turned this way
    #[arg(long, value_enum)]
    pub mode: Option<ModeKind>,
    /// Instead of turning bolts the arms move so long in free air, every joint to and fro, for `calibrate`
    #[arg(long, value_name = "SECONDS", value_parser = seconds)]
    pub free_motion: Option<f64>,
    /// Print the scenario of the first run as TOML instead of running it
    #[arg(long)]
    pub print_scenario: bool,
}

/// Way of turning to ask for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum ModeKind {
    /// Strokes of the arm's last joint
    Wrist,
    /// A powered spindle
    Spindle,
}

/// Why no runs were written.
#[derive(Debug)]
pub enum SimulateError {
    /// The scenario file could not be read.
    Read(PathBuf, std::io::Error),
    /// The scenario file is not a scenario.
    Scenario(PathBuf, Box<toml::de::Error>),
    /// A scenario could not be printed.
    Print(toml::ser::Error),
    /// Standard output could not be written to.
    Output(std::io::Error),
    /// A run could not be written.
    Write(WriteError),
}

impl std::fmt::Display for SimulateError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Read(path, e) => {
                write!(
                    f,
                    "cannot read scenario {}: {e}; check the path given to --scenario",
                    path.display()
                )
            }
            Self::Scenario(path, e) => write!(
                f,
                "{} is not a scenario: {e}\nprint one to start from with: bolting-host simulate --print-scenario",
                path.display()
            ),
            Self::Print(e) => write!(f, "cannot print the scenario as TOML: {e}"),
            Self::Output(e) => write!(f, "cannot write the scenario: {e}"),
            Self::Write(e) => e.fmt(f),
        }
    }
}

impl std::error::Error for SimulateError {}

/// Runs the subcommand. Only `--print-scenario` writes to standard output.
///
/// # Errors
/// When the scenario file is missing or wrong, or a run cannot be written.
pub fn run(args: &SimulateArgs) -> Result<(), SimulateError> {
    let here = PathBuf::from(".");
    let out = args.out.as_ref().unwrap_or(&here);
    let mut index = 0;
    for number in 0..args.count {
        let scenario = match &args.scenario {
            Some(path) => read_scenario(path, args.seed, number)?,
            None if args.plain => plain(args, number),
            None => next_of_campaign(args, &mut index),
        };
        if args.print_scenario {
            let text = toml::to_string(&scenario).map_err(SimulateError::Print)?;
            return std::io::stdout()
                .write_all(text.as_bytes())
                .map_err(SimulateError::Output);
        }
        if let Some(seconds) = args.free_motion {
            let name = format!("free-{:04}", number + 1);
            write_free(out, &name, &scenario, seconds, Existing::Keep)
                .map_err(SimulateError::Write)?;
            eprintln!("{name}: {seconds} s of free motion");
            continue;
        }
        let run = simulate(&scenario);
        let name = format!("run-{:04}", number + 1);
        write_run(out, &name, &scenario, &run, Existing::Keep).map_err(SimulateError::Write)?;
        eprintln!(
            "{name}: {}, {} samples, bolt last turned with {:.2} N·m",
            run.truth.cause,
            run.rows.len(),
            run.truth.final_torque_nm
        );
    }
    Ok(())
}

/// A time that a recording may last, s.
fn seconds(text: &str) -> Result<f64, String> {
    let seconds = text.parse::<f64>().ok();
    seconds
        .filter(|s| (1.0..=3600.0).contains(s))
        .ok_or_else(|| "give a time from 1 to 3600 s".to_owned())
}

/// The first run has the seed that was asked for, else that of the file.
fn read_scenario(
    path: &PathBuf,
    seed: Option<u64>,
    number: usize,
) -> Result<Scenario, SimulateError> {
    let text = std::fs::read_to_string(path).map_err(|e| SimulateError::Read(path.clone(), e))?;
    let mut scenario: Scenario =
        toml::from_str(&text).map_err(|e| SimulateError::Scenario(path.clone(), Box::new(e)))?;
    let first = seed.unwrap_or(scenario.seed);
    scenario.seed = first.wrapping_add(number as u64);
    Ok(scenario)
}

fn seed(args: &SimulateArgs) -> u64 {
    args.seed.unwrap_or(1)
}

fn plain(args: &SimulateArgs, number: usize) -> Scenario {
    let mode = match args.mode {
        None | Some(ModeKind::Wrist) => Mode::default(),
        Some(ModeKind::Spindle) => Mode::spindle(),
    };
    let scenario = Scenario {
        mode,
        seed: seed(args).wrapping_add(number as u64),
        ..Scenario::default()
    };
    with_fault(scenario, args.fault.unwrap_or(FaultKind::None))
}

/// The next scenario of the campaign that is as asked for; one of each combination comes before long.
fn next_of_campaign(args: &SimulateArgs, index: &mut usize) -> Scenario {
    loop {
        let scenario = campaign(seed(args), *index);
        *index += 1;
        let fault = scenario.fault.kind();
        let mode = match scenario.mode {
            Mode::WristStrokes { .. } => ModeKind::Wrist,
            Mode::PoweredSpindle { .. } => ModeKind::Spindle,
        };
        if args.fault.is_none_or(|f| f == fault) && args.mode.is_none_or(|m| m == mode) {
            return scenario;
        }
    }
}

#[cfg(test)]
mod tests {
    use clap::Parser;

    use super::*;

    #[derive(Parser)]
    struct Alone {
        #[command(flatten)]
        simulate: SimulateArgs,
    }

    fn parse(words: &[&str]) -> Result<SimulateArgs, clap::Error> {
        let words = std::iter::once("simulate").chain(words.iter().copied());
        Alone::try_parse_from(words).map(|a| a.simulate)
    }

    #[test]
    fn campaign_is_filtered_as_asked() {
        let args = parse(&["--out", "x", "--fault", "cross-thread", "--mode", "spindle"]).unwrap();
        let mut index = 0;
        for _ in 0..5 {
            let s = next_of_campaign(&args, &mut index);
            assert_eq!(s.fault.kind(), FaultKind::CrossThread);
            assert!(matches!(s.mode, Mode::PoweredSpindle { .. }));
        }
    }

    #[test]
    fn contradicting_arguments_are_refused() {
        assert!(parse(&[]).is_err());
        assert!(parse(&["--print-scenario"]).is_ok());
        assert!(parse(&["--out", "x", "--scenario", "y", "--plain"]).is_err());
    }

    #[test]
    fn a_scenario_has_the_seed_that_is_asked_for_in_its_first_run_too() {
        let mut file = tempfile::NamedTempFile::new().unwrap();
        file.write_all(b"seed = 40\n").unwrap();
        let path = file.path().to_owned();
        for (asked, number, seed) in [
            (None, 0, 40),
            (None, 2, 42),
            (Some(7), 0, 7),
            (Some(7), 2, 9),
        ] {
            assert_eq!(read_scenario(&path, asked, number).unwrap().seed, seed);
        }
    }

    #[test]
    fn a_wrong_key_in_a_scenario_is_named() {
        let path =
            std::env::temp_dir().join(format!("bolting-scenario-{}.toml", std::process::id()));
        std::fs::write(&path, "[bolt]\ntarget = 3.0\n").unwrap();
        let error = read_scenario(&path, None, 0).unwrap_err().to_string();
        std::fs::remove_file(&path).unwrap();
        assert!(
            error.contains("target_nm") && error.contains("line 2"),
            "{error}"
        );
    }
}
