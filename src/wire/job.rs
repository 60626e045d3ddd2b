//! The job on its way to the controller: longer than a frame, so in pieces.

use core::fmt;

use heapless::Vec;
use serde::{Deserialize, Serialize};

use super::crc32;

const CHUNK: usize = 192;

/// A piece of the job description (kind 66). What the bytes mean is between the host and the
/// controller's own build; the transfer only promises that they arrive whole.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct JobChunk {
    /// Length of the whole job in bytes.
    pub total: u16,
    /// Where this piece belongs, in bytes from the start; 0 begins a new transfer.
    pub offset: u16,
    /// [`crc32`] of the whole job.
    pub crc: u32,
    /// The piece.
    pub data: Vec<u8, CHUNK>,
}

/// The pieces of `job`, in order; `None` if it is longer than 65 535 bytes or empty.
pub fn job_chunks(job: &[u8]) -> Option<impl Iterator<Item = JobChunk> + '_> {
    let total = u16::try_from(job.len()).ok().filter(|&n| n > 0)?;
    let crc = crc32(job);
    Some(
        job.chunks(CHUNK)
            .zip(0_u16..)
            .map(move |(piece, i)| JobChunk {
                total,
                offset: i.saturating_mul(CHUNK as u16),
                crc,
                data: Vec::from_slice(piece).unwrap_or_default(),
            }),
    )
}

/// What became of a job that was sent, as it travels in [`JobReply`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum JobStatus {
    /// It arrived whole and the monitor took it.
    Loaded,
    /// It is longer than the controller's memory for it.
    TooLarge,
    /// A piece was missing or came twice.
    OutOfOrder,
    /// The whole did not match its CRC.
    Damaged,
    /// It arrived whole, but the monitor refused it or another version wrote it.
    Refused,
    /// It arrived whole and is sound, but needs a [`Part`](crate::parts::Part) that the controller's
    /// software was built without.
    PartLeftOut,
}

/// Answer to a job transfer (kind 10).
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct JobReply {
    /// [`crc32`] of the job meant.
    pub crc: u32,
    /// Number of the [`JobStatus`].
    pub status: u8,
}

/// Why a transfer cannot go on. It must begin again at offset 0.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum TransferError {
    /// The job is longer than the memory set aside for it.
    TooLarge {
        /// Its length in bytes.
        total: u16,
        /// The memory in bytes.
        room: usize,
    },
    /// A piece was missing or came twice.
    OutOfOrder {
        /// Offset that should have come, in bytes.
        expected: usize,
        /// Offset that came, in bytes.
        found: u16,
    },
    /// The whole does not match its CRC.
    Damaged,
}

impl TransferError {
    /// The status that tells the host.
    pub const fn status(self) -> JobStatus {
        match self {
            Self::TooLarge { .. } => JobStatus::TooLarge,
            Self::OutOfOrder { .. } => JobStatus::OutOfOrder,
            Self::Damaged => JobStatus::Damaged,
        }
    }
}

impl fmt::Display for TransferError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TooLarge { total, room } => write!(
                f,
                "job of {total} bytes does not fit the controller's {room}: enlarge its JobAssembler"
            ),
            Self::OutOfOrder { expected, found } => write!(
                f,
                "job piece at byte {found} came where byte {expected} was due: send the job again"
            ),
            Self::Damaged => write!(f, "job does not match its CRC: send it again"),
        }
    }
}

impl core::error::Error for TransferError {}

/// Puts a job of up to `B` bytes together again.
#[derive(Debug, Default)]
pub struct JobAssembler<const B: usize> {
    bytes: Vec<u8, B>,
}

impl<const B: usize> JobAssembler<B> {
    /// An empty assembler.
    pub const fn new() -> Self {
        Self { bytes: Vec::new() }
    }

    /// Takes the next piece; returns the whole job with its last one.
    ///
    /// # Errors
    /// [`TransferError`]; the pieces so far are then dropped.
    pub fn offer(&mut self, chunk: &JobChunk) -> Result<Option<&[u8]>, TransferError> {
        let result = self.append(chunk);
        if result.is_err() {
            self.bytes.clear();
        }
        Ok(result?.then_some(self.bytes.as_slice()))
    }

    fn append(&mut self, chunk: &JobChunk) -> Result<bool, TransferError> {
        if chunk.offset == 0 {
            self.bytes.clear();
        }
        if usize::from(chunk.offset) != self.bytes.len() {
            return Err(TransferError::OutOfOrder {
                expected: self.bytes.len(),
                found: chunk.offset,
            });
        }
        let too_large = TransferError::TooLarge {
            total: chunk.total,
            room: B,
        };
        self.bytes
            .extend_from_slice(&chunk.data)
            .map_err(|_| too_large)?;
        match self.bytes.len().cmp(&usize::from(chunk.total)) {
            core::cmp::Ordering::Less => Ok(false),
            core::cmp::Ordering::Equal if crc32(&self.bytes) == chunk.crc => Ok(true),
            _ => Err(TransferError::Damaged),
        }
    }
}
