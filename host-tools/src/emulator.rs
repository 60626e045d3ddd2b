//! The example firmware in `qemu-system-arm`, with a job and samples streamed into it: the same rig
//! that real hardware would get, without the hardware.

mod line;

use std::io::{self, ErrorKind, Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::{Mutex, PoisonError};
use std::thread;
use std::time::{Duration, Instant};

use bolting_monitor::procedure::Turn;
use bolting_monitor::wire::{
    Decoder, Finish, FromController, JobStatus, LinkCounts, Payload, PlanError, Sample, StartTurn,
    job_chunks,
};

use crate::description::Description;
use crate::link::{Acknowledger, Sequence};

use line::{Line, Listener};

/// The environment variable that names the firmware's file.
pub const FIRMWARE_VARIABLE: &str = "BOLTING_FIRMWARE";
/// The environment variable that names the file of the interrupt-driven firmware.
pub const INTERRUPTS_VARIABLE: &str = "BOLTING_INTERRUPTS";
/// The emulator.
pub const QEMU: &str = "qemu-system-arm";
/// How long the emulator may take to connect, and may stay silent: generous, for busy machines.
const PATIENCE: Duration = Duration::from_secs(60);

/// Why a run in the emulator did not happen.
#[derive(Debug, thiserror::Error)]
pub enum EmulatorError {
    /// No firmware.
    #[error(
        "{0} is not there: build it with `cargo build --release` in its folder of examples, or name another in {FIRMWARE_VARIABLE} or {INTERRUPTS_VARIABLE}"
    )]
    NoFirmware(PathBuf),
    /// No emulator.
    #[error("cannot start {QEMU}: {0}; on Debian: apt-get install qemu-system-arm")]
    NoEmulator(io::Error),
    /// The emulator ended early.
    #[error("{QEMU} ended by itself: {0}")]
    Ended(String),
    /// The emulator or the firmware says nothing.
    #[error("the firmware did not {0} within {wait} s", wait = PATIENCE.as_secs())]
    Silent(&'static str),
    /// The job has no bytes or too many.
    #[error("the job has {0} bytes: 1 to 65535 can be sent")]
    JobLength(usize),
    /// The firmware refused the job.
    #[error("the firmware refused the job, status {0}: built for another version or arm?")]
    JobRefused(u8),
    /// The connection failed.
    #[error("connection to {QEMU}: {0}")]
    Io(#[from] io::Error),
}

/// Everything that the firmware said in one run.
#[derive(Clone, Debug, Default)]
pub struct EmulatedRun {
    /// The bytes as received.
    pub bytes: Vec<u8>,
    /// The messages in them.
    pub messages: Vec<FromController>,
    /// Frames seen, garbled, missing.
    pub counts: LinkCounts,
}

/// The blob that the firmware loads: bolt, arm and passes.
///
/// # Errors
/// None in practice: a description was checked as the controller checks it.
pub fn job_bytes(description: &Description) -> Result<Vec<u8>, PlanError> {
    description.plan()
}

/// The firmware to run: what the environment names, else what `examples/firmware` builds.
pub fn firmware_path() -> PathBuf {
    built(FIRMWARE_VARIABLE, "firmware", "bolting-firmware")
}

/// The interrupt-driven firmware: what the environment names, else what `examples/interrupts` builds.
pub fn interrupts_path() -> PathBuf {
    built(INTERRUPTS_VARIABLE, "interrupts", "bolting-interrupts")
}

fn built(variable: &str, example: &str, name: &str) -> PathBuf {
    let folder = "target/thumbv7em-none-eabihf/release";
    std::env::var_os(variable).map_or_else(
        || {
            Path::new(env!("CARGO_MANIFEST_DIR"))
                .join("../examples")
                .join(example)
                .join(folder)
                .join(name)
        },
        PathBuf::from,
    )
}

/// A running emulator; ends with this value.
#[derive(Debug)]
pub struct Emulator {
    qemu: Child,
    input: Mutex<Input>,
    output: Output,
}

#[derive(Debug)]
struct Input {
    stream: Line,
    sequence: Sequence,
}

impl Emulator {
    /// Starts the emulator with `firmware`.
    ///
    /// # Errors
    /// [`EmulatorError`].
    pub fn start(firmware: &Path) -> Result<Self, EmulatorError> {
        Self::start_on(firmware, Listener::wide, &[])
    }

    /// As [`Emulator::start`], on lines that hold some hundred frames instead of megabytes, so that
    /// the firmware feels at once when nobody reads, and with time counted in instructions (8 ns
    /// each; a sleep lasts until the next interrupt, however far that is), so that nothing depends
    /// on the speed of this machine. `folder` is for the sockets.
    ///
    /// # Errors
    /// [`EmulatorError`].
    pub fn start_narrow(firmware: &Path, folder: &Path) -> Result<Self, EmulatorError> {
        let mut number = 0;
        let listen = || {
            number += 1;
            Listener::narrow(folder.join(format!("uart{number}")))
        };
        Self::start_on(firmware, listen, &["-icount", "shift=3,sleep=off"])
    }

    fn start_on(
        firmware: &Path,
        mut listen: impl FnMut() -> io::Result<Listener>,
        arguments: &[&str],
    ) -> Result<Self, EmulatorError> {
        if !firmware.is_file() {
            return Err(EmulatorError::NoFirmware(firmware.to_owned()));
        }
        // We listen, at addresses of our own: no clash, and nothing is lost at the start.
        let (input, output) = (listen()?, listen()?);
        let mut command = Command::new(QEMU);
        command
            .args(["-machine", "mps2-an386", "-cpu", "cortex-m4"])
            .args(["-display", "none", "-monitor", "none"])
            .args(arguments);
        for uart in [&input, &output] {
            command.args(["-serial", &uart.address()?]);
        }
        let mut qemu = command
            .arg("-kernel")
            .arg(firmware)
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .spawn()
            .map_err(EmulatorError::NoEmulator)?;
        let streams = accept(&input, &mut qemu).and_then(|i| Ok((i, accept(&output, &mut qemu)?)));
        let (input, output) = streams.inspect_err(|_| end(&mut qemu))?;
        Ok(Self {
            qemu,
            input: Mutex::new(Input {
                stream: input,
                sequence: Sequence::default(),
            }),
            output: Output {
                stream: output,
                acknowledger: Acknowledger::default(),
                decoder: Decoder::new(),
                run: EmulatedRun::default(),
            },
        })
    }

    /// Sends a message of its own, between runs.
    ///
    /// # Errors
    /// [`EmulatorError::Io`].
    pub fn send<T: Payload>(&mut self, message: &T) -> Result<(), EmulatorError> {
        Ok(send(&self.input, message)?)
    }

    /// Loads a job: the bytes of a monitor description.
    ///
    /// # Errors
    /// [`EmulatorError`].
    pub fn load(&mut self, job: &[u8]) -> Result<(), EmulatorError> {
        let chunks = job_chunks(job).ok_or(EmulatorError::JobLength(job.len()))?;
        for chunk in chunks {
            self.send(&chunk)?;
        }
        let mut status = 0;
        self.output
            .receive_until("answer the job", &self.input, |message| match message {
                FromController::JobReply(reply) => {
                    status = reply.status;
                    true
                }
                _ => false,
            })?;
        if status == JobStatus::Loaded.wire_code() {
            Ok(())
        } else {
            Err(EmulatorError::JobRefused(status))
        }
    }

    /// Runs `samples` through the loaded job, acknowledges what comes, and returns what the firmware
    /// said since the last run, up to its summary and the sign of life behind it.
    ///
    /// # Errors
    /// [`EmulatorError`].
    pub fn run(
        &mut self,
        samples: impl Iterator<Item = Sample> + Send,
    ) -> Result<EmulatedRun, EmulatorError> {
        self.run_turn(Turn::default(), samples)
    }

    /// As [`Emulator::run`], of one bolt in one pass.
    ///
    /// # Errors
    /// [`EmulatorError`].
    pub fn run_turn(
        &mut self,
        turn: Turn,
        samples: impl Iterator<Item = Sample> + Send,
    ) -> Result<EmulatedRun, EmulatorError> {
        let (input, output, qemu) = (&self.input, &mut self.output, &mut self.qemu);
        // The firmware takes bytes as fast as it can use them; meanwhile its own must be read, or
        // both sides would wait for each other.
        thread::scope(|scope| {
            let sending = scope.spawn(move || send_run(input, turn, samples));
            let received = output.receive_run(input);
            if received.is_err() {
                // The sender may still wait for the firmware: this ends its wait.
                end(qemu);
            }
            let sent = sending
                .join()
                .unwrap_or_else(|_| Err(io::Error::other("the samples could not be made")));
            received.and(sent.map_err(EmulatorError::Io))
        })?;
        Ok(self.output.take_run())
    }

    /// As [`Emulator::run`], but reads and acknowledges nothing until the last sample is sent.
    ///
    /// # Errors
    /// [`EmulatorError`].
    pub fn run_unread(
        &mut self,
        samples: impl Iterator<Item = Sample>,
    ) -> Result<EmulatedRun, EmulatorError> {
        send_run(&self.input, Turn::default(), samples)?;
        self.output.receive_run(&self.input)?;
        Ok(self.output.take_run())
    }
}

impl Drop for Emulator {
    fn drop(&mut self) {
        end(&mut self.qemu);
    }
}

// It may have ended already: then there is nothing to do.
fn end(qemu: &mut Child) {
    let _ = qemu.kill();
    let _ = qemu.wait();
}

fn accept(listener: &Listener, qemu: &mut Child) -> Result<Line, EmulatorError> {
    let deadline = Instant::now() + PATIENCE;
    while Instant::now() < deadline {
        match listener.try_accept(PATIENCE) {
            Ok(line) => return Ok(line),
            Err(error) if error.kind() == ErrorKind::WouldBlock => {}
            Err(error) => return Err(error.into()),
        }
        if let Some(status) = qemu.try_wait()? {
            return Err(EmulatorError::Ended(status.to_string()));
        }
        thread::sleep(Duration::from_millis(10));
    }
    Err(EmulatorError::Silent("start"))
}

fn send_run(
    input: &Mutex<Input>,
    turn: Turn,
    samples: impl Iterator<Item = Sample>,
) -> io::Result<()> {
    send(input, &StartTurn { turn })?;
    for sample in samples {
        send(input, &sample)?;
    }
    send(input, &Finish)
}

fn send<T: Payload>(input: &Mutex<Input>, message: &T) -> io::Result<()> {
    let mut input = input.lock().unwrap_or_else(PoisonError::into_inner);
    let frame = input.sequence.frame(message).map_err(io::Error::other)?;
    input.stream.write_all(&frame)
}

#[derive(Debug)]
struct Output {
    stream: Line,
    acknowledger: Acknowledger,
    decoder: Decoder,
    run: EmulatedRun,
}

impl Output {
    fn receive_run(&mut self, input: &Mutex<Input>) -> Result<(), EmulatorError> {
        let mut summed_up = false;
        self.receive_until("send the summary", input, |message| {
            summed_up |= matches!(message, FromController::Summary(_));
            // The outbox sends it last of all.
            summed_up && matches!(message, FromController::Heartbeat(_))
        })
    }

    /// What came since the last run.
    fn take_run(&mut self) -> EmulatedRun {
        self.run.counts = self.decoder.counts();
        std::mem::take(&mut self.run)
    }

    fn receive_until(
        &mut self,
        what: &'static str,
        input: &Mutex<Input>,
        mut is_last: impl FnMut(&FromController) -> bool,
    ) -> Result<(), EmulatorError> {
        let mut buffer = [0; 4096];
        let mut done = false;
        while !done {
            let n = match self.stream.read(&mut buffer) {
                Ok(0) => return Err(EmulatorError::Ended("it closed the connection".to_owned())),
                Ok(n) => n,
                Err(error) => match error.kind() {
                    ErrorKind::Interrupted => continue,
                    ErrorKind::WouldBlock | ErrorKind::TimedOut => {
                        return Err(EmulatorError::Silent(what));
                    }
                    _ => return Err(error.into()),
                },
            };
            self.run.bytes.extend(&buffer[..n]);
            for byte in &buffer[..n] {
                if let Some(frame) = self.decoder.feed(*byte)
                    && let Ok(message) = FromController::decode(&frame)
                {
                    if let Some(ack) = self.acknowledger.answer(&message) {
                        send(input, &ack)?;
                    }
                    done |= is_last(&message);
                    self.run.messages.push(message);
                }
            }
        }
        Ok(())
    }
}
