//! From the TOML description of one bolt, its tool and its arm to the checked forms that the core
//! loads. `examples/bolt.toml` holds every key with its default.

mod arm;
mod fastener;
mod form;
mod goal;
mod job;
mod judge;
mod listing;
pub mod origin;
mod passes;
mod schema;
mod stated;

use std::fmt;
use std::path::{Path, PathBuf};

use bolting_monitor::arm::ArmDescription;
use bolting_monitor::procedure::{BoltJob, Procedure, Turn};
use bolting_monitor::wire::{Plan, PlanError};

pub use listing::{Entry, listing};
pub use stated::Stated;

use judge::Judge;
use schema::File;

/// The only version of the form so far.
const SCHEMA: i64 = 1;

/// Longest blob that a transfer can carry, bytes.
const MAX_PLAN: usize = u16::MAX as usize;

/// A description whose every figure was checked.
#[derive(Clone, Debug)]
pub struct Description {
    /// The bolt and its tool.
    pub job: BoltJob,
    /// The arm, with the tool and payload it holds; `None` for a spindle that is read alone.
    pub arm: Option<ArmDescription>,
    /// Least and greatest position of each joint as the URDF states them, rad; empty without an arm.
    pub limits_rad: Vec<Option<[f64; 2]>>,
    /// The file that the arm was read from.
    pub arm_file: Option<PathBuf>,
    /// The passes over the group: for a bolt alone, one.
    pub procedure: Procedure,
    /// Whether the scenario is made up: whatever shows a run of it says so.
    pub invented: bool,
    /// Sentences for the user on what was read differently from how it is written.
    pub notices: Vec<String>,
}

impl Description {
    /// Reads a description from a file; paths in it are relative to the file.
    ///
    /// # Errors
    /// The file cannot be read, is no TOML, or holds mistakes, which are told all at once.
    pub fn load(path: &Path) -> Result<Self, DescriptionError> {
        Self::load_with(path, None)
    }

    /// As [`Description::load`], with another URDF than the one it names.
    ///
    /// # Errors
    /// As [`Description::load`]; also where a URDF is given for a description without an arm.
    pub fn load_with(path: &Path, urdf: Option<&Path>) -> Result<Self, DescriptionError> {
        let text = std::fs::read_to_string(path).map_err(|source| DescriptionError::Read {
            path: path.to_owned(),
            source,
        })?;
        parse(&text, path, urdf)
    }

    /// The blob that a controller loads.
    ///
    /// # Errors
    /// None in practice: host and controller check the same.
    pub fn plan(&self) -> Result<Vec<u8>, PlanError> {
        let plan = Plan {
            job: self.job.clone(),
            arm: self.arm.clone(),
            procedure: self.procedure.clone(),
        };
        let mut blob = vec![0; MAX_PLAN];
        let length = plan.to_blob(&mut blob)?;
        blob.truncate(length);
        Ok(blob)
    }

    /// The description of one bolt in one pass; `None` if there is no such pass or bolt.
    pub fn of_turn(&self, turn: Turn) -> Option<Self> {
        let job = self.procedure.job(&self.job, turn)?;
        Some(Self {
            procedure: Procedure::single(job.goal),
            job,
            ..self.clone()
        })
    }

    /// Reads a description from `text` as if it stood in the file at `path`.
    ///
    /// # Errors
    /// As [`Description::load`].
    pub fn parse(text: &str, path: &Path) -> Result<Self, DescriptionError> {
        parse(text, path, None)
    }
}

fn parse(text: &str, path: &Path, urdf: Option<&Path>) -> Result<Description, DescriptionError> {
    let refuse = |mistakes| DescriptionError::Mistakes {
        path: path.to_owned(),
        mistakes,
    };
    let (file, of_form) = form::read(text).map_err(|(source, mut before)| {
        if before.is_empty() {
            return DescriptionError::Form {
                path: path.to_owned(),
                source: Box::new(source),
            };
        }
        // Nor is it said to be missing what was there and was wrong.
        let missing = source.message().strip_prefix("missing field ");
        let was_wrong = missing.is_some_and(|missing| {
            let name = missing.trim_matches('`');
            before
                .iter()
                .any(|m| m.key.rsplit('.').next() == Some(name))
        });
        if !was_wrong {
            before.push(Mistake {
                line: form::line(text, &source.span().unwrap_or(0..0)),
                key: "the file".to_owned(),
                problem: format!(
                    "has a {}: {}",
                    source.message(),
                    way_out(&source).trim_end()
                ),
            });
        }
        refuse(before)
    })?;
    match check(text, path, urdf, &file) {
        Ok(description) if of_form.is_empty() => Ok(description),
        of_figures => {
            let mut all = of_form;
            all.extend(of_figures.err().into_iter().flatten());
            all.sort_by_key(|mistake| mistake.line);
            Err(refuse(all))
        }
    }
}

fn check(
    text: &str,
    path: &Path,
    urdf: Option<&Path>,
    file: &File,
) -> Result<Description, Vec<Mistake>> {
    let mut judge = Judge {
        text,
        mistakes: Vec::new(),
    };
    if *file.schema.get_ref() != SCHEMA {
        judge.mistake("schema", file.schema.span(), format!("must be {SCHEMA}"));
    }
    let job = judge.job(file);
    let mut notices = Vec::new();
    if urdf.is_some() && file.arm.is_none() {
        let problem = "is missing, though a URDF is given: add the table with its tip_link";
        judge.mistake("arm", file.schema.span(), problem);
    }
    let arm = file.arm.as_ref().and_then(|arm| {
        let named = path.with_file_name(arm.urdf.get_ref());
        judge.arm(file, arm, urdf.unwrap_or(&named), &mut notices)
    });
    let (arm, limits_rad) = arm.map_or((None, Vec::new()), |(arm, limits)| (Some(arm), limits));
    let procedure = job.as_ref().map(|job| judge.procedure(file, job));
    let made = job.as_ref().zip(procedure.as_ref());
    if let Some((job, procedure)) = made.filter(|_| judge.mistakes.is_empty()) {
        judge.possible(file, job, procedure, &mut notices);
    }
    match job.zip(procedure) {
        Some((job, procedure)) if judge.mistakes.is_empty() => Ok(Description {
            job,
            arm,
            limits_rad,
            procedure,
            invented: file.invented,
            arm_file: (file.arm.as_ref()).map(|arm| {
                urdf.map_or_else(|| path.with_file_name(arm.urdf.get_ref()), Path::to_owned)
            }),
            notices,
        }),
        _ => {
            judge.mistakes.sort_by_key(|mistake| mistake.line);
            Err(judge.mistakes)
        }
    }
}

/// Why a file is no description.
#[derive(Debug, thiserror::Error)]
pub enum DescriptionError {
    /// The file cannot be read.
    #[error("{}: cannot be read: {source}", .path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// Not TOML, or a key is missing without which nothing can be read. The message shows the line.
    #[error("{}: {source}{}", .path.display(), way_out(.source))]
    Form {
        /// The file.
        path: PathBuf,
        /// Where and what.
        source: Box<toml::de::Error>,
    },
    /// Unknown keys, values of the wrong kind, and values that make no sense.
    #[error("{}:{}", .path.display(), list(.mistakes))]
    Mistakes {
        /// The file.
        path: PathBuf,
        /// All of them, in the order of the file.
        mistakes: Vec<Mistake>,
    },
}

/// One key or value that is not right.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mistake {
    /// Line of the value, the first is 1.
    pub line: usize,
    /// The key with its table.
    pub key: String,
    /// What is wrong and how to mend it.
    pub problem: String,
}

impl fmt::Display for Mistake {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {}: {} {}", self.line, self.key, self.problem)
    }
}

/// What to add where a key is missing that every description has.
fn way_out(error: &toml::de::Error) -> &'static str {
    match error.message() {
        "missing field `thread`" => "add the thread's designation, such as thread = \"M10\"\n",
        "missing field `mode`" => "add mode = \"wrist_strokes\" or mode = \"powered_spindle\"\n",
        "missing field `schema`" => "add schema = 1 as the first line: the version of the form\n",
        "missing field `name`" => "add name = \"…\", what the reports call the bolt\n",
        "missing field `bolt`" => "add the table [bolt] with its thread\n",
        "missing field `run`" => "add the table [run] with its mode\n",
        _ => "",
    }
}

fn list(mistakes: &[Mistake]) -> String {
    mistakes.iter().map(|m| format!("\n  {m}")).collect()
}
