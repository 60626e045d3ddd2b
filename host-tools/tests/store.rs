//! The log file: old ones stay readable, torn ones are read as far as they go.

use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use bolting_host::store::{Content, RawLog, RawWriter, Record, Said, StoreError, Torn, decode};
use bolting_monitor::wire::{FromController, Thinned, crc32, encode};
use sha2::{Digest as _, Sha256};

fn at(nanoseconds: u64) -> SystemTime {
    UNIX_EPOCH + Duration::from_nanos(nanoseconds)
}

fn records() -> Vec<Record> {
    let mut frame = [0; 256];
    let n = encode(0, &Thinned { points: 7 }, &mut frame).expect("fits");
    let (first, second) = frame[..n].split_at(4);
    let record = |ns, content| Record {
        at: at(ns),
        content,
    };
    vec![
        record(
            1_700_000_000_000_000_001,
            Content::Connected("tcp:127.0.0.1:5751".into()),
        ),
        record(1_700_000_000_000_000_002, Content::Received(first.into())),
        record(1_700_000_000_000_000_003, Content::Received(second.into())),
        record(1_700_000_000_000_000_004, Content::Sent(vec![0, 1, 255])),
        record(
            1_700_000_000_000_000_005,
            Content::Lost("unplugged – Stecker gezogen".into()),
        ),
    ]
}

fn write(path: &Path, records: &[Record]) {
    let mut log = RawWriter::create(path).expect("made");
    for record in records {
        log.append(record).expect("written");
    }
    log.sync().expect("kept");
}

fn read(path: &Path) -> (Vec<Record>, Option<Torn>) {
    let mut log = RawLog::open(path).expect("a log");
    let records = log.by_ref().map(|r| r.expect("readable")).collect();
    (records, log.torn())
}

fn with_bytes<R>(bytes: &[u8], look: impl FnOnce(&Path) -> R) -> R {
    let directory = tempfile::tempdir().expect("a directory");
    let path = directory.path().join("x.wirelog");
    std::fs::write(&path, bytes).expect("written");
    look(&path)
}

fn golden() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/golden/v1.wirelog")
}

#[test]
fn a_log_of_version_1_is_read_and_written_the_same() {
    if std::env::var_os("WRITE_GOLDEN").is_some() {
        let _ = std::fs::remove_file(golden());
        write(&golden(), &records());
    }
    assert_eq!(read(&golden()), (records(), None));
    let directory = tempfile::tempdir().expect("a directory");
    let path = directory.path().join("x.wirelog");
    write(&path, &records());
    let bytes = |path: &Path| std::fs::read(path).expect("readable");
    assert_eq!(bytes(&path), bytes(&golden()));
}

#[test]
fn the_view_puts_a_frame_together_that_came_in_pieces() {
    let view = decode(RawLog::open(&golden()).expect("a log")).expect("readable");
    let said: Vec<_> = view.entries.iter().map(|e| (e.at, &e.said)).collect();
    let thinned = Said::Message(FromController::Thinned(Thinned { points: 7 }));
    assert_eq!(said.len(), 3);
    assert_eq!(said[1], (at(1_700_000_000_000_000_003), &thinned));
}

#[test]
fn a_torn_end_costs_its_own_record_only_wherever_it_is_cut() {
    let bytes = std::fs::read(golden()).expect("golden file");
    let mut whole_ends = vec![8];
    for record in records() {
        let data = match record.content {
            Content::Connected(text) | Content::Lost(text) => text.len(),
            Content::Received(bytes) | Content::Sent(bytes) => bytes.len(),
        };
        whole_ends.push(whole_ends.last().expect("one") + 13 + data + 4);
    }
    assert_eq!(whole_ends.last(), Some(&bytes.len()));
    for cut in 8..=bytes.len() {
        let whole = whole_ends.iter().filter(|end| **end <= cut).count() - 1;
        let start = whole_ends[whole];
        let torn = (start < cut).then_some(Torn {
            offset: start as u64,
            bytes: (cut - start) as u64,
            cut_short: true,
        });
        let expected = (records()[..whole].to_vec(), torn);
        with_bytes(&bytes[..cut], |path| assert_eq!(read(path), expected));
    }
}

#[test]
fn what_was_decoded_is_what_is_hashed() {
    let bytes = std::fs::read(golden()).expect("golden file");
    // A whole log, one that ends within a record, one that is damaged, and one that holds nothing.
    let mut damaged = bytes.clone();
    damaged[30] ^= 1;
    for bytes in [&bytes[..], &bytes[..bytes.len() - 3], &damaged, &bytes[..8]] {
        with_bytes(bytes, |path| {
            let log = RawLog::open(path).expect("a log");
            let view = decode(log).expect("readable");
            assert_eq!(view.digest.bytes, bytes.len() as u64);
            let expected: [u8; 32] = Sha256::digest(bytes).into();
            assert_eq!(view.digest.sha256, expected);
        });
    }
    with_bytes(&damaged, |path| {
        assert!(read(path).1.is_some_and(|torn| !torn.cut_short));
    });
}

#[test]
fn damage_is_never_read_as_data() {
    let bytes = std::fs::read(golden()).expect("golden file");
    for i in 8..bytes.len() {
        let mut damaged = bytes.clone();
        damaged[i] ^= 0x10;
        with_bytes(&damaged, |path| {
            let (read, torn) = read(path);
            assert!(torn.is_some(), "byte {i}");
            assert_eq!(read, records()[..read.len()], "byte {i}");
        });
    }
}

#[test]
fn unknown_tags_are_skipped_and_other_files_refused() {
    let mut bytes = std::fs::read(golden()).expect("golden file");
    let mut future = vec![200, 2, 0, 0, 0];
    future.extend([0; 8]);
    future.extend([1, 2]);
    future.extend(crc32(&future).to_le_bytes());
    bytes.splice(8..8, future);
    with_bytes(&bytes, |path| assert_eq!(read(path), (records(), None)));
    with_bytes(b"WIRELOG\x00", |path| {
        assert!(matches!(RawLog::open(path), Err(StoreError::NoVersion(_))));
    });
    with_bytes(b"WIRELOG\x02", |path| {
        assert!(matches!(
            RawLog::open(path),
            Err(StoreError::Newer { version: 2, .. })
        ));
    });
    for other in [&b"WIRELO"[..], b"PK\x03\x04aaaaaaa", b""] {
        with_bytes(other, |path| {
            assert!(matches!(RawLog::open(path), Err(StoreError::NoLog(_))));
        });
    }
}
