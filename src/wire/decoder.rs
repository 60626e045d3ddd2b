//! From bytes as they come to whole frames.

use cobs::{DecodeResult, DecoderState};
use heapless::Vec;

use super::frame::{Frame, MAX_CONTENT, open};

/// What a receiver saw on its link since it was made. Every count stops at its maximum.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct LinkCounts {
    /// Whole frames handed out.
    pub frames: u32,
    /// Pieces between delimiters that were no sound frame.
    pub garbled: u32,
    /// Frames missing by the sender's counter.
    pub lost: u32,
    /// Repeats of the last frame, dropped.
    pub repeats: u32,
    /// Times the sender's counter went back: it was started again.
    pub restarts: u32,
}

/// Finds frames in a stream of bytes, in fixed memory, and never gives up: after damage or
/// over-length it goes on behind the next delimiter.
#[derive(Debug, Default)]
pub struct Decoder {
    cobs: DecoderState,
    content: Vec<u8, MAX_CONTENT>,
    skipping: bool,
    last: Option<(u32, u32)>,
    counts: LinkCounts,
}

impl Decoder {
    /// A decoder at the start of a link.
    pub fn new() -> Self {
        Self::default()
    }

    /// What was seen so far.
    pub const fn counts(&self) -> LinkCounts {
        self.counts
    }

    /// Takes one byte; returns the frame that it completes, if it does.
    pub fn feed(&mut self, byte: u8) -> Option<Frame<'_>> {
        if self.skipping {
            self.skipping = byte != 0;
            return None;
        }
        match self.cobs.feed(byte) {
            Ok(DecodeResult::NoData) => {}
            Ok(DecodeResult::DataStart) => self.content.clear(),
            Ok(DecodeResult::DataContinue(data)) => {
                if self.content.push(data).is_err() {
                    // A tail must not pass for a frame: skip to the delimiter.
                    self.cobs = DecoderState::Idle;
                    self.skipping = true;
                    count(&mut self.counts.garbled, 1);
                }
            }
            Ok(DecodeResult::DataComplete) => return self.complete(),
            Err(_) => count(&mut self.counts.garbled, 1),
        }
        None
    }

    fn complete(&mut self) -> Option<Frame<'_>> {
        let Some((frame, crc)) = open(&self.content) else {
            count(&mut self.counts.garbled, 1);
            return None;
        };
        if let Some((last_seq, last_crc)) = self.last {
            if (last_seq, last_crc) == (frame.seq, crc) {
                count(&mut self.counts.repeats, 1);
                return None;
            }
            let missing = frame.seq.wrapping_sub(last_seq.wrapping_add(1));
            if missing < u32::MAX / 2 {
                count(&mut self.counts.lost, missing);
            } else {
                count(&mut self.counts.restarts, 1);
            }
        }
        self.last = Some((frame.seq, crc));
        count(&mut self.counts.frames, 1);
        Some(frame)
    }
}

fn count(counter: &mut u32, by: u32) {
    *counter = counter.saturating_add(by);
}
