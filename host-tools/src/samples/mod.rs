//! Reads recorded samples from CSV (RFC 4180, dot decimals, UTF-8, one header row).
//!
//! | column | meaning |
//! |---|---|
//! | `time_s` | time in s, from any origin, never running backwards; from the first row if that is negative |
//! | `q1`…`qN` | joint positions, rad, base first, N up to 8 |
//! | `dq1`…`dqN` | joint velocities, rad/s; may be left out |
//! | `tau1`…`tauN` | joint torques, N·m, as the joint exerts them on the link it moves |
//! | `spindle_angle_rad`, `spindle_torque_nm` | a powered spindle; both or none |
//! | `wrist_fx_n`, `wrist_fy_n`, `wrist_fz_n`, `wrist_mx_nm`, `wrist_my_nm`, `wrist_mz_nm` | a wrist sensor; all or none |
//! | `force_ratio` | see [`Context::force_ratio`]; default 1 |
//! | `arm_enabled`, `tool_powered`, `tool_held`, `payload_held` | 0 or 1; default as in [`Context::new`] |
//!
//! A spindle angle that starts anew with every turn is joined, with a notice.
//!
//! The order of the columns is free; joints or a spindle must be there. Other columns are left out
//! with a notice.

mod columns;
mod oddities;

use std::path::{Path, PathBuf};

use bolting_monitor::arm::MAX_JOINTS;
use bolting_monitor::sample::{Context, JointSample, SpindleReading, WristReading};
use csv::{ReaderBuilder, StringRecord, Trim};

use columns::Columns;

/// Faults of rows that are kept word for word when rows are skipped.
const KEPT_FAULTS: usize = 5;
/// Written before UTF-8 text by some programs; the CSV reader would pass over it but not count it.
const BYTE_ORDER_MARK: &[u8] = "\u{feff}".as_bytes();
/// Larger than any clock; below it µs are exact in f64 to a fraction of one.
const LARGEST_TIME_S: f64 = 1e10;

/// What to do with a row that cannot be used.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BadRows {
    /// The recording is refused.
    Refuse,
    /// The row is left out and counted.
    Skip,
}

/// A recording in memory.
#[derive(Clone, Debug)]
pub struct Recording {
    /// Joints in the recording; 0 for a spindle that was read alone.
    pub joints: usize,
    /// Sentences for the user, e.g. of columns that were left out.
    pub notices: Vec<String>,
    /// Rows that were left out.
    pub skipped: usize,
    /// The first few of their faults, with the line.
    pub faults: Vec<(usize, Fault)>,
    /// Joints beyond `joints` are zero.
    samples: Vec<JointSample<MAX_JOINTS>>,
}

impl Recording {
    /// Reads the file at `path`.
    ///
    /// # Errors
    /// See [`SamplesError`].
    pub fn load(path: &Path, bad_rows: BadRows) -> Result<Self, SamplesError> {
        let bytes = std::fs::read(path).map_err(|source| SamplesError {
            path: path.to_owned(),
            line: None,
            fault: Fault::Unreadable(source.to_string()),
        })?;
        Self::parse(&bytes, path, bad_rows)
    }

    /// Reads a recording from `bytes` as if they stood in the file at `path`.
    ///
    /// # Errors
    /// See [`SamplesError`].
    pub fn parse(bytes: &[u8], path: &Path, bad_rows: BadRows) -> Result<Self, SamplesError> {
        let refuse = |line, fault| SamplesError {
            path: path.to_owned(),
            line,
            fault,
        };
        let bytes = bytes.strip_prefix(BYTE_ORDER_MARK).unwrap_or(bytes);
        let mut reader = ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .trim(Trim::All)
            .from_reader(bytes);
        let mut row = StringRecord::new();
        let header = match reader.read_record(&mut row) {
            Ok(true) => Columns::find(&row),
            Ok(false) => Err(Fault::Empty),
            Err(_) => Err(Fault::NotText),
        };
        let columns = header.map_err(|fault| refuse(Some(line_at(bytes, 0)), fault))?;
        let mut recording = Self {
            joints: columns.joints(),
            notices: columns.notices(),
            skipped: 0,
            faults: Vec::new(),
            samples: Vec::new(),
        };
        let mut clock = Clock::default();
        loop {
            let start = reader.position().byte();
            let sample = match reader.read_record(&mut row) {
                Ok(false) => break,
                Ok(true) => sample(&row, &columns, &mut clock),
                Err(_) => Err(Fault::NotText),
            };
            let fault = match sample {
                Ok(sample) => {
                    recording.samples.push(sample);
                    continue;
                }
                Err(fault) => fault,
            };
            if bad_rows == BadRows::Refuse {
                return Err(refuse(Some(line_at(bytes, start)), fault));
            }
            recording.skipped += 1;
            if recording.faults.len() < KEPT_FAULTS {
                recording.faults.push((line_at(bytes, start), fault));
            }
        }
        if recording.samples.is_empty() {
            return Err(refuse(None, Fault::NoRows));
        }
        recording.notices.extend(oddities::slow(&recording.samples));
        recording
            .notices
            .extend(oddities::unwrapped(&mut recording.samples));
        Ok(recording)
    }

    /// How many samples there are; at least one.
    #[expect(clippy::len_without_is_empty, reason = "a recording is never empty")]
    pub fn len(&self) -> usize {
        self.samples.len()
    }

    /// Whether a powered spindle was read.
    pub fn has_spindle(&self) -> bool {
        self.samples.iter().all(|sample| sample.spindle.is_some())
    }

    /// Every position of every joint, with the joint from 0, rad.
    pub fn positions_rad(&self) -> impl Iterator<Item = (usize, f32)> + '_ {
        let joints = 0..self.joints;
        (self.samples.iter()).flat_map(move |sample| {
            (joints.clone()).map(|joint| (joint, sample.position_rad[joint]))
        })
    }

    /// The samples without their joints and wrist, in the order of time.
    pub fn spindle_samples(&self) -> impl Iterator<Item = JointSample<0>> + '_ {
        self.samples.iter().map(|sample| JointSample {
            wrist: None,
            velocity_rad_s: None,
            ..narrow(sample)
        })
    }

    /// The samples for a model of `N` joints, in the order of time; `None` if the recording has
    /// another number of joints.
    pub fn samples<const N: usize>(&self) -> Option<impl Iterator<Item = JointSample<N>> + '_> {
        (self.joints == N).then(|| self.samples.iter().map(narrow))
    }
}

/// The first `N` joints.
fn narrow<const N: usize>(wide: &JointSample<MAX_JOINTS>) -> JointSample<N> {
    let first = |all: &[f32; MAX_JOINTS]| std::array::from_fn(|i| all[i]);
    JointSample {
        time_us: wide.time_us,
        position_rad: first(&wide.position_rad),
        velocity_rad_s: wide.velocity_rad_s.as_ref().map(first),
        torque_nm: first(&wide.torque_nm),
        wrist: wide.wrist,
        spindle: wide.spindle,
        context: wide.context,
    }
}

/// Line, from 1, of the row that the reader found from byte `start` on. The reader passes over blank
/// lines and counts from before them.
fn line_at(bytes: &[u8], start: u64) -> usize {
    let start = usize::try_from(start).map_or(bytes.len(), |start| start.min(bytes.len()));
    let blank = bytes[start..]
        .iter()
        .take_while(|byte| matches!(byte, b'\r' | b'\n'))
        .count();
    let newlines = bytes[..start + blank].iter().filter(|byte| **byte == b'\n');
    1 + newlines.count()
}

/// Turns times into µs that never run backwards.
#[derive(Default)]
struct Clock {
    origin_s: f64,
    last_s: Option<f64>,
}

impl Clock {
    fn us(&mut self, time_s: f64) -> Result<u64, Fault> {
        if time_s.abs() > LARGEST_TIME_S {
            return Err(Fault::TooLarge {
                column: columns::TIME.to_owned(),
                value: time_s,
            });
        }
        match self.last_s {
            Some(last_s) if time_s < last_s => return Err(Fault::TimeBackwards { last_s, time_s }),
            None => self.origin_s = time_s.min(0.0),
            Some(_) => {}
        }
        self.last_s = Some(time_s);
        Ok(((time_s - self.origin_s) * 1e6).round() as u64)
    }
}

/// The clock is only moved on by a row that is good as a whole.
fn sample(
    row: &StringRecord,
    columns: &Columns,
    clock: &mut Clock,
) -> Result<JointSample<MAX_JOINTS>, Fault> {
    if row.len() != columns.width() {
        return Err(Fault::Width {
            fields: row.len(),
            columns: columns.width(),
        });
    }
    let number = |column: usize| -> Result<f64, Fault> {
        let text = row.get(column).unwrap_or_default();
        text.parse()
            .ok()
            .filter(|x: &f64| x.is_finite())
            .ok_or_else(|| Fault::NotANumber {
                column: columns.name(column),
                text: text.to_owned(),
            })
    };
    let single = |column: usize| -> Result<f32, Fault> {
        let value = number(column)?;
        Some(value as f32)
            .filter(|x| x.is_finite())
            .ok_or_else(|| Fault::TooLarge {
                column: columns.name(column),
                value,
            })
    };
    let joints = |of: &[usize]| -> Result<[f32; MAX_JOINTS], Fault> {
        let mut all = [0.0; MAX_JOINTS];
        for (out, column) in all.iter_mut().zip(of) {
            *out = single(*column)?;
        }
        Ok(all)
    };
    let switch = |column: Option<usize>, default: bool| match column.map(number).transpose()? {
        None => Ok(default),
        Some(0.0) => Ok(false),
        Some(1.0) => Ok(true),
        Some(value) => Err(Fault::NotASwitch {
            column: columns.name(column.unwrap_or_default()),
            value,
        }),
    };
    let default = Context::new();
    let [arm_enabled, tool_powered, tool_held, payload_held] = columns.switches;
    let context = Context {
        force_ratio: columns
            .force_ratio
            .map_or(Ok(default.force_ratio), single)?,
        arm_enabled: switch(arm_enabled, default.arm_enabled)?,
        tool_powered: switch(tool_powered, default.tool_powered)?,
        tool_held: switch(tool_held, default.tool_held)?,
        payload_held: switch(payload_held, default.payload_held)?,
    };
    let wrist = |[fx, fy, fz, mx, my, mz]: [usize; 6]| -> Result<WristReading, Fault> {
        Ok(WristReading {
            force_n: [single(fx)?, single(fy)?, single(fz)?],
            moment_nm: [single(mx)?, single(my)?, single(mz)?],
        })
    };
    let spindle = |[angle, torque]: [usize; 2]| -> Result<SpindleReading, Fault> {
        Ok(SpindleReading {
            angle_rad: single(angle)?,
            torque_nm: single(torque)?,
        })
    };
    let position_rad = joints(&columns.position)?;
    let velocity_rad_s = columns.velocity.as_deref().map(joints).transpose()?;
    let torque_nm = joints(&columns.torque)?;
    let wrist = columns.wrist.map(wrist).transpose()?;
    let spindle = columns.spindle.map(spindle).transpose()?;
    Ok(JointSample {
        time_us: clock.us(number(columns.time)?)?,
        position_rad,
        velocity_rad_s,
        torque_nm,
        wrist,
        spindle,
        context,
    })
}

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
