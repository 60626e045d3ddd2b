//! `bolting-host demo`: four bolts of an invented flange, from the simulated arm to the report.

mod bolts;
mod controller;
mod firmware;
mod page;
mod table;

use std::fs;
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};
use std::time::SystemTime;

use bolting_monitor::monitor::MonitorError;
use bolting_monitor::sample::JointSample;

use crate::description::{Description, DescriptionError};
use crate::emulator::EmulatorError;
use crate::replay::Outcome;
use crate::samples::{BadRows, Recording, SamplesError};
use crate::simulate::{Existing, JOINTS, WriteError, simulate, write_run};
use crate::store::{Content, RawLog, RawWriter, Record, StoreError, decode};
use crate::whole_file;

use controller::Controller;

const LOG: &str = "flange.wirelog";
/// Tells a folder that the demo made from one that holds something real.
const MARKER: &str = "made-by-demo.txt";
const MARKER_TEXT: &str =
    "bolting-host demo made this folder. Its files are invented, and the next demo replaces them:
keep nothing of your own here.
";
/// How the first record of the demo's own log begins.
const SOURCE: &str = "demo, ";
const CAUTION: &str =
    "Caution: an aid for the operator, not a safety function. It does not replace a
calibrated verification of the bolt. Local codes and licensed practice decide.";

const EXIT_CODES: &str = "\
Exit code 0: the demo came to its end, whatever its bolts were found to be. 3: the emulated controller failed, or
its log tells of fewer runs than were made. 5: a file could not be written.";

/// Shows the whole way on four simulated bolts: arm, controller, log, verdicts, report.
#[derive(clap::Args, Clone, Debug)]
#[command(after_help = EXIT_CODES)]
pub struct DemoArgs {
    /// Folder for the files: a new or empty one, or that of an earlier demo
    #[arg(long, value_name = "DIR", default_value = "out/demo")]
    pub out: PathBuf,
    /// Seed of every random draw
    #[arg(long, default_value_t = 1, value_name = "N")]
    pub seed: u32,
    /// Run the monitor in this process even if the emulated controller is there
    #[arg(long)]
    pub in_process: bool,
    /// Leave out the report
    #[arg(long)]
    pub no_page: bool,
}

/// Why the demo did not come to its end.
#[derive(Debug, thiserror::Error)]
pub enum DemoError {
    /// A file of a run could not be written.
    #[error(transparent)]
    Write(#[from] WriteError),
    /// A description that the simulator wrote is refused: a fault of this program.
    #[error(transparent)]
    Description(#[from] DescriptionError),
    /// A recording that the simulator wrote is refused: a fault of this program.
    #[error(transparent)]
    Samples(#[from] SamplesError),
    /// A description makes no monitor: a fault of this program.
    #[error(transparent)]
    Monitor(#[from] MonitorError),
    /// The log cannot be written or read.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The emulated controller failed.
    #[error("{0}; or leave it out with --in-process")]
    Emulator(#[from] EmulatorError),
    /// A file could not be written or removed.
    #[error("{path}: {error}; check that the folder may be written to and has room")]
    File {
        /// The file.
        path: PathBuf,
        /// What the system says.
        error: io::Error,
    },
    /// The folder holds something, and no demo made it.
    #[error(
        "{0}: holds files, and no demo made this folder: give --out an empty folder or a new one"
    )]
    NotOurs(PathBuf),
    /// A log of that name is there that no demo made.
    #[error("{0}: is no log of a demo, so it is kept: take it away, or give --out another folder")]
    OtherLog(PathBuf),
    /// Standard output could not be written to.
    #[error("cannot write to standard output: {0}")]
    Output(io::Error),
    /// The log tells of fewer runs than were made.
    #[error(
        "{path} tells of {told} runs, {made} were made: run the demo again, or with --in-process"
    )]
    Incomplete {
        /// The log.
        path: PathBuf,
        /// Runs in it.
        told: usize,
        /// Runs made.
        made: usize,
    },
}

/// A bolt as it goes to the controller.
struct Prepared {
    name: String,
    simulated: &'static str,
    description: Description,
    samples: Vec<JointSample<JOINTS>>,
}

/// A bolt as the controller told of it.
struct Shown {
    prepared: Prepared,
    outcome: Outcome,
}

/// Runs the demo: results go to standard output, progress to standard error.
///
/// # Errors
/// [`DemoError`]. That there is no emulator is no error: the monitor then runs in this process.
pub fn run(args: &DemoArgs) -> Result<(), DemoError> {
    claim(&args.out)?;
    let bolts = bolts::four(args.seed)
        .into_iter()
        .map(|bolt| prepare(&args.out, bolt))
        .collect::<Result<Vec<_>, _>>()?;
    let mut controller = Controller::choose(args.in_process);
    eprintln!("samples go {}", controller.how());

    let log = args.out.join(LOG);
    record(&bolts, &mut controller, &log)?;
    let shown = read_back(bolts, &log)?;

    let mut text = format!(
        "Simulated, invented data: four bolts of a flange in an invented test cell. The samples ran {}.\n\n",
        controller.how()
    );
    text += &table::of(&shown);
    text += &format!("\n{CAUTION}\n\n");
    if !args.no_page {
        let (report, picture) = page::render(&shown, &controller.how());
        let put = |name: &str, content: &str| {
            let path = args.out.join(name);
            whole_file::write(&path, content.as_bytes()).map_err(|error| DemoError::File {
                path: path.clone(),
                error,
            })?;
            Ok::<_, DemoError>(path)
        };
        if let Some(picture) = picture {
            put("run.svg", &picture)?;
        }
        let path = put("report.html", &report)?;
        text += &format!("Report for a browser: {}\n", path.display());
    }
    text += &next(&args.out);
    match io::stdout().write_all(text.as_bytes()) {
        // A reader that has gone away wants no more.
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => Err(DemoError::Output(error)),
        _ => Ok(()),
    }
}

/// Makes the folder, or makes sure that what is in it may be replaced.
fn claim(out: &Path) -> Result<(), DemoError> {
    let fail = |path: &Path, error| DemoError::File {
        path: path.to_owned(),
        error,
    };
    fs::create_dir_all(out).map_err(|error| fail(out, error))?;
    let marker = out.join(MARKER);
    if fs::read_to_string(&marker).is_ok_and(|text| text == MARKER_TEXT) {
        return match is_ours(&out.join(LOG)) {
            true => Ok(()),
            false => Err(DemoError::OtherLog(out.join(LOG))),
        };
    }
    let mut found = fs::read_dir(out).map_err(|error| fail(out, error))?;
    if found.next().is_some() {
        return Err(DemoError::NotOurs(out.to_owned()));
    }
    whole_file::write(&marker, MARKER_TEXT.as_bytes()).map_err(|error| fail(&marker, error))
}

/// Whether this is the log of a demo, a log in which nothing is recorded, or not there at all.
fn is_ours(log: &Path) -> bool {
    match RawLog::open(log).map(|mut log| log.next()) {
        Ok(None) => true,
        Ok(Some(Ok(first))) => {
            matches!(first.content, Content::Connected(source) if source.starts_with(SOURCE))
        }
        Ok(Some(Err(_))) => false,
        Err(StoreError::Io { error, .. }) => error.kind() == io::ErrorKind::NotFound,
        Err(_) => false,
    }
}

/// Simulates a bolt, writes its files, and reads them as a user's would be read: a replay of the
/// files gives what the demo shows.
fn prepare(out: &Path, bolt: bolts::Bolt) -> Result<Prepared, DemoError> {
    let simulated = simulate(&bolt.scenario);
    write_run(
        out,
        bolt.name,
        &bolt.scenario,
        &simulated,
        Existing::Replace,
    )?;
    let recording = Recording::load(&out.join(format!("{}.csv", bolt.name)), BadRows::Refuse)?;
    eprintln!("{}: {} samples simulated", bolt.name, recording.len());
    Ok(Prepared {
        name: bolt.name.to_owned(),
        simulated: bolt.simulated,
        description: Description::load(&out.join(format!("{}.toml", bolt.name)))?,
        samples: recording
            .samples::<JOINTS>()
            .into_iter()
            .flatten()
            .collect(),
    })
}

fn record(bolts: &[Prepared], controller: &mut Controller, path: &Path) -> Result<(), DemoError> {
    // Only ever the log of an earlier demo: see `claim`.
    match fs::remove_file(path) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => {
            return Err(DemoError::File {
                path: path.to_owned(),
                error,
            });
        }
        _ => {}
    }
    let mut log = RawWriter::create(path)?;
    let mut keep = |content| {
        log.append(&Record {
            at: SystemTime::now(),
            content,
        })
    };
    keep(Content::Connected(format!("{SOURCE}{}", controller.how())))?;
    for bolt in bolts {
        let bytes = controller.run(&bolt.description, &bolt.samples)?;
        eprintln!("{}: {} bytes received", bolt.name, bytes.len());
        keep(Content::Received(bytes))?;
    }
    Ok(log.sync()?)
}

/// What is shown is what the log tells, not what this process knows.
fn read_back(bolts: Vec<Prepared>, path: &Path) -> Result<Vec<Shown>, DemoError> {
    let view = decode(RawLog::open(path)?)?;
    let told = view.runs();
    if told.len() != bolts.len() {
        return Err(DemoError::Incomplete {
            path: path.to_owned(),
            told: told.len(),
            made: bolts.len(),
        });
    }
    Ok(bolts
        .into_iter()
        .zip(told)
        .map(|(prepared, told)| Shown {
            prepared,
            outcome: told.outcome,
        })
        .collect())
}

fn next(out: &Path) -> String {
    let out = out.display();
    format!(
        "Files in {out}: samples (.csv), descriptions (.toml, arm.urdf), what really happened
(.truth.json), what the controller said ({LOG}).

Next (in a checkout write `cargo run --release -p bolting-host --` for bolting-host):
  bolting-host replay {out}
      the same recordings again: the same figures, bit for bit
  bolting-host describe {out}/flange-bolt-1.toml
      every figure that a description stands for
  bolting-host simulate --out runs --count 20
      twenty other bolts
"
    )
}
