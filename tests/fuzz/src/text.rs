//! Any text as a table of samples, a description and an arm.
#![no_main]

use std::path::Path;

use bolting_host::description::Description;
use bolting_host::samples::{BadRows, Recording};
use bolting_host::urdf;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let path = Path::new("any");
    for bad_rows in [BadRows::Refuse, BadRows::Skip] {
        match Recording::parse(bytes, path, bad_rows) {
            Ok(recording) => assert_ne!(recording.len(), 0),
            Err(e) => assert!(!e.to_string().is_empty()),
        }
    }
    if let Ok(text) = std::str::from_utf8(bytes) {
        let _ = Description::parse(text, path).map_err(|e| e.to_string());
        let _ = urdf::read(text, None, "tip").map_err(|e| e.to_string());
    }
});
