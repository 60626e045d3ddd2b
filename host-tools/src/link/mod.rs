//! Bytes from and to a controller, over a serial port, TCP or standard input. A blocking thread
//! reads; it comes back by itself after the plug was pulled.

mod source;
mod talk;

use std::io::{self, ErrorKind, Read, Write};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread;
use std::time::{Duration, SystemTime};

pub use source::{Source, SourceError};
pub use talk::{Acknowledger, Sequence};

/// How long a read waits before it looks whether it is to stop, and how long the reader waits before
/// it tries a lost link again.
const PAUSE: Duration = Duration::from_millis(100);

/// Something that happened on a link.
#[derive(Debug)]
pub struct Event {
    /// When, by the host's clock.
    pub at: SystemTime,
    /// What.
    pub what: What,
}

/// What happened on a link.
#[derive(Debug, PartialEq, Eq)]
pub enum What {
    /// It is up.
    Connected,
    /// These bytes came.
    Bytes(Vec<u8>),
    /// It is down, for this reason; said once until it is up again or the reason changes.
    Lost(String),
    /// Standard input has ended: nothing more will come.
    Ended,
}

type Writer = Box<dyn Write + Send>;

/// A link that is read in the background.
pub struct Link {
    events: Receiver<Event>,
    writer: Arc<Mutex<Option<Writer>>>,
    stop: Arc<AtomicBool>,
}

impl Link {
    /// Begins to read from `source`, which need not be there yet.
    pub fn open(source: Source) -> Self {
        let (sender, events) = channel();
        let writer = Arc::new(Mutex::new(None));
        let stop = Arc::new(AtomicBool::new(false));
        let reader = Reader {
            source,
            sender,
            writer: Arc::clone(&writer),
            stop: Arc::clone(&stop),
        };
        // Not joined: a read of standard input cannot be interrupted.
        thread::spawn(move || reader.run());
        Self {
            events,
            writer,
            stop,
        }
    }

    /// What happened, in order. Ends when the reader has stopped and all is taken.
    pub fn events(&self) -> &Receiver<Event> {
        &self.events
    }

    /// Asks the reader to stop; what it has read by then still comes.
    pub fn stop(&self) {
        self.stop.store(true, Ordering::Relaxed);
    }

    /// Sends bytes. Returns `false` if the link is down or has no way back.
    ///
    /// # Errors
    /// The link's own error; the reader will notice and say so, too.
    pub fn send(&self, bytes: &[u8]) -> io::Result<bool> {
        let mut writer = self.writer.lock().unwrap_or_else(PoisonError::into_inner);
        match writer.as_mut() {
            Some(writer) => writer.write_all(bytes).map(|()| true),
            None => Ok(false),
        }
    }
}

impl Drop for Link {
    fn drop(&mut self) {
        self.stop();
    }
}

struct Reader {
    source: Source,
    sender: Sender<Event>,
    writer: Arc<Mutex<Option<Writer>>>,
    stop: Arc<AtomicBool>,
}

impl Reader {
    fn run(self) {
        let mut last_reason = None;
        while !self.stopped() {
            match self.source.connect(PAUSE) {
                Ok((port, writer)) => {
                    last_reason = None;
                    self.set_writer(writer);
                    if !self.say(What::Connected) {
                        return;
                    }
                    let reason = self.read_all(port);
                    self.set_writer(None);
                    let Some(reason) = reason else { return };
                    let what = if matches!(self.source, Source::Stdin) {
                        What::Ended
                    } else {
                        What::Lost(reason)
                    };
                    let ended = what == What::Ended;
                    if !self.say(what) || ended {
                        return;
                    }
                }
                Err(error) => {
                    let reason = error.to_string();
                    if last_reason.as_ref() != Some(&reason)
                        && !self.say(What::Lost(reason.clone()))
                    {
                        return;
                    }
                    last_reason = Some(reason);
                    thread::sleep(PAUSE);
                }
            }
        }
    }

    /// Reads until the link is lost (the reason) or nobody listens any more (`None`).
    fn read_all(&self, mut port: Box<dyn Read + Send>) -> Option<String> {
        let mut buffer = [0; 4096];
        while !self.stopped() {
            match port.read(&mut buffer) {
                Ok(0) => return Some("the other end closed the link".to_owned()),
                Ok(n) => {
                    if !self.say(What::Bytes(buffer[..n].to_vec())) {
                        return None;
                    }
                }
                Err(e) => match e.kind() {
                    ErrorKind::TimedOut | ErrorKind::WouldBlock | ErrorKind::Interrupted => {}
                    _ => return Some(e.to_string()),
                },
            }
        }
        None
    }

    fn stopped(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }

    fn set_writer(&self, writer: Option<Writer>) {
        *self.writer.lock().unwrap_or_else(PoisonError::into_inner) = writer;
    }

    fn say(&self, what: What) -> bool {
        let at = SystemTime::now();
        self.sender.send(Event { at, what }).is_ok()
    }
}
