//! The decoded view of a log.

use std::time::SystemTime;

use bolting_monitor::wire::{Decoder, FromController, LinkCounts, MessageError};

use super::{Content, Digest, RawLog, StoreError, Torn};

/// Something a log tells, with the host's time at which it was known.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// The host's time.
    pub at: SystemTime,
    /// What.
    pub said: Said,
}

/// What a log tells.
#[derive(Clone, Debug, PartialEq)]
#[allow(clippy::large_enum_variant, reason = "messages are most of a log")]
pub enum Said {
    /// The controller said this.
    Message(FromController),
    /// The controller said something that this version does not understand.
    NotUnderstood {
        /// Number of the message.
        kind: u8,
        /// Its bytes.
        payload: Vec<u8>,
        /// Why.
        error: MessageError,
    },
    /// The link came up: the source.
    Connected(String),
    /// The link went down: the reason.
    Lost(String),
}

/// All that a log tells.
#[derive(Clone, Debug, PartialEq)]
pub struct View {
    /// In the order of arrival.
    pub entries: Vec<Entry>,
    /// Frames seen, garbled, missing.
    pub counts: LinkCounts,
    /// An end that is no whole record.
    pub torn: Option<Torn>,
    /// What of the file was read.
    pub digest: Digest,
}

/// Decodes a log.
///
/// # Errors
/// [`StoreError`] if it cannot be read. Garbled frames and a torn end are no errors: see [`View`].
pub fn decode(mut log: RawLog) -> Result<View, StoreError> {
    let mut decoder = Decoder::new();
    let mut entries = Vec::new();
    for record in log.by_ref() {
        let record = record?;
        let mut tell = |said| {
            entries.push(Entry {
                at: record.at,
                said,
            });
        };
        match record.content {
            Content::Connected(source) => tell(Said::Connected(source)),
            Content::Lost(reason) => tell(Said::Lost(reason)),
            Content::Sent(_) => {}
            Content::Received(bytes) => {
                for byte in bytes {
                    if let Some(frame) = decoder.feed(byte) {
                        tell(match FromController::decode(&frame) {
                            Ok(message) => Said::Message(message),
                            Err(error) => Said::NotUnderstood {
                                kind: frame.kind,
                                payload: frame.payload.to_vec(),
                                error,
                            },
                        });
                    }
                }
            }
        }
    }
    Ok(View {
        entries,
        counts: decoder.counts(),
        torn: log.torn(),
        digest: log.digest(),
    })
}
