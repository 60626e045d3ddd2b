//! Messages, framing, integrity, sequence. Knows nothing of detectors and nothing of ports.
//!
//! # The frame, on one page
//!
//! ```text
//! content = [proto u8][kind u8][seq varint u32][payload, postcard][crc u32 little-endian]
//! wire    = COBS(content) 0x00
//! ```
//!
//! | part | bytes | meaning |
//! |---|---|---|
//! | `proto` | 1 | [`PROTO`], the meaning of everything behind `seq`; the frame's own shape never changes |
//! | `kind` | 1 | number of the message, see below; a number is never reused |
//! | `seq` | 1–5 | counts frames of one sender from 0, wraps; seven bits a byte, low bits first, top bit: more follows |
//! | payload | 0–243 | fields one after another, no names, no padding, in the order of the type's declaration |
//! | `crc` | 4 | CRC-32/ISO-HDLC (the one of IEEE 802.3 and zlib) over all before it; check value of `"123456789"`: `0xCBF43926` |
//!
//! A content has at most 254 bytes ([`MAX_CONTENT`]), so COBS adds exactly one byte, and the
//! delimiter another. A receiver that meets a `kind` it does not know still knows the payload's
//! bounds: it keeps or skips the frame and goes on. A frame whose delimiter, COBS or CRC is wrong is
//! counted and dropped; the next 0x00 starts afresh. A sender that comes back after a broken link
//! puts a single 0x00 in front, so that the torn frame ends there. The torn frame is sent again
//! under its old number; a receiver drops a repeat (same `seq`, same `crc`).
//!
//! Payload fields: `u8` and `bool` one byte; `u16`, `u32`, `u64` varint as `seq`, save the time of an
//! alarm, which is four bytes little-endian so that its size is bounded; `f32` IEEE 754,
//! little-endian; `Option` a byte 0 or 1, then the value; lists and texts a varint length, then the
//! elements (UTF-8 bytes); arrays without length. This is the published postcard 1.0 wire format.
//!
//! | kind | controller → host | | kind | host → controller |
//! |---|---|---|---|---|
//! | 1 | [`EarlierHello`] | | 64 | [`Sample`] |
//! | 2 | [`Points`] | | 65 | [`Ack`] |
//! | 3 | [`Alarm`] | | 66 | [`JobChunk`] |
//! | 4 | [`EarlierEvidence`] | | 67 | [`Start`] |
//! | 5 | [`SnugSeen`] | | 68 | [`Finish`] |
//! | 6 | [`SnugAngle`] | | 69 | [`LiftStop`] |
//! | 7 | [`Summary`] | | 70 | [`StartTurn`] |
//! | 8 | [`Thinned`] | | | |
//! | 9 | [`Heartbeat`] | | | |
//! | 10 | [`JobReply`] | | | |
//! | 11 | [`EvidenceWithoutPlace`] | | | |
//! | 12 | [`Hello`] | | | |
//! | 13 | [`Cycle`] | | | |
//! | 14 | [`Evidence`] | | | |
//!
//! Rules of growth: a message is never changed, only replaced by a new one under a new number; enum
//! values travel as the numbers of `codes.rs`, never as positions in a Rust enum.
//!
//! ## Test vectors
//!
//! ```text
//! kind 67 (Start), seq 0, no payload
//!   content  01 43 00 | E3 AF D7 25
//!   wire     03 01 43 05 E3 AF D7 25 00
//! kind 3 (Alarm): id 7, run 1, code 2 (strip), 1 500 000 µs, 12.5 rad, 31.25 N·m, u 0.5 N·m; seq 300
//!   content  01 03 AC 02 | 07 01 02 60 E3 16 00 00 00 48 41 00 00 FA 41 00 00 00 3F | 50 1E C8 60
//!   wire     0B 01 03 AC 02 07 01 02 60 E3 16 01 01 03 48 41 01 03 FA 41 01 01 06 3F 50 1E C8 60 00
//! ```
//!
//! More of them, made by an independent implementation, are in `tests/reference/framing.csv`.
//! The largest alarm takes 32 bytes on the wire (shown by a test).
//!
//! # Example
//!
//! ```
//! use bolting_monitor::wire::{Decoder, FromController, MAX_WIRE, Thinned, encode};
//!
//! let mut bytes = [0; MAX_WIRE];
//! let length = encode(0, &Thinned { points: 3 }, &mut bytes)?;
//!
//! let mut decoder = Decoder::new();
//! for byte in &bytes[..length] {
//!     if let Some(frame) = decoder.feed(*byte) {
//!         let message = FromController::decode(&frame);
//!         assert_eq!(message, Ok(FromController::Thinned(Thinned { points: 3 })));
//!     }
//! }
//! assert_eq!(decoder.counts().frames, 1);
//! # Ok::<(), bolting_monitor::wire::EncodeError>(())
//! ```

mod bytes;
mod codes;
mod decoder;
mod evidence;
mod frame;
mod job;
mod message;
mod outbox;
mod plan;
mod report;
mod request;
mod retained;

pub use decoder::{Decoder, LinkCounts};
pub use evidence::{Alarm, EarlierEvidence, Evidence, EvidenceWithoutPlace};
pub use frame::{EncodeError, Frame, MAX_CONTENT, MAX_WIRE, PROTO, crc32, encode, encode_raw};
pub use job::{JobAssembler, JobChunk, JobReply, JobStatus, TransferError, job_chunks};
pub use message::{FromController, MessageError, Payload, ToController};
pub use outbox::{LinkDown, Outbox, Progress};
pub use plan::{PLAN_VERSION, Plan, PlanError};
pub use report::{
    Cycle, EarlierHello, Heartbeat, Hello, Point, Points, SnugAngle, SnugSeen, Summary, Thinned,
};
pub use request::{Ack, Finish, LiftStop, MAX_JOINTS, Sample, Start, StartTurn};
pub use retained::RetainedFull;
