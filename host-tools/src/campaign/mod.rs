//! A seeded campaign: many simulated bolts through the monitor, held against the truth.
//!
//! The simulator shares no code with the estimator, but it is still a simulator: the figures say
//! how the crate does against this physics, not against a real cell.

pub mod cli;
pub(crate) mod figures;
mod plot;
mod report;
mod robustness;
mod run;

pub use report::Report;
pub(crate) use run::answer;
pub use run::{Said, Scored, score};

use rayon::prelude::*;

use crate::simulate::{Knobs, URDF, campaign_with};

/// Runs scenarios of campaign `seed` in parallel; the scores are in order.
///
/// # Errors
/// When the temporary folder for the arm's URDF cannot be made.
pub fn run_all(
    seed: u64,
    range: std::ops::Range<usize>,
    knobs: &Knobs,
) -> std::io::Result<Vec<Scored>> {
    let dir = tempfile::tempdir()?;
    std::fs::write(dir.path().join("arm.urdf"), URDF)?;
    Ok(range
        .into_par_iter()
        .map(|index| score(index, &campaign_with(seed, index, knobs), dir.path()))
        .collect())
}
