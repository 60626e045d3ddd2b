//! The `campaign` command.

use std::io::Write;
use std::path::PathBuf;

use super::{Report, robustness, run_all};
use crate::simulate::{FaultKind, Knobs};

/// Score the monitor on many simulated bolts, half of them sound, against the simulator's truth
#[derive(Debug, clap::Args)]
pub struct CampaignArgs {
    /// How many bolts
    #[arg(long, default_value_t = 400, value_name = "N", value_parser = some)]
    pub count: usize,
    /// Seed of the campaign; another seed gives fresh bolts
    #[arg(long, default_value_t = 1, value_name = "N")]
    pub seed: u64,
    /// Give every bolt this fault, to look at one kind closely
    #[arg(long, value_enum, value_name = "KIND", conflicts_with = "robustness")]
    pub fault: Option<FaultKind>,
    /// Sample every run at this rate, in Hz, instead of 500 or 1000
    #[arg(long, value_name = "HZ", conflicts_with = "robustness",
        value_parser = clap::value_parser!(u16).range(50..=8000))]
    pub rate: Option<u16>,
    /// Also list, as JSON lines before the figures, the runs worth a look
    #[arg(long)]
    pub list: bool,
    /// Instead, run the campaign again and again while noise, friction, rate, missing samples and pose
    /// get worse; --count is then the number of bolts at each of twenty points
    #[arg(long, requires = "out", conflicts_with = "list")]
    pub robustness: bool,
    /// Folder for the plots of --robustness
    #[arg(long, value_name = "DIR", requires = "robustness")]
    pub out: Option<PathBuf>,
}

/// A number of bolts of which figures can be told.
fn some(text: &str) -> Result<usize, String> {
    match text.parse() {
        Ok(0) => Err("there are no figures of no bolts: give 1 or more".to_owned()),
        Ok(count) => Ok(count),
        Err(error) => Err(error.to_string()),
    }
}

/// Runs the campaign and prints its figures to standard output.
///
/// # Errors
/// A folder cannot be made, or a plot or standard output cannot be written.
pub fn run(args: &CampaignArgs) -> std::io::Result<()> {
    if let Some(folder) = args.out.as_ref().filter(|_| args.robustness) {
        let mut out = std::io::stdout().lock();
        return robustness::run(args.seed, args.count, folder, &mut out);
    }
    let knobs = Knobs {
        fault: args.fault,
        rate_hz: args.rate.map(f64::from),
        ..Knobs::default()
    };
    let scores = run_all(args.seed, 0..args.count, &knobs)?;
    let report = Report::new(&scores);
    let mut out = std::io::stdout().lock();
    if args.list {
        for score in report.worth_a_look() {
            serde_json::to_writer(&mut out, score)?;
            writeln!(out)?;
        }
    }
    write!(out, "{report}")?;
    // Not among the figures, which are the same on every machine.
    eprintln!(
        "Monitor: {:.0} samples/s on one core.",
        report.samples_per_s()
    );
    Ok(())
}
