//! Any bytes on the line, and any payload in a sound frame.
#![no_main]

use bolting_monitor::wire::{
    Decoder, Frame, FromController, JobAssembler, PROTO, ToController, encode_raw,
};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let mut decoder = Decoder::new();
    let mut assembler = JobAssembler::<1024>::new();
    let mut take = |frame: &Frame<'_>| {
        let _ = FromController::decode(frame);
        if let Ok(ToController::JobChunk(chunk)) = ToController::decode(frame) {
            let _ = assembler.offer(&chunk);
        }
    };
    for byte in bytes {
        if let Some(frame) = decoder.feed(*byte) {
            take(&frame);
        }
    }
    if let Some((&kind, payload)) = bytes.split_first() {
        take(&Frame {
            proto: PROTO,
            kind,
            seq: 0,
            payload,
        });
        let mut out = [0; 600];
        if let Ok(length) = encode_raw(kind, 7, payload, &mut out) {
            let mut decoder = Decoder::new();
            let back: Vec<Vec<u8>> = out[..length]
                .iter()
                .filter_map(|byte| decoder.feed(*byte).map(|f| f.payload.to_vec()))
                .collect();
            assert_eq!(back, [payload]);
        }
    }
});
