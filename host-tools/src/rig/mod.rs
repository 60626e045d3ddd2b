//! The rehearsal: a described procedure in simulation, before it is used for real.
//!
//! For each pass sound bolts are drawn as the description leaves them open, and every fault that can
//! befall them, and run through the very monitor that the description makes. What is counted says
//! whether windows, tool and arm as stated would do the job, and what in the description to change.
//!
//! The physics are the simulator's: it shares no kinematics, estimation or detection with the crate, but
//! it is simulated all the same.

mod bolt;
mod conclude;
mod count;
mod draw;
mod faults;
mod gain;
mod missing;
mod page;
mod report;
mod site;
mod taken;
mod terminal;
mod through;
mod trial;

use std::path::PathBuf;

use bolting_monitor::monitor::{Monitor, MonitorError};
use bolting_monitor::procedure::{BoltJob, Turn};
use rayon::prelude::*;

use crate::description::{Description, Stated};
use crate::simulate::{JOINTS, MachineError};

pub use page::page;
pub use report::{CAUTION, Rehearsal, SCHEMA_VERSION, SIMULATED};
pub use terminal::text;

use draw::Rehearsed;
use faults::Ill;
use site::Site;
use trial::{Trial, rehearse};

/// Why a description cannot be rehearsed.
#[derive(Debug, thiserror::Error)]
pub enum RigError {
    /// The URDF went away.
    #[error("{}: cannot be read: {source}", .path.display())]
    Urdf {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// The arm cannot be moved, or does not reach the bolt.
    #[error("{}: {source}", .path.display())]
    Arm {
        /// The URDF.
        path: PathBuf,
        /// Why.
        source: MachineError,
    },
    /// The description does not make a monitor.
    #[error("the description makes no monitor: {0}")]
    Monitor(MonitorError),
}

/// How much is rehearsed, and what counts as good enough.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Options {
    /// Sound bolts of each pass.
    pub sound: usize,
    /// Bolts with each fault.
    pub each_fault: usize,
    /// Seed of every draw.
    pub seed: u64,
    /// Samples a second.
    pub rate_hz: f64,
    /// Least part of the sound bolts to be accepted in each pass, percent.
    pub accept_percent: f64,
    /// Largest part of the faulty bolts that may go through, percent.
    pub allow_percent: f64,
}

/// One run that somebody may want to look at.
pub struct Kept {
    /// The pass, from 1.
    pub pass: u8,
    /// Its name: pass, what was put in, number.
    pub name: String,
    /// The recording as CSV.
    pub csv: Vec<u8>,
    /// The truth as JSON.
    pub truth: Vec<u8>,
}

/// The different jobs of a procedure with their passes, counted from 0: a group's bolts are alike, and so
/// may passes be.
fn jobs(description: &Description) -> Vec<(BoltJob, Vec<u8>)> {
    let mut jobs: Vec<(BoltJob, Vec<u8>)> = Vec::new();
    for pass in 0..description.procedure.passes.len() as u8 {
        let turn = Turn { pass, bolt: 0 };
        let Some(job) = description.procedure.job(&description.job, turn) else {
            continue;
        };
        match jobs.iter_mut().find(|(known, _)| *known == job) {
            Some((_, passes)) => passes.push(pass),
            None => jobs.push((job, vec![pass])),
        }
    }
    jobs
}

/// Rehearses a description. `keep` is given every run that did not go as it should.
///
/// # Errors
/// See [`RigError`].
pub fn rig(
    description: &Description,
    stated: &Stated,
    options: &Options,
    mut keep: Option<&mut dyn FnMut(Kept)>,
) -> Result<Rehearsal, RigError> {
    let site = Site::of(description, stated)?;
    let joints = site.as_ref().map_or(0, |s| s.machine.joints());
    let mut passes = Vec::new();
    for (job, numbers) in jobs(description) {
        makes_a_monitor(&job, description, joints).map_err(RigError::Monitor)?;
        let at = Rehearsed {
            job: &job,
            keys: stated,
            site: site.as_ref(),
            rate_hz: options.rate_hz,
        };
        let (can, cannot) = at.ills();
        let first = numbers.first().copied().unwrap_or(0);
        let mut due: Vec<(Option<Ill>, u64)> = Vec::new();
        let sound = std::iter::repeat_n(None, options.sound);
        let spoiled =
            (can.iter()).flat_map(|ill| std::iter::repeat_n(Some(*ill), options.each_fault));
        for (i, ill) in sound.chain(spoiled).enumerate() {
            due.push((ill, 1_000_000 * (u64::from(first) + 1) + i as u64));
        }
        let keeping = keep.is_some();
        let trials: Vec<(Trial, Option<Kept>)> = (due.into_par_iter())
            .map(|(ill, number)| {
                let (trial, rows, run) = rehearse(&at, description, ill, options.seed, number);
                let kept = (keeping && report::worth_a_look(&trial)).then(|| {
                    report::kept(&trial, first + 1, number % 1_000_000, joints, &rows, &run)
                });
                (trial, kept)
            })
            .collect();
        let (trials, kept): (Vec<_>, Vec<_>) = trials.into_iter().unzip();
        if let Some(keep) = &mut keep {
            kept.into_iter().flatten().for_each(keep);
        }
        passes.push(report::pass(&at, &numbers, &trials, &cannot, options));
    }
    Ok(report::rehearsal(
        description,
        stated,
        site.as_ref(),
        passes,
        options,
    ))
}

/// Whether description and fuller ones make a monitor, before hundreds of runs rely on it.
fn makes_a_monitor(
    job: &BoltJob,
    description: &Description,
    joints: usize,
) -> Result<(), MonitorError> {
    let arm = description.arm.as_ref();
    match joints {
        0 => Monitor::<0>::try_new(job, None).map(drop),
        6 => Monitor::<6>::try_new(job, arm).map(drop),
        _ => Monitor::<JOINTS>::try_new(job, arm).map(drop),
    }
}
