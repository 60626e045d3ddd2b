//! What was counted: the form that `rig --json` writes.

use bolting_monitor::procedure::Verdict;
use serde::Serialize;

use super::conclude::conclusions;
use super::count::{faulty, sound};
use super::draw::Rehearsed;
use super::faults::Ill;
use super::site::Site;
use super::trial::Trial;
use super::{Kept, Options};
use crate::campaign::figures::Share;
use crate::description::{Description, Stated};
use crate::simulate::{JOINTS, Row, SimulatedRun, csv, truth};
use crate::words::goal_words;

/// Version of the JSON form; raised when a key changes its meaning or goes.
pub const SCHEMA_VERSION: u32 = 1;

/// What stands above every rehearsal.
pub const SIMULATED: &str = "Simulated: no bolt was turned. It holds the description and its windows \
    against simulated physics, and is no substitute for trials on a mock-up.";

/// What stands below every rehearsal.
pub const CAUTION: &str = "An aid, not a safety function. It does not replace a calibrated verification \
    of the bolt. Local codes and licensed practice decide.";

/// Some of many, with the interval of Wilson (95 %).
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Part {
    /// How many.
    pub count: usize,
    /// Of how many.
    pub of: usize,
    /// Percent; `None` of none.
    pub percent: Option<f64>,
    /// Lower end of the interval, percent.
    pub from_percent: Option<f64>,
    /// Upper end.
    pub to_percent: Option<f64>,
}

impl Part {
    /// Of these, the ones that are so.
    pub fn of<T>(all: impl IntoIterator<Item = T>, so: impl Fn(&T) -> bool) -> Self {
        let share = Share::of(all, so);
        let told = |x: f64| x.is_finite().then(|| (10.0 * x).round() / 10.0);
        let (from, to) = share.interval();
        Self {
            count: share.hits,
            of: share.of,
            percent: told(share.percent()),
            from_percent: told(from),
            to_percent: told(to),
        }
    }

    /// Whether none is so.
    pub fn none(&self) -> bool {
        self.count == 0
    }

    /// Percent, of none 0.
    pub fn share_percent(&self) -> f64 {
        self.percent.unwrap_or(0.0)
    }
}

impl std::fmt::Display for Part {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match (self.from_percent, self.to_percent) {
            (Some(from), Some(to)) => {
                write!(f, "{} of {} ({from:.0} to {to:.0} %)", self.count, self.of)
            }
            _ => f.write_str("none to tell"),
        }
    }
}

/// A name with how often it came.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Counted {
    /// Name in snake case.
    pub name: &'static str,
    /// In words.
    pub words: &'static str,
    /// In how many runs.
    pub count: usize,
}

/// A rehearsed description.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Rehearsal {
    /// See [`SCHEMA_VERSION`].
    pub schema_version: u32,
    /// Name of the bolt.
    pub bolt: String,
    /// Its thread.
    pub thread: String,
    /// Whether the description says that the scenario is made up.
    pub invented: bool,
    /// See [`SIMULATED`].
    pub simulated: &'static str,
    /// See [`CAUTION`].
    pub caution: &'static str,
    /// Whether it passed: see `bolting-host rig --help`.
    pub passed: bool,
    /// Seed of every draw.
    pub seed: u64,
    /// Sound bolts of each pass.
    pub sound_each_pass: usize,
    /// Bolts with each fault.
    pub each_fault: usize,
    /// Samples a second.
    pub rate_hz: f64,
    /// Least part of the sound bolts to be accepted in each pass, percent.
    pub accept_percent: f64,
    /// Largest part of the faulty bolts that may go through, percent.
    pub allow_percent: f64,
    /// How the arm stands at the bolt, joints base first; `None` without an arm.
    pub pose_deg: Option<Vec<f64>>,
    /// What was taken where the description does not say.
    pub taken: Vec<String>,
    /// Faulty bolts, not the harmless ones, that went through, of all passes.
    pub let_through: Part,
    /// The passes that differ.
    pub passes: Vec<Pass>,
}

/// One pass, or several that are alike.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Pass {
    /// Their numbers, from 1.
    pub passes: Vec<u8>,
    /// What it is to reach, in words.
    pub goal: String,
    /// Sound bolts.
    pub sound: Sound,
    /// Bolts with each fault.
    pub faults: Vec<Faulty>,
    /// Faults that cannot be put in, with why.
    pub not_rehearsed: Vec<Left>,
    /// What the counts say, and what to change.
    pub conclusions: Vec<String>,
}

/// A fault that was left out.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Left {
    /// Name of the fault.
    pub fault: String,
    /// In words.
    pub words: &'static str,
    /// Why.
    pub why: &'static str,
}

/// The faults that were left out, by the reason.
pub fn by_why(left: &[Left]) -> Vec<(&'static str, Vec<&str>)> {
    let mut by: Vec<(&'static str, Vec<&str>)> = Vec::new();
    for one in left {
        match by.iter_mut().find(|(why, _)| *why == one.why) {
            Some((_, faults)) => faults.push(one.words),
            None => by.push((one.why, vec![one.words])),
        }
    }
    by
}

/// What became of the sound bolts of a pass.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Sound {
    /// Accepted.
    pub accepted: Part,
    /// Not assessable.
    pub not_assessable: Part,
    /// Rejected without a stop.
    pub rejected: Part,
    /// Stopped.
    pub stopped: Part,
    /// Why they were not accepted.
    pub reasons: Vec<Counted>,
    /// What was found on them that stops.
    pub stops: Vec<Counted>,
    /// What was said against them without a stop.
    pub said: Vec<Counted>,
    /// The torque could be told.
    pub observable: Part,
    /// A snug point was found, where the bolt ran down to one.
    pub snug_found: Part,
    /// Stated uncertainty of the final torque, N·m, k = 2, in the median.
    pub torque_u_nm: Option<f64>,
    /// Half width of the torque window, N·m.
    pub window_nm: Option<f64>,
    /// Window over uncertainty: below 1 no run can be assessed.
    pub window_over_u: Option<f64>,
    /// The true torque lay within the stated uncertainty.
    pub torque_within_u: Part,
}

/// What became of the bolts with one fault.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Faulty {
    /// Name of the fault.
    pub fault: String,
    /// In words.
    pub words: &'static str,
    /// Whether the bolt is sound at the end all the same: a stop is then a false one.
    pub harmless: bool,
    /// Runs of those simulated in which it came to show; the figures below are of these.
    pub began: Part,
    /// Told: a finding, or no acceptance.
    pub told: Part,
    /// Named right.
    pub named: Part,
    /// Stopped before the hand stopped by itself, of those that call for a stop.
    pub stopped: Part,
    /// Torque at the stop as a part of the target, percent: in the median ...
    pub stop_percent: Option<f64>,
    /// ... and of 95 in a hundred.
    pub stop_95_percent: Option<f64>,
    /// Accepted.
    pub accepted: Part,
    /// Went through: accepted with nothing said, or turned on where that does harm. Of harmless ones:
    /// stopped.
    pub let_through: Part,
}

/// Whether a run did not go as it should.
pub fn worth_a_look(trial: &Trial) -> bool {
    match trial.ill {
        None => trial.verdict != Verdict::Accepted,
        Some(_) if trial.scored.sound => trial.stop().is_some(),
        Some(_) => trial.began && trial.let_through(),
    }
}

/// The run as files.
pub fn kept(
    trial: &Trial,
    pass: u8,
    number: u64,
    joints: usize,
    rows: &[Row],
    run: &SimulatedRun,
) -> Kept {
    let what = trial.ill.map_or_else(|| "sound".to_owned(), Ill::name);
    Kept {
        pass,
        name: format!("pass{pass}-{}-{number:04}", what.replace('_', "-")),
        // Bytes in memory: neither can fail.
        csv: csv(rows, joints).unwrap_or_default(),
        truth: truth(run).unwrap_or_default(),
    }
}

/// The report of a pass.
pub fn pass(
    at: &Rehearsed<'_>,
    numbers: &[u8],
    trials: &[Trial],
    cannot: &[(Ill, &'static str)],
    options: &Options,
) -> Pass {
    let of_sound: Vec<&Trial> = trials.iter().filter(|t| t.ill.is_none()).collect();
    let mut ills: Vec<Ill> = trials.iter().filter_map(|t| t.ill).collect();
    ills.dedup();
    let sound = sound(at, &of_sound);
    let faults: Vec<Faulty> = ills
        .iter()
        .map(|ill| {
            let with: Vec<&Trial> = trials.iter().filter(|t| t.ill == Some(*ill)).collect();
            faulty(*ill, &with)
        })
        .collect();
    Pass {
        passes: numbers.iter().map(|n| n + 1).collect(),
        goal: goal_words(at.job.goal),
        conclusions: conclusions(at, trials, &sound, &ills, options),
        sound,
        faults,
        not_rehearsed: cannot
            .iter()
            .map(|(ill, why)| Left {
                fault: ill.name(),
                words: ill.words(),
                why,
            })
            .collect(),
    }
}

/// The whole.
pub fn rehearsal(
    description: &Description,
    stated: &Stated,
    site: Option<&Site>,
    passes: Vec<Pass>,
    options: &Options,
) -> Rehearsal {
    let grave = || {
        passes
            .iter()
            .flat_map(|p| &p.faults)
            .filter(|f| !f.harmless)
    };
    let total = |of: fn(&Faulty) -> usize| grave().map(of).sum::<usize>();
    let (through, of) = (total(|f| f.let_through.count), total(|f| f.let_through.of));
    let let_through = Part::of(0..of, |i| *i < through);
    let sound = passes.iter().all(|p| {
        p.sound.stopped.none() && p.sound.accepted.share_percent() >= options.accept_percent
    });
    Rehearsal {
        schema_version: SCHEMA_VERSION,
        bolt: description.job.name.to_string(),
        thread: description.job.fastener.thread.to_string(),
        invented: description.invented,
        simulated: SIMULATED,
        caution: CAUTION,
        passed: sound && let_through.share_percent() <= options.allow_percent,
        seed: options.seed,
        sound_each_pass: options.sound,
        each_fault: options.each_fault,
        rate_hz: options.rate_hz,
        accept_percent: options.accept_percent,
        allow_percent: options.allow_percent,
        pose_deg: site.map(|s| {
            let pose = s.standing.pose_rad;
            let own = pose.iter().skip(JOINTS - s.machine.joints());
            own.map(|q| (10.0 * q.to_degrees()).round() / 10.0)
                .collect()
        }),
        taken: super::taken::taken(description, stated, site),
        let_through,
        passes,
    }
}
