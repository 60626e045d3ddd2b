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
//! | `force_ratio` | see [`Context::force_ratio`](bolting_monitor::sample::Context::force_ratio); default 1 |
//! | `arm_enabled`, `tool_powered`, `tool_held`, `payload_held` | 0 or 1; default as in [`Context::new`](bolting_monitor::sample::Context::new) |
//!
//! A spindle angle that starts anew with every turn is joined, with a notice.
//!
//! The order of the columns is free; joints or a spindle must be there. Other columns are left out
//! with a notice.

mod columns;
mod fault;
mod oddities;
mod row;

use std::path::Path;

use bolting_monitor::arm::MAX_JOINTS;
use bolting_monitor::sample::JointSample;
use csv::{ReaderBuilder, StringRecord, Trim};

use columns::Columns;
pub use fault::{Fault, SamplesError};
use row::{Clock, sample};

/// Faults of rows that are kept word for word when rows are skipped.
const KEPT_FAULTS: usize = 5;
/// Written before UTF-8 text by some programs; the CSV reader would pass over it but not count it.
const BYTE_ORDER_MARK: &[u8] = "\u{feff}".as_bytes();

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
        recording.notices.extend(oddities::far(&recording.samples));
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
