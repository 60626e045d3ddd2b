//! Why a recording cannot be read.

use std::path::PathBuf;

use bolting_monitor::arm::MAX_JOINTS;

/// Why a file is no recording.
#[derive(Debug, thiserror::Error)]
#[error("{}: {}{fault}", .path.display(), .line.map_or(String::new(), |line| format!("line {line}: ")))]
pub struct SamplesError {
    /// The file.
    pub path: PathBuf,
    /// The line, from 1; `None` where it concerns the whole file.
    pub line: Option<usize>,
    /// What is wrong.
    pub fault: Fault,
}

/// What is wrong with a recording or with one row of it.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Fault {
    /// The system gave up.
    #[error("cannot be read: {0}")]
    Unreadable(String),
    /// Nothing in it.
    #[error("the file is empty: record again, or give the right file")]
    Empty,
    /// A header, but no row that can be used.
    #[error("there is no row that can be used below the header")]
    NoRows,
    /// The first row holds numbers.
    #[error("the first row holds numbers: put the column names (time_s,q1,…) above it")]
    NoHeader,
    /// Fields that no comma separates.
    #[error(
        "the names are separated by {0}: save the file with commas between the fields and dots in the numbers"
    )]
    Separator(&'static str),
    /// A known name in capitals.
    #[error("column \"{written}\": names are written in small letters, rename it \"{meant}\"")]
    Capitals {
        /// As it stands there.
        written: String,
        /// As it should.
        meant: String,
    },
    /// A time under another name.
    #[error(
        "column \"{0}\" holds the time: convert it to seconds where it is not, and rename it \"time_s\""
    )]
    TimeName(String),
    /// Joints that are counted from 0.
    #[error(
        "column \"{0}\": joints are counted from 1, base first: rename q0 to q1, q1 to q2 and so on, and dq and tau alike"
    )]
    FromZero(String),
    /// A column that others ask for.
    #[error("column \"{column}\" is missing, {because}: add it")]
    MissingColumn {
        /// The missing column.
        column: String,
        /// Why it must be there.
        because: String,
    },
    /// A name that stands twice.
    #[error("column \"{0}\" stands there twice: remove or rename one")]
    TwiceTheColumn(String),
    /// More joints than an arm may have.
    #[error(
        "column \"{0}\" belongs to a ninth joint or beyond: at most {MAX_JOINTS} joints are possible"
    )]
    TooManyJoints(String),
    /// Neither joints nor a spindle.
    #[error(
        "there are neither joint columns (q1,…,tau1,…) nor spindle columns (spindle_angle_rad,spindle_torque_nm)"
    )]
    NoSource,
    /// Bytes that are not UTF-8.
    #[error("the row is not UTF-8 text")]
    NotText,
    /// A row with more or fewer fields than the header.
    #[error(
        "the row has {fields} fields, the header {columns}: was the recording cut off, or a decimal comma used?"
    )]
    Width {
        /// Fields of the row.
        fields: usize,
        /// Columns of the header.
        columns: usize,
    },
    /// Text that is no number, or NaN, or infinite.
    #[error("column \"{column}\" holds \"{text}\", which is not a finite number")]
    NotANumber {
        /// The column.
        column: String,
        /// Its text.
        text: String,
    },
    /// A number beyond what the core can hold.
    #[error(
        "column \"{column}\" holds {value:e}, which is too large: is the unit the one in the name?"
    )]
    TooLarge {
        /// The column.
        column: String,
        /// Its value.
        value: f64,
    },
    /// A switch that is neither 0 nor 1.
    #[error("column \"{column}\" holds {value}: a switch is 0 or 1")]
    NotASwitch {
        /// The column.
        column: String,
        /// Its value.
        value: f64,
    },
    /// A time before the one above it.
    #[error(
        "time runs backwards, from {last_s} s to {time_s} s: sort the rows, or cut the recording in two"
    )]
    TimeBackwards {
        /// Time of the row above, s.
        last_s: f64,
        /// Time of the row, s.
        time_s: f64,
    },
}
