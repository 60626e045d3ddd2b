//! Raw truth first: what came over the link, byte for byte, with the host's time; decoded only when
//! it is read, so that a fault in a decoder never costs evidence.
//!
//! # The file, version 1
//!
//! ```text
//! header  "WIRELOG" [version u8 = 1]
//! record  [tag u8][length u32][time i64][data, length bytes][crc u32]     integers little-endian
//! ```
//!
//! `time` is the host's UTC time in nanoseconds since 1970-01-01; `crc` is CRC-32/ISO-HDLC over all
//! of the record before it. Records are only ever appended.
//!
//! | tag | data |
//! |---|---|
//! | 1 | bytes as received, cut anywhere |
//! | 2 | link came up: the source, UTF-8 |
//! | 3 | link went down: the reason, UTF-8 |
//! | 4 | bytes as sent |
//!
//! A reader skips tags it does not know. A record that is cut short or fails its CRC ends the log: a
//! writer that was killed leaves at most one such record at the end. The rule for growth: a tag is
//! never reused; a new version number only if records themselves change.

mod partial;
mod raw;
mod runs;
mod view;

pub use raw::{Content, Digest, RawLog, RawWriter, Record, StoreError, Torn};
pub use runs::{LoggedRun, runs};
pub use view::{Entry, Said, View, decode};
