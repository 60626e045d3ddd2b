//! From a message to bytes between two delimiters.

use core::fmt;

use crc::{CRC_32_ISO_HDLC, Crc};

use super::{Payload, bytes};

/// Version of the protocol this crate speaks.
pub const PROTO: u8 = 1;

/// Most bytes a frame's content may have (header, payload and CRC): the longest that COBS never
/// needs a second overhead byte for.
pub const MAX_CONTENT: usize = 254;

/// Most bytes a frame takes on the wire: content, COBS overhead, delimiter.
pub const MAX_WIRE: usize = MAX_CONTENT + 2;

const CRC_BYTES: usize = 4;
const CRC: Crc<u32> = Crc::<u32>::new(&CRC_32_ISO_HDLC);

/// CRC-32/ISO-HDLC of `bytes`, as frames and job transfers carry it.
#[inline(never)]
pub fn crc32(bytes: &[u8]) -> u32 {
    CRC.checksum(bytes)
}

/// A frame that arrived whole; its payload is not yet interpreted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Frame<'a> {
    /// Protocol version the sender speaks.
    pub proto: u8,
    /// Number of the message.
    pub kind: u8,
    /// The sender's frame counter.
    pub seq: u32,
    /// The message, in postcard's format.
    pub payload: &'a [u8],
}

/// Why nothing was encoded.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum EncodeError {
    /// The message does not fit a frame.
    MessageTooLong {
        /// Kind of the message.
        kind: u8,
    },
    /// The buffer given is too short.
    BufferTooShort {
        /// Its length in bytes.
        have: usize,
    },
}

impl fmt::Display for EncodeError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::MessageTooLong { kind } => write!(
                f,
                "message of kind {kind} does not fit a frame of {MAX_CONTENT} bytes: split it"
            ),
            Self::BufferTooShort { have } => write!(
                f,
                "output buffer of {have} bytes is too short for the frame: {MAX_WIRE} always suffice"
            ),
        }
    }
}

impl core::error::Error for EncodeError {}

/// Writes `message` as one frame into `out`, delimiter included, and returns the bytes used.
///
/// # Errors
/// [`EncodeError`] when the message or the frame does not fit; what `out` then holds is no frame.
pub fn encode<T: Payload>(seq: u32, message: &T, out: &mut [u8]) -> Result<usize, EncodeError> {
    let too_long = EncodeError::MessageTooLong { kind: T::KIND };
    let mut content = [0; MAX_CONTENT];
    let used = bytes::write(&(PROTO, T::KIND, seq, message), &mut content).map_err(|_| too_long)?;
    seal(&mut content, used, out, too_long)
}

/// Like [`encode`], for a payload that is bytes already: a message passed on unread.
///
/// # Errors
/// As [`encode`].
pub fn encode_raw(
    kind: u8,
    seq: u32,
    payload: &[u8],
    out: &mut [u8],
) -> Result<usize, EncodeError> {
    let too_long = EncodeError::MessageTooLong { kind };
    let mut content = [0; MAX_CONTENT];
    let head = bytes::write(&(PROTO, kind, seq), &mut content).map_err(|_| too_long)?;
    let used = head.saturating_add(payload.len());
    let room = content.get_mut(head..used).ok_or(too_long)?;
    for (to, from) in room.iter_mut().zip(payload) {
        *to = *from;
    }
    seal(&mut content, used, out, too_long)
}

// CRC and COBS are two plain steps: postcard's own CRC-and-COBS flavours keep a panic reachable.
fn seal(
    content: &mut [u8; MAX_CONTENT],
    used: usize,
    out: &mut [u8],
    too_long: EncodeError,
) -> Result<usize, EncodeError> {
    let too_short = EncodeError::BufferTooShort { have: out.len() };
    let crc = crc32(content.get(..used).ok_or(too_long)?);
    let whole = used.saturating_add(CRC_BYTES);
    let room = content.get_mut(used..whole).ok_or(too_long)?;
    for (to, from) in room.iter_mut().zip(crc.to_le_bytes()) {
        *to = from;
    }
    let content = content.get(..whole).ok_or(too_long)?;
    let length = cobs::try_encode(content, out).map_err(|_| too_short)?;
    *out.get_mut(length).ok_or(too_short)? = 0;
    Ok(length.saturating_add(1))
}

/// Splits a frame's content, CRC included, into its parts; `None` if the CRC is wrong or the
/// content too short. The second part is the CRC, for telling repeats.
pub(super) fn open(content: &[u8]) -> Option<(Frame<'_>, u32)> {
    let (body, crc) = content.split_last_chunk::<CRC_BYTES>()?;
    let crc = u32::from_le_bytes(*crc);
    if crc32(body) != crc {
        return None;
    }
    let [proto, kind, rest @ ..] = body else {
        return None;
    };
    let (seq, payload) = bytes::read(rest).ok()?;
    let frame = Frame {
        proto: *proto,
        kind: *kind,
        seq,
        payload,
    };
    Some((frame, crc))
}
