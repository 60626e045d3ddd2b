//! The `campaign` command.

use std::io::Write;

use super::{Report, run_all};

/// Score the monitor on many simulated bolts, half of them sound, against the simulator's truth
#[derive(Debug, clap::Args)]
pub struct CampaignArgs {
    /// How many bolts
    #[arg(long, default_value_t = 400, value_name = "N")]
    pub count: usize,
    /// Seed of the campaign; another seed gives fresh bolts
    #[arg(long, default_value_t = 1, value_name = "N")]
    pub seed: u64,
    /// Also list, as JSON lines before the figures, the runs worth a look
    #[arg(long)]
    pub list: bool,
}

/// Runs the campaign and prints its figures to standard output.
///
/// # Errors
/// The temporary folder cannot be made, or standard output cannot be written.
pub fn run(args: &CampaignArgs) -> std::io::Result<()> {
    let scores = run_all(args.seed, 0..args.count)?;
    let report = Report::new(&scores);
    let mut out = std::io::stdout().lock();
    if args.list {
        for score in report.worth_a_look() {
            serde_json::to_writer(&mut out, score)?;
            writeln!(out)?;
        }
    }
    write!(out, "{report}")
}
