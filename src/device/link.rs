//! Frames from a port.

use embedded_io::{Read, ReadReady};

use crate::wire::{Decoder, Frame, LinkCounts};

/// Reads frames from any port, as bytes come.
#[derive(Debug)]
pub struct FrameReader<R> {
    port: R,
    decoder: Decoder,
}

impl<R: Read + ReadReady> FrameReader<R> {
    /// A reader on `port`.
    pub fn new(port: R) -> Self {
        Self {
            port,
            decoder: Decoder::new(),
        }
    }

    /// Hands every frame that the bytes at hand complete to `take`, then returns. Reads at most
    /// `limit` bytes, so that a fast sender cannot hold up the caller. Never blocks.
    ///
    /// # Errors
    /// The port's own error, unchanged; the reader can go on with the next call.
    pub fn poll(&mut self, limit: usize, mut take: impl FnMut(Frame<'_>)) -> Result<(), R::Error> {
        let mut byte = [0];
        for _ in 0..limit {
            if !self.port.read_ready()? || self.port.read(&mut byte)? == 0 {
                break;
            }
            let [byte] = byte;
            if let Some(frame) = self.decoder.feed(byte) {
                take(frame);
            }
        }
        Ok(())
    }

    /// What was seen so far.
    pub const fn counts(&self) -> LinkCounts {
        self.decoder.counts()
    }
}
