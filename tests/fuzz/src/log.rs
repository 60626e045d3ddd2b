//! A log of any bytes, and one whose frames and records are sound but tell anything.
#![no_main]

use std::path::Path;
use std::time::SystemTime;

use arbitrary::Arbitrary;
use bolting_host::store::{Content, RawLog, RawWriter, Record, Said, decode, runs};
use bolting_monitor::wire::{MAX_WIRE, encode_raw};
use libfuzzer_sys::fuzz_target;

#[derive(Arbitrary, Debug)]
struct Log {
    frames: Vec<(u8, Vec<u8>)>,
    /// Bytes that are damaged: place and new value.
    damage: Vec<(u16, u8)>,
    /// The file is this instead.
    bytes: Option<Vec<u8>>,
}

fuzz_target!(|log: Log| {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = folder.path().join("any");
    match &log.bytes {
        Some(bytes) => std::fs::write(&path, bytes).expect("written"),
        None => write(&path, &log),
    }
    let Ok(log) = RawLog::open(&path) else {
        return;
    };
    let view = decode(log).expect("the file can be read");
    let messages = view.entries.iter().filter_map(|entry| match &entry.said {
        Said::Message(message) => Some(message),
        _ => None,
    });
    let _ = runs(messages);
});

fn write(path: &Path, log: &Log) {
    let mut writer = RawWriter::create(path).expect("a new file");
    for (seq, (kind, payload)) in log.frames.iter().enumerate() {
        let mut out = [0; MAX_WIRE];
        let Ok(length) = encode_raw(*kind, seq as u32, payload, &mut out) else {
            continue;
        };
        writer
            .append(&Record {
                at: SystemTime::UNIX_EPOCH,
                content: Content::Received(out[..length].to_vec()),
            })
            .expect("written");
    }
    let mut bytes = std::fs::read(path).expect("read");
    let length = bytes.len();
    for (place, value) in &log.damage {
        bytes[usize::from(*place) % length] = *value;
    }
    std::fs::write(path, bytes).expect("written");
}
