//! A whole run put into frames, as by a controller whose link never fails and whose host never
//! acknowledges.
//!
//! Compiled twice: for the emulated controller and into the host's test of the bits, which wants the
//! same bytes from both.

use bolting_monitor::procedure::Turn;
use bolting_monitor::wire::{Hello, Outbox, Plan, Sample};
use embedded_io::{Write, WriteReady};

use crate::session::Session;

/// Curve points and retained messages that may wait; all are sent at once.
const POINTS: usize = 8;
const RETAINED: usize = 16;

/// Writes what the run has to say to `out`; `None` if the plan or a sample is refused or `out` fails.
pub fn run<W: Write + WriteReady>(
    plan: &Plan,
    samples: impl Iterator<Item = Sample>,
    out: &mut W,
) -> Option<()> {
    Session::takes(plan).then_some(())?;
    let mut slot = None;
    Session::begin(&mut slot, plan, Turn::default())?;
    let session = slot.as_mut()?;
    let mut outbox = Outbox::<POINTS, RETAINED>::new(Hello::default(), u64::MAX);
    let mut now_us = 0;
    for sample in samples {
        now_us = sample.time_us;
        let update = session.update(&sample)?;
        outbox.offer(&update).ok()?;
        outbox.poll(now_us, out).ok()?;
    }
    if let Some(snug) = session.snug_point() {
        outbox.offer_snug_angle(&snug).ok()?;
    }
    if let Some(finding) = session.finish() {
        outbox.offer_finding(&finding).ok()?;
    }
    outbox.offer_summary(&session.summary()).ok()?;
    outbox.poll(now_us, out).ok()?;
    Some(())
}
