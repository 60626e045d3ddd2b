//! What ends a command, and the exit code that says so.

use std::path::PathBuf;
use std::process::ExitCode;

use bolting_host::calibrate::CalibrateError;
use bolting_host::demo::DemoError;
use bolting_host::description::DescriptionError;
use bolting_host::record::RecordError;
use bolting_host::replay::ReplayError;
use bolting_host::rig::RigError;
use bolting_host::samples::SamplesError;
use bolting_host::simulate::cli::SimulateError;
use bolting_host::store::StoreError;

/// What ends a command.
#[derive(Debug, thiserror::Error)]
pub enum CliError {
    /// A description that cannot be used.
    #[error(transparent)]
    Description(#[from] DescriptionError),
    /// A recording that cannot be used.
    #[error(transparent)]
    Samples(#[from] SamplesError),
    /// A recording that does not fit its description.
    #[error("{}: {source}", .path.display())]
    Replay {
        /// The recording.
        path: PathBuf,
        /// Why.
        source: ReplayError,
    },
    /// A run without a description.
    #[error("{}: no description: give --bolt BOLT.toml, or put a .toml of the same name beside it", .0.display())]
    NoDescription(PathBuf),
    /// A folder that cannot be listed or holds no recording.
    #[error("{}: {problem}", .path.display())]
    Folder {
        /// The folder.
        path: PathBuf,
        /// What is wrong.
        problem: String,
    },
    /// A description without an arm, asked for one.
    #[error("{}: has no table [arm]: add it, or leave out --only arm", .0.display())]
    NoArm(PathBuf),
    /// A description without an arm, which a calibration is of.
    #[error("{}: has no table [arm]: add it, with urdf and tip_link", .0.display())]
    NoArmToCalibrate(PathBuf),
    /// Free motion that tells nothing.
    #[error(transparent)]
    Calibrate(CalibrateError),
    /// A pass that the description has not.
    #[error("{}: the description has {passes} passes: say with --pass which one the recording is of", .path.display())]
    WhichPass {
        /// The recording.
        path: PathBuf,
        /// How many passes.
        passes: usize,
    },
    /// A pass asked for that the description has not.
    #[error("{}: the description has {passes} passes: give --pass 1 to {passes}", .path.display())]
    NoPass {
        /// The description.
        path: PathBuf,
        /// How many passes.
        passes: usize,
    },
    /// A file that would go over one that was read.
    #[error("{}: is not written over, this command reads it: give another file to write to", .0.display())]
    Overwrites(PathBuf),
    /// A file that is named like a recording.
    #[error("{}: nothing is written over what is named like a recording: give another name, such as report.html", .0.display())]
    OverRecording(PathBuf),
    /// A log that is a folder.
    #[error("{}: is a folder: give the logs in it, *.wirelog", .0.display())]
    LogFolder(PathBuf),
    /// A file that cannot be written.
    #[error("{}: cannot be written: {source}; check that its folder is there and may be written to", .path.display())]
    File {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// A simulation that cannot be run or written.
    #[error(transparent)]
    Simulate(#[from] SimulateError),
    /// A recording from a link that ended.
    #[error(transparent)]
    Record(#[from] RecordError),
    /// A log that cannot be read.
    #[error(transparent)]
    Log(#[from] StoreError),
    /// A description that cannot be rehearsed.
    #[error(transparent)]
    Rig(#[from] RigError),
    /// A demo that could not be shown.
    #[error(transparent)]
    Demo(#[from] DemoError),
    /// The constant could not be written as bytes.
    #[error("the description cannot be written as bytes: {0}")]
    Bytes(String),
    /// The results could not be written.
    #[error("cannot write the results: {0}; check that there is room")]
    Output(#[from] std::io::Error),
}

impl CliError {
    /// The exit code, see `--help`.
    pub fn exit_code(&self) -> ExitCode {
        ExitCode::from(match self {
            Self::Description(_)
            | Self::Samples(_)
            | Self::Replay { .. }
            | Self::NoDescription(_)
            | Self::Rig(_)
            | Self::Folder { .. }
            | Self::NoArm(_)
            | Self::NoArmToCalibrate(_)
            | Self::Calibrate(_)
            | Self::WhichPass { .. }
            | Self::NoPass { .. }
            | Self::Log(_)
            | Self::LogFolder(_)
            | Self::Bytes(_) => DATA,
            Self::Overwrites(_) | Self::OverRecording(_) => USAGE,
            Self::Simulate(SimulateError::Write(_) | SimulateError::Output(_))
            | Self::Output(_)
            | Self::File { .. } => STORE,
            Self::Record(RecordError::Store(_)) => STORE,
            Self::Record(RecordError::NoWayBack) => USAGE,
            Self::Record(_) => LINK,
            Self::Demo(error) => match error {
                DemoError::Write(_)
                | DemoError::File { .. }
                | DemoError::NotOurs(_)
                | DemoError::OtherLog(_)
                | DemoError::Output(_) => STORE,
                _ => DATA,
            },
            Self::Simulate(_) => DATA,
        })
    }
}

/// It ran, but the answer is no.
pub const NOT_ACCEPTED: u8 = 1;
/// Wrong use of the command line.
const USAGE: u8 = 2;
/// Bad or damaged data.
pub const DATA: u8 = 3;
/// A link or device.
const LINK: u8 = 4;
/// The store, or a file to be written.
const STORE: u8 = 5;
