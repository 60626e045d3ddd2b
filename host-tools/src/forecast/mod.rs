//! What a bolt's run should look like, told before it is turned: every figure with its interval,
//! formula and source, and the torque–angle corridor.

mod bolt;
mod figure;
mod page;
mod pass;
mod picture;
mod svg;
mod terminal;

use bolting_monitor::procedure::Turn;
use serde::Serialize;

use crate::description::{Description, Stated};
use crate::words::{fault_words, goal_words};

pub use figure::{Figure, Untold};
pub use page::page;
pub use picture::{Level, Meaning, Panel, Picture, Point, Window};
pub use terminal::text;

/// Version of the JSON form; raised when a key changes its meaning or goes.
pub const SCHEMA_VERSION: u32 = 1;

/// What stands above the forecast of a made-up scenario.
pub const INVENTED: &str = "Invented scenario: no real bolt stands behind these figures.";

/// What stands beside every computed torque.
pub const CAUTION: &str = "A computed torque is an aid: the joint's approved procedure and licensed \
    practice decide. It is not a safety function and does not replace a calibrated verification of \
    the bolt.";

/// Everything that is expected of a bolt.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Expectation {
    /// See [`SCHEMA_VERSION`].
    pub schema_version: u32,
    /// Name of the bolt.
    pub bolt: String,
    /// Its thread.
    pub thread: String,
    /// See [`CAUTION`].
    pub caution: &'static str,
    /// Whether the description says that the scenario is made up.
    pub invented: bool,
    /// Figures that hold for every pass.
    pub figures: Vec<Figure>,
    /// What the description does not tell of the bolt.
    pub not_told: Vec<Untold>,
    /// The passes that were asked for.
    pub passes: Vec<PassExpectation>,
}

/// What is expected of one pass.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PassExpectation {
    /// Number of the pass, from 1.
    pub pass: u8,
    /// What it is to reach, in words.
    pub goal: String,
    /// Its figures.
    pub figures: Vec<Figure>,
    /// What the description does not tell of it.
    pub not_told: Vec<Untold>,
    /// What practice speaks against, with the limit. What physics forbids is no description at all.
    pub warnings: Vec<String>,
    /// The corridor, where the description tells one.
    pub picture: Option<Picture>,
}

/// The forecast of a description and the keys of its file; of one pass, counted from 0, or of all.
/// A pass that the description has not gives no passes.
pub fn expectation(description: &Description, stated: &Stated, pass: Option<u8>) -> Expectation {
    let job = &description.job;
    let passes = 0..description.procedure.passes.len() as u8;
    Expectation {
        schema_version: SCHEMA_VERSION,
        bolt: job.name.to_string(),
        thread: job.fastener.thread.to_string(),
        caution: CAUTION,
        invented: description.invented,
        figures: bolt::figures(&job.fastener, stated),
        not_told: bolt::untold(&job.fastener),
        passes: passes
            .filter(|i| pass.is_none_or(|asked| asked == *i))
            .filter_map(|i| of_pass(description, stated, i))
            .collect(),
    }
}

fn of_pass(description: &Description, stated: &Stated, pass: u8) -> Option<PassExpectation> {
    let job = description
        .procedure
        .job(&description.job, Turn { pass, bolt: 0 })?;
    Some(PassExpectation {
        pass: pass + 1,
        goal: goal_words(job.goal),
        figures: pass::figures(&job, stated),
        not_told: pass::untold(&job),
        warnings: job
            .fastener_faults()
            .map(|fault| fault_words(&fault))
            .collect(),
        picture: Picture::of(&job, &pass::forecast(&job)),
    })
}
