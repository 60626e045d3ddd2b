//! `record`: from a link into a log, through pulled plugs.

use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::RecvTimeoutError;
use std::time::{Duration, Instant, SystemTime};

use bolting_monitor::wire::{Ack, Decoder, FromController, LinkCounts};

use crate::link::{Acknowledger, Link, Sequence, Source, What};
use crate::store::{Content, RawWriter, Record, StoreError};

/// Record what a controller says into a new log, until interrupted (or standard input ends).
#[derive(Clone, Debug, clap::Args)]
pub struct RecordArgs {
    /// Where it comes from: serial:/dev/ttyUSB0?baud=921600, tcp:HOST:PORT, or - for standard input
    #[arg(long, value_name = "SOURCE")]
    pub from: Source,
    /// The log to make; an existing file is never overwritten
    #[arg(long, value_name = "FILE")]
    pub out: PathBuf,
    /// Acknowledge alarms, snug points and summaries once they are in the log
    #[arg(long)]
    pub ack: bool,
}

/// Why a recording ended before it was asked to.
#[derive(Debug, thiserror::Error)]
pub enum RecordError {
    /// The log cannot be written.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// Acknowledgements have no way back.
    #[error(
        "--ack needs a way back to the controller, and standard input has none: use serial: or tcp:"
    )]
    NoWayBack,
    /// The interrupt handler cannot be set.
    #[error("cannot watch for interrupts: {0}")]
    Interrupt(#[from] ctrlc::Error),
}

/// What was recorded.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Totals {
    /// Bytes received, all of them in the log.
    pub bytes: u64,
    /// Frames seen, garbled, missing.
    pub frames: LinkCounts,
    /// Times the link was lost after it had been up.
    pub breaks: u32,
    /// Acknowledgements sent.
    pub acknowledged: u32,
}

/// Records until SIGINT or SIGTERM; progress and totals go to standard error.
///
/// # Errors
/// [`RecordError`]. A link that is down is no error: it is waited for.
pub fn run(args: &RecordArgs) -> Result<(), RecordError> {
    let stop = Arc::new(AtomicBool::new(false));
    let seen = Arc::clone(&stop);
    ctrlc::set_handler(move || seen.store(true, Ordering::Relaxed))?;
    let totals = record(args, &stop)?;
    let f = totals.frames;
    eprintln!(
        "{}: {} bytes, {} frames, {} garbled, {} missing, {} repeated; link lost {} times; {} acknowledged",
        args.out.display(),
        totals.bytes,
        f.frames,
        f.garbled,
        f.lost,
        f.repeats,
        totals.breaks,
        totals.acknowledged,
    );
    Ok(())
}

/// Records until `stop` is set or the source has ended.
///
/// # Errors
/// As [`run`].
pub fn record(args: &RecordArgs, stop: &AtomicBool) -> Result<Totals, RecordError> {
    if args.ack && args.from == Source::Stdin {
        return Err(RecordError::NoWayBack);
    }
    let mut log = RawWriter::create(&args.out)?;
    let link = Link::open(args.from.clone());
    let mut decoder = Decoder::new();
    let mut acknowledger = Acknowledger::default();
    let mut sequence = Sequence::default();
    let mut totals = Totals::default();
    let mut up = false;
    let mut quiet = Quiet::default();
    loop {
        if stop.load(Ordering::Relaxed) {
            link.stop();
        }
        let event = match link.events().recv_timeout(Duration::from_millis(200)) {
            Ok(event) => event,
            Err(RecvTimeoutError::Disconnected) => break,
            // Twice the reader's own pause has passed: it has nothing more.
            Err(RecvTimeoutError::Timeout) if stop.load(Ordering::Relaxed) => break,
            Err(RecvTimeoutError::Timeout) => {
                if let Some(silent) = quiet.due(Instant::now()) {
                    let s = silent.as_secs();
                    eprintln!(
                        "{}: up, but nothing has come for {s} s. Between runs a controller may be silent; in a run look at plug, speed and controller",
                        args.from
                    );
                }
                continue;
            }
        };
        let at = event.at;
        let mut keep = |content| log.append(&Record { at, content });
        match event.what {
            What::Connected => {
                up = true;
                quiet.begin(Instant::now());
                eprintln!("connected to {}", args.from);
                keep(Content::Connected(args.from.to_string()))?;
            }
            What::Lost(reason) => {
                quiet = Quiet::default();
                totals.breaks += u32::from(std::mem::take(&mut up));
                eprintln!("{}: {reason}; waiting for it", args.from);
                keep(Content::Lost(reason))?;
            }
            What::Ended => break,
            What::Bytes(bytes) => {
                totals.bytes += bytes.len() as u64;
                quiet.begin(Instant::now());
                keep(Content::Received(bytes.clone()))?;
                let acks = read_acks(&mut decoder, &mut acknowledger, &bytes);
                if args.ack && !acks.is_empty() {
                    // The controller lets go of what is acknowledged: the disk must have it first.
                    log.sync()?;
                    totals.acknowledged += send(&acks, &mut sequence, &link, &mut log)?;
                }
            }
        }
    }
    log.sync()?;
    totals.frames = decoder.counts();
    Ok(totals)
}

/// After how long without a byte somebody is told: ten times the interval of a controller's sign of
/// life in a run.
const SILENCE: Duration = Duration::from_secs(10);

/// A link that is up and says nothing.
#[derive(Default)]
struct Quiet {
    /// Since when, and that nobody was told yet.
    since: Option<Instant>,
}

impl Quiet {
    /// Something came.
    fn begin(&mut self, now: Instant) {
        self.since = Some(now);
    }

    /// How long it has been silent; once in each silence.
    fn due(&mut self, now: Instant) -> Option<Duration> {
        let silent = now.saturating_duration_since(self.since?);
        (silent >= SILENCE).then(|| {
            self.since = None;
            silent
        })
    }
}

fn read_acks(decoder: &mut Decoder, acknowledger: &mut Acknowledger, bytes: &[u8]) -> Vec<Ack> {
    let mut acks = Vec::new();
    for byte in bytes {
        // What is not understood is in the log, and not acknowledged: it was not read.
        if let Some(frame) = decoder.feed(*byte)
            && let Ok(message) = FromController::decode(&frame)
        {
            acks.extend(acknowledger.answer(&message));
        }
    }
    acks
}

// An acknowledgement that cannot be sent is asked for again by the controller.
fn send(
    acks: &[Ack],
    sequence: &mut Sequence,
    link: &Link,
    log: &mut RawWriter,
) -> Result<u32, StoreError> {
    let mut sent = 0;
    for ack in acks {
        if let Ok(frame) = sequence.frame(ack)
            && link.send(&frame).unwrap_or(false)
        {
            sent += 1;
            let at = SystemTime::now();
            log.append(&Record {
                at,
                content: Content::Sent(frame),
            })?;
        }
    }
    Ok(sent)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_silence_is_told_once_and_again_after_the_next_byte() {
        let start = Instant::now();
        let at = |s| start + Duration::from_secs(s);
        let mut quiet = Quiet::default();
        assert_eq!(quiet.due(at(100)), None, "no link, no silence");
        quiet.begin(at(100));
        let told: Vec<_> = (100..130).filter_map(|s| quiet.due(at(s))).collect();
        assert_eq!(told, [SILENCE]);
        quiet.begin(at(130));
        assert_eq!(quiet.due(at(139)), None);
        assert_eq!(quiet.due(at(141)), Some(Duration::from_secs(11)));
    }
}
