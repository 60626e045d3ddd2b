//! Two ways from samples to the bytes that a controller sends.

use std::convert::Infallible;

use bolting_monitor::monitor::Monitor;
use bolting_monitor::sample::JointSample;
use bolting_monitor::wire::{Hello, LinkDown, Outbox, Plan, Sample};
use embedded_io::{ErrorType, Write, WriteReady};

use super::{DemoError, firmware};
use crate::description::Description;
use crate::emulator::{Emulator, EmulatorError, job_bytes};
use crate::simulate::JOINTS;

/// Whatever runs the monitor.
pub enum Controller {
    /// The firmware in the emulator.
    Emulated(Box<Emulator>),
    /// The same crate in this process.
    InProcess {
        /// Why not in the emulator.
        reason: String,
        outbox: Box<Outbox<256, 16>>,
    },
}

impl Controller {
    /// The emulated controller if it can be had and is wanted.
    pub fn choose(in_process: bool) -> Self {
        let emulated = if in_process {
            Err("as asked for with --in-process".to_owned())
        } else {
            firmware::emulated()
        };
        match emulated {
            Ok(emulator) => Self::Emulated(Box::new(emulator)),
            Err(reason) => {
                let hello = Hello {
                    ticks_per_s: 1_000_000,
                    joints: JOINTS as u8,
                    ..Hello::default()
                };
                Self::InProcess {
                    reason,
                    // The log misses nothing: nothing need be said twice.
                    outbox: Box::new(Outbox::new(hello, u64::MAX)),
                }
            }
        }
    }

    /// For people.
    pub fn how(&self) -> String {
        match self {
            Self::Emulated(_) => "through the firmware on an emulated Cortex-M4F".to_owned(),
            Self::InProcess { reason, .. } => {
                format!("through the same monitor in this process: {reason}")
            }
        }
    }

    /// The bytes that the controller sends in one run.
    pub fn run(
        &mut self,
        description: &Description,
        samples: &[JointSample<JOINTS>],
    ) -> Result<Vec<u8>, DemoError> {
        match self {
            Self::Emulated(emulator) => emulated(emulator, description, samples),
            Self::InProcess { outbox, .. } => in_process(outbox, description, samples),
        }
    }
}

fn emulated(
    emulator: &mut Emulator,
    description: &Description,
    samples: &[JointSample<JOINTS>],
) -> Result<Vec<u8>, DemoError> {
    let job =
        job_bytes(description).map_err(|error| EmulatorError::Io(std::io::Error::other(error)))?;
    emulator.load(&job)?;
    Ok(emulator.run(samples.iter().filter_map(Sample::new))?.bytes)
}

fn in_process(
    outbox: &mut Outbox<256, 16>,
    description: &Description,
    samples: &[JointSample<JOINTS>],
) -> Result<Vec<u8>, DemoError> {
    let arm = description.arm.as_ref();
    let mut monitor = Box::new(Monitor::<JOINTS>::try_new(&description.job, arm)?);
    let mut hello = outbox.hello().clone();
    hello.run += 1;
    hello.run_start_us = samples.first().map_or(0, |sample| sample.time_us);
    hello.job_crc = description.plan().map_or(0, |blob| Plan::crc_of(&blob));
    hello.job = description.job.name.clone();
    outbox.introduce(hello);
    let mut sent = Sent(Vec::new());
    let mut now_us = 0;
    for sample in samples {
        now_us = sample.time_us;
        // What finds no place here was displaced unsent: the link below takes everything at once.
        let _ = outbox.offer(&monitor.update(sample));
        send(outbox, now_us, &mut sent);
    }
    if let Some(snug) = monitor.snug_point() {
        let _ = outbox.offer_snug_angle(&snug);
    }
    if let Some(finding) = monitor.finish() {
        let _ = outbox.offer_finding(&finding);
    }
    let _ = outbox.offer_summary(&monitor.summary());
    send(outbox, now_us, &mut sent);
    Ok(sent.0)
}

fn send(outbox: &mut Outbox<256, 16>, now_us: u64, sent: &mut Sent) {
    match outbox.poll(now_us, sent) {
        Ok(_) | Err(LinkDown::WriteZero) => {}
        Err(LinkDown::Link(never)) => match never {},
    }
}

/// A link that takes everything.
struct Sent(Vec<u8>);

impl ErrorType for Sent {
    type Error = Infallible;
}

impl WriteReady for Sent {
    fn write_ready(&mut self) -> Result<bool, Infallible> {
        Ok(true)
    }
}

impl Write for Sent {
    fn write(&mut self, bytes: &[u8]) -> Result<usize, Infallible> {
        self.0.extend(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> Result<(), Infallible> {
        Ok(())
    }
}
