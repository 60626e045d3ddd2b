//! The log file, written and read.

use std::fs::File;
use std::io::{self, BufReader, Read, Write};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

use bolting_monitor::wire::crc32;
use sha2::{Digest as _, Sha256};

const MAGIC: &[u8; 7] = b"WIRELOG";
const VERSION: u8 = 1;
const HEAD: usize = 1 + 4 + 8;
/// No writer makes a longer record; a longer one is damage.
const MAX_DATA: usize = 1 << 20;
const SYNC_INTERVAL: Duration = Duration::from_secs(1);

/// Why a log cannot be written or read.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// The system refused.
    #[error("{path}: cannot {what}: {error}")]
    Io {
        /// The file.
        path: PathBuf,
        /// What was tried.
        what: &'static str,
        /// What the system says.
        error: io::Error,
    },
    /// The file is something else.
    #[error("{0} is no wire log, or an empty one: it does not begin with \"WIRELOG\"")]
    NoLog(PathBuf),
    /// The file is from a newer version.
    #[error(
        "{path} is a wire log of version {version}, this version reads up to {VERSION}: use a newer one"
    )]
    Newer {
        /// The file.
        path: PathBuf,
        /// Its version.
        version: u8,
    },
    /// The file is of no version that there ever was.
    #[error(
        "{0} begins as a wire log but is of version 0, which never was: it is damaged; look for another copy"
    )]
    NoVersion(PathBuf),
}

/// What a record holds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Content {
    /// Bytes as received.
    Received(Vec<u8>),
    /// The link came up: the source.
    Connected(String),
    /// The link went down: the reason.
    Lost(String),
    /// Bytes as sent.
    Sent(Vec<u8>),
}

impl Content {
    fn parts(&self) -> (u8, &[u8]) {
        match self {
            Self::Received(bytes) => (1, bytes),
            Self::Connected(text) => (2, text.as_bytes()),
            Self::Lost(text) => (3, text.as_bytes()),
            Self::Sent(bytes) => (4, bytes),
        }
    }

    fn new(tag: u8, data: Vec<u8>) -> Option<Self> {
        let text = |data: Vec<u8>| String::from_utf8_lossy(&data).into_owned();
        match tag {
            1 => Some(Self::Received(data)),
            2 => Some(Self::Connected(text(data))),
            3 => Some(Self::Lost(text(data))),
            4 => Some(Self::Sent(data)),
            _ => None,
        }
    }
}

/// One entry of the log.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Record {
    /// The host's time.
    pub at: SystemTime,
    /// What it holds.
    pub content: Content,
}

/// Appends to a new log. Every record is handed to the system at once, so that the end of this
/// process loses nothing; the disk is told to keep it every second.
#[derive(Debug)]
pub struct RawWriter {
    file: File,
    path: PathBuf,
    synced: Instant,
}

impl RawWriter {
    /// Makes a new log.
    ///
    /// # Errors
    /// [`StoreError::Io`], also if the file is there already: a recording is never overwritten.
    pub fn create(path: &Path) -> Result<Self, StoreError> {
        let io = |error| StoreError::Io {
            path: path.to_owned(),
            what: "make this new file",
            error,
        };
        let mut file = File::create_new(path).map_err(io)?;
        let mut header = MAGIC.to_vec();
        header.push(VERSION);
        file.write_all(&header).map_err(io)?;
        file.sync_all().map_err(io)?;
        keep_name(path).map_err(io)?;
        Ok(Self {
            file,
            path: path.to_owned(),
            synced: Instant::now(),
        })
    }

    /// Appends a record.
    ///
    /// # Errors
    /// [`StoreError::Io`], for example when the disk is full.
    pub fn append(&mut self, record: &Record) -> Result<(), StoreError> {
        let (tag, data) = record.content.parts();
        for piece in data.chunks(MAX_DATA) {
            let mut bytes = Vec::with_capacity(HEAD + piece.len() + 4);
            bytes.push(tag);
            bytes.extend((piece.len() as u32).to_le_bytes());
            bytes.extend(nanoseconds(record.at).to_le_bytes());
            bytes.extend(piece);
            bytes.extend(crc32(&bytes).to_le_bytes());
            self.file
                .write_all(&bytes)
                .map_err(|error| self.error("write", error))?;
        }
        if self.synced.elapsed() >= SYNC_INTERVAL {
            self.sync()?;
        }
        Ok(())
    }

    /// Has the disk keep everything so far.
    ///
    /// # Errors
    /// [`StoreError::Io`].
    pub fn sync(&mut self) -> Result<(), StoreError> {
        self.synced = Instant::now();
        self.file
            .sync_data()
            .map_err(|error| self.error("write to disk", error))
    }

    fn error(&self, what: &'static str, error: io::Error) -> StoreError {
        StoreError::Io {
            path: self.path.clone(),
            what,
            error,
        }
    }
}

/// Has the disk keep that the file is there: its name is in its folder, not in the file.
#[cfg(unix)]
fn keep_name(path: &Path) -> io::Result<()> {
    let folder = path.parent().filter(|folder| *folder != Path::new(""));
    let folder = File::open(folder.unwrap_or(Path::new(".")))?;
    match folder.sync_all() {
        // A file system that cannot keep a folder by itself.
        Err(error) if error.kind() == io::ErrorKind::InvalidInput => Ok(()),
        done => done,
    }
}

/// Folders cannot be opened everywhere.
#[cfg(not(unix))]
fn keep_name(_: &Path) -> io::Result<()> {
    Ok(())
}

fn nanoseconds(at: SystemTime) -> i64 {
    match at.duration_since(UNIX_EPOCH) {
        Ok(after) => i64::try_from(after.as_nanos()).unwrap_or(i64::MAX),
        Err(before) => i64::try_from(before.duration().as_nanos()).map_or(i64::MIN, |ns| -ns),
    }
}

fn time(nanoseconds: i64) -> SystemTime {
    let distance = Duration::from_nanos(nanoseconds.unsigned_abs());
    if nanoseconds < 0 {
        UNIX_EPOCH - distance
    } else {
        UNIX_EPOCH + distance
    }
}

/// An end of the log that is no whole record.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Torn {
    /// Where it begins, in bytes from the start of the file.
    pub offset: u64,
    /// How long it is.
    pub bytes: u64,
    /// Whether the file ends before the record does, as while it is still being written; else the record
    /// is damaged.
    pub cut_short: bool,
}

/// What was read of a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Digest {
    /// Bytes from its start.
    pub bytes: u64,
    /// SHA-256 of them.
    pub sha256: [u8; 32],
}

/// Counts and hashes what is read: a file that is still being written may be another one when it is
/// read again.
#[derive(Debug)]
struct Hashed {
    file: File,
    bytes: u64,
    sha256: Sha256,
}

impl Read for Hashed {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let length = self.file.read(buffer)?;
        self.bytes += length as u64;
        self.sha256.update(&buffer[..length]);
        Ok(length)
    }
}

/// Reads a log from its beginning; an iterator over the records this version knows.
#[derive(Debug)]
pub struct RawLog {
    file: BufReader<Hashed>,
    path: PathBuf,
    offset: u64,
    torn: Option<Torn>,
    ended: bool,
}

impl RawLog {
    /// Opens a log.
    ///
    /// # Errors
    /// [`StoreError`] if it cannot be read, is no log, or is too new.
    pub fn open(path: &Path) -> Result<Self, StoreError> {
        let io = |error| StoreError::Io {
            path: path.to_owned(),
            what: "read",
            error,
        };
        let mut file = BufReader::new(Hashed {
            file: File::open(path).map_err(io)?,
            bytes: 0,
            sha256: Sha256::new(),
        });
        let mut header = Vec::new();
        file.by_ref().take(8).read_to_end(&mut header).map_err(io)?;
        match header.as_slice() {
            [magic @ .., VERSION] if magic == MAGIC => Ok(Self {
                file,
                path: path.to_owned(),
                offset: 8,
                torn: None,
                ended: false,
            }),
            [magic @ .., 0] if magic == MAGIC => Err(StoreError::NoVersion(path.to_owned())),
            [magic @ .., version] if magic == MAGIC => Err(StoreError::Newer {
                path: path.to_owned(),
                version: *version,
            }),
            _ => Err(StoreError::NoLog(path.to_owned())),
        }
    }

    /// What was at the end and was no record; known once the iterator has ended.
    pub fn torn(&self) -> Option<Torn> {
        self.torn
    }

    /// What was read; all of the file once the iterator has ended.
    pub fn digest(&self) -> Digest {
        let read = self.file.get_ref();
        Digest {
            bytes: read.bytes,
            sha256: read.sha256.clone().finalize().into(),
        }
    }

    /// The next whole record's tag, time and data.
    fn next_raw(&mut self) -> io::Result<Option<(u8, SystemTime, Vec<u8>)>> {
        let mut bytes = self.read_up_to(HEAD)?;
        if bytes.is_empty() {
            return Ok(None);
        }
        let mut whole_length = HEAD;
        if let Some(&[tag, l0, l1, l2, l3, ref ns @ ..]) = bytes.first_chunk::<HEAD>() {
            let length = u32::from_le_bytes([l0, l1, l2, l3]) as usize;
            let at = time(i64::from_le_bytes(*ns));
            if length <= MAX_DATA {
                whole_length = HEAD + length + 4;
                bytes.extend(self.read_up_to(length + 4)?);
                if let Some((body, crc)) = bytes.split_last_chunk::<4>()
                    && body.len() == HEAD + length
                    && crc32(body) == u32::from_le_bytes(*crc)
                {
                    self.offset += bytes.len() as u64;
                    return Ok(Some((tag, at, body[HEAD..].to_vec())));
                }
            }
        }
        let rest = io::copy(&mut self.file, &mut io::sink())?;
        self.torn = Some(Torn {
            offset: self.offset,
            bytes: bytes.len() as u64 + rest,
            cut_short: bytes.len() < whole_length,
        });
        Ok(None)
    }

    fn read_up_to(&mut self, length: usize) -> io::Result<Vec<u8>> {
        let mut bytes = Vec::new();
        self.file
            .by_ref()
            .take(length as u64)
            .read_to_end(&mut bytes)?;
        Ok(bytes)
    }
}

impl Iterator for RawLog {
    type Item = Result<Record, StoreError>;

    fn next(&mut self) -> Option<Self::Item> {
        while !self.ended {
            match self.next_raw() {
                Ok(Some((tag, at, data))) => {
                    if let Some(content) = Content::new(tag, data) {
                        return Some(Ok(Record { at, content }));
                    }
                }
                Ok(None) => self.ended = true,
                Err(error) => {
                    self.ended = true;
                    return Some(Err(StoreError::Io {
                        path: self.path.clone(),
                        what: "read",
                        error,
                    }));
                }
            }
        }
        None
    }
}
