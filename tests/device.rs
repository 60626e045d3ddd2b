//! Pins and ports of the controller, with pins and ports made of plain memory.

mod common;

use std::cell::Cell;
use std::collections::VecDeque;

use bolting_monitor::device::{FrameReader, PermitOutput};
use bolting_monitor::monitor::Update;
use bolting_monitor::wire::{Start, Thinned, encode};
use common::update;
use embedded_hal::digital::{self, OutputPin};
use embedded_io::{ErrorKind, ErrorType, Read, ReadReady};

/// A pin whose level can be looked at, and whose wire can be cut.
#[derive(Default)]
struct Wire {
    high: Cell<bool>,
    broken: Cell<bool>,
}

struct Pin<'a>(&'a Wire);

impl digital::ErrorType for Pin<'_> {
    type Error = digital::ErrorKind;
}

impl OutputPin for Pin<'_> {
    fn set_low(&mut self) -> Result<(), digital::ErrorKind> {
        if self.0.broken.get() {
            return Err(digital::ErrorKind::Other);
        }
        self.0.high.set(false);
        Ok(())
    }

    fn set_high(&mut self) -> Result<(), digital::ErrorKind> {
        if self.0.broken.get() {
            return Err(digital::ErrorKind::Other);
        }
        self.0.high.set(true);
        Ok(())
    }
}

fn stop() -> Update {
    Update {
        permitted: false,
        stopped: true,
        ..update(0)
    }
}

#[test]
fn it_starts_low_even_if_the_pin_was_high() {
    let wire = Wire::default();
    wire.high.set(true);
    let permit = PermitOutput::new(Pin(&wire)).expect("sound pin");
    assert!(!wire.high.get() && !permit.is_permitted());
}

#[test]
fn a_stop_holds_until_someone_lifts_it_and_then_waits_for_an_update() {
    let wire = Wire::default();
    let mut permit = PermitOutput::new(Pin(&wire)).expect("sound pin");
    assert_eq!(permit.follow(&update(1)), Ok(true));
    assert!(wire.high.get());
    assert_eq!(permit.follow(&stop()), Ok(false));
    assert!(!wire.high.get() && permit.is_latched());
    assert_eq!(permit.follow(&update(2)), Ok(false));
    assert!(!wire.high.get());
    permit.reset();
    assert!(!wire.high.get(), "lifting the latch alone permits nothing");
    assert_eq!(permit.follow(&update(3)), Ok(true));
    assert!(wire.high.get());
}

#[test]
fn while_nothing_usable_comes_it_is_low_without_a_latch() {
    let wire = Wire::default();
    let mut permit = PermitOutput::new(Pin(&wire)).expect("sound pin");
    let unseen = Update {
        permitted: false,
        ..update(1)
    };
    assert_eq!(permit.follow(&unseen), Ok(false));
    assert_eq!(permit.follow(&update(2)), Ok(true));
    assert_eq!(permit.follow(&unseen), Ok(false));
    assert!(!wire.high.get() && !permit.is_latched());
    assert_eq!(permit.follow(&update(3)), Ok(true));
}

#[test]
fn between_runs_it_is_low_without_a_latch() {
    let wire = Wire::default();
    let mut permit = PermitOutput::new(Pin(&wire)).expect("sound pin");
    permit.follow(&update(1)).expect("sound pin");
    permit.rest().expect("sound pin");
    assert!(!wire.high.get() && !permit.is_latched());
    assert_eq!(permit.follow(&update(2)), Ok(true));
}

#[test]
fn a_pin_error_is_told_and_counts_as_a_stop() {
    let wire = Wire::default();
    wire.broken.set(true);
    assert!(PermitOutput::new(Pin(&wire)).is_err());
    wire.broken.set(false);
    for fail in [
        |p: &mut PermitOutput<Pin<'_>>| p.follow(&update(1)).is_err(),
        |p: &mut PermitOutput<Pin<'_>>| p.follow(&stop()).is_err(),
        |p: &mut PermitOutput<Pin<'_>>| p.withdraw().is_err(),
        |p: &mut PermitOutput<Pin<'_>>| p.rest().is_err(),
    ] {
        let mut permit = PermitOutput::new(Pin(&wire)).expect("sound pin");
        permit.follow(&update(0)).expect("sound pin");
        wire.broken.set(true);
        assert!(fail(&mut permit), "the error is not swallowed");
        assert!(!permit.is_permitted() && permit.is_latched());
        wire.broken.set(false);
        assert_eq!(permit.follow(&update(2)), Ok(false));
        assert!(!wire.high.get(), "driven low once the pin obeys");
    }
}

/// A port that holds bytes and can fail once.
struct Port {
    bytes: VecDeque<u8>,
    fail: bool,
}

impl ErrorType for Port {
    type Error = ErrorKind;
}

impl ReadReady for Port {
    fn read_ready(&mut self) -> Result<bool, ErrorKind> {
        if std::mem::take(&mut self.fail) {
            return Err(ErrorKind::Other);
        }
        Ok(!self.bytes.is_empty())
    }
}

impl Read for Port {
    fn read(&mut self, buffer: &mut [u8]) -> Result<usize, ErrorKind> {
        let next = self.bytes.pop_front();
        for (to, from) in buffer.iter_mut().zip(next) {
            *to = from;
        }
        Ok(next.iter().len())
    }
}

#[test]
fn the_reader_takes_frames_within_its_limit_and_survives_an_error() {
    let mut bytes = VecDeque::new();
    let mut out = [0; 64];
    for seq in 0..3 {
        let n = encode(seq, &Start, &mut out).expect("fits");
        bytes.extend(&out[..n]);
    }
    let n = encode(5, &Thinned { points: 1 }, &mut out).expect("fits");
    bytes.extend(&out[..n]);
    let mut reader = FrameReader::new(Port { bytes, fail: true });
    let mut seen = Vec::new();
    let mut poll = |limit| {
        let result = reader.poll(limit, |frame| seen.push((frame.kind, frame.seq)));
        (result, seen.len(), reader.counts().lost)
    };
    assert_eq!(poll(100), (Err(ErrorKind::Other), 0, 0));
    assert_eq!(poll(8), (Ok(()), 0, 0));
    assert_eq!(poll(1), (Ok(()), 1, 0));
    assert_eq!(poll(100), (Ok(()), 4, 2));
    assert_eq!(seen, [(67, 0), (67, 1), (67, 2), (8, 5)]);
}
