//! What each request does, and what is said in return.

use bolting_monitor::device::PermitOutput;
use bolting_monitor::monitor::Update;
use bolting_monitor::procedure::Turn;
use bolting_monitor::wire::{
    Frame, Heartbeat, Hello, JobAssembler, JobChunk, JobReply, JobStatus, LinkCounts, LinkDown,
    Outbox, Plan, Progress, Sample, ToController, crc32,
};
use embedded_io::{Write, WriteReady};

use crate::board::PermitPin;
use crate::session::{JOINTS, PLAN_BYTES, Session};

const POINTS: usize = 256;
const RETAINED: usize = 16;
/// Interval of the sign of life, and after which retained messages are sent again; sample time.
const INTERVAL_US: u64 = 1_000_000;

/// The state of the controller.
pub struct Controller {
    permit: PermitOutput<PermitPin>,
    outbox: Outbox<POINTS, RETAINED>,
    assembler: JobAssembler<PLAN_BYTES>,
    plan: Option<Plan>,
    session: Option<Session>,
    turn: Turn,
    awaits_first_sample: bool,
    awaits_target: bool,
    samples_came: bool,
    beat_us: Option<u64>,
    status: Heartbeat,
}

impl Controller {
    /// A controller without a plan.
    pub fn new(permit: PermitOutput<PermitPin>, boot_id: u32) -> Self {
        let hello = Hello {
            boot_id,
            ticks_per_s: 1_000_000,
            software: [0, 1, 0],
            ..Hello::default()
        };
        Self {
            permit,
            outbox: Outbox::new(hello, INTERVAL_US),
            assembler: JobAssembler::new(),
            plan: None,
            session: None,
            turn: Turn::default(),
            awaits_first_sample: false,
            awaits_target: false,
            samples_came: false,
            beat_us: None,
            status: Heartbeat::default(),
        }
    }

    /// Follows one request. Frames of another version are counted as refused.
    pub fn take(&mut self, frame: &Frame<'_>) {
        let done = match ToController::decode(frame) {
            Ok(ToController::Sample(sample)) => self.sample(&sample),
            Ok(ToController::Ack(ack)) => {
                self.outbox.acknowledge(&ack);
                Some(())
            }
            Ok(ToController::JobChunk(chunk)) => self.job_chunk(&chunk),
            Ok(ToController::Start(_)) => self.start(Turn::default()),
            Ok(ToController::StartTurn(start)) => self.start(start.turn),
            Ok(ToController::Finish(_)) => self.finish(),
            Ok(ToController::LiftStop(_)) => {
                self.permit.reset();
                Some(())
            }
            Ok(_) | Err(_) => None,
        };
        if done.is_none() {
            self.status.refused = self.status.refused.saturating_add(1);
        }
    }

    fn sample(&mut self, sample: &Sample) -> Option<()> {
        self.samples_came = true;
        self.status.samples = self.status.samples.saturating_add(1);
        self.status.time_us = sample.time_us;
        let session = self.session.as_mut()?;
        let update = session.update(sample)?;
        // The permit first: no message is worth a turn of a stripping bolt. A pin error has latched
        // the permit already and shows in the heartbeat.
        let before = self.permit.is_permitted();
        let _ = self.permit.follow(&update);
        let changed = self.permit.is_permitted() != before;
        if core::mem::take(&mut self.awaits_first_sample) {
            let mut hello = self.outbox.hello().clone();
            hello.run_start_us = sample.time_us;
            self.outbox.introduce(hello);
        }
        let kept = self.outbox.offer(&update);
        if self.awaits_target && update.turning && self.reached(&update) {
            self.awaits_target = false;
            self.offer_snug()?;
        }
        let due = self
            .beat_us
            .and_then(|at| sample.time_us.checked_sub(at))
            .is_none_or(|age| age >= INTERVAL_US);
        if due || changed {
            self.beat_us = Some(sample.time_us);
            self.outbox.introduce(self.outbox.hello().clone());
            self.beat();
        }
        kept.ok()
    }

    fn reached(&self, update: &Update) -> bool {
        self.plan
            .as_ref()
            .and_then(|plan| plan.procedure.goal(self.turn.pass)?.target_nm())
            .is_some_and(|target_nm| update.torque_nm >= target_nm)
    }

    // The angle gets better as the clamping goes on: the one of the summary is the last.
    fn offer_snug(&mut self) -> Option<()> {
        match self.session.as_ref()?.snug_point() {
            Some(snug) => self.outbox.offer_snug_angle(&snug).ok().map(|_| ()),
            None => Some(()),
        }
    }

    // Kept out of the loop's frame, as is what it has on the stack.
    #[inline(never)]
    fn job_chunk(&mut self, chunk: &JobChunk) -> Option<()> {
        let status = match self.assembler.offer(chunk) {
            Ok(None) => return Some(()),
            Err(error) => error.status(),
            Ok(Some(bytes)) => match Plan::from_blob(bytes) {
                Ok(plan) if Session::takes(&plan) => {
                    let mut hello = self.outbox.hello().clone();
                    hello.joints = if plan.arm.is_some() { JOINTS as u8 } else { 0 };
                    hello.job_crc = crc32(bytes);
                    hello.job = plan.job.name.clone();
                    self.outbox.introduce(hello);
                    self.plan = Some(plan);
                    JobStatus::Loaded
                }
                _ => JobStatus::Refused,
            },
        };
        self.outbox.offer_job_reply(JobReply {
            crc: chunk.crc,
            status: status.wire_code(),
        });
        (status == JobStatus::Loaded).then_some(())
    }

    fn start(&mut self, turn: Turn) -> Option<()> {
        let _ = self.permit.rest();
        Session::begin(&mut self.session, self.plan.as_ref()?, turn)?;
        self.turn = turn;
        let mut hello = self.outbox.hello().clone();
        hello.run = hello.run.wrapping_add(1);
        hello.turn = turn;
        self.outbox.introduce(hello);
        self.awaits_first_sample = true;
        self.awaits_target = true;
        Some(())
    }

    #[inline(never)]
    fn finish(&mut self) -> Option<()> {
        let _ = self.permit.rest();
        let snug_kept = self.offer_snug();
        let summary = self.session.as_ref()?.summary();
        self.session = None;
        self.beat();
        self.outbox.offer_summary(&summary).ok()?;
        snug_kept
    }

    fn beat(&mut self) {
        self.outbox.offer_heartbeat(Heartbeat {
            permitted: PermitPin::is_high(),
            retained: u8::try_from(self.outbox.retained()).unwrap_or(u8::MAX),
            displaced: self.outbox.displaced(),
            ..self.status
        });
    }

    /// Keeps what the reader counted for the next sign of life.
    pub fn note_link(&mut self, counts: LinkCounts) {
        self.status.garbled = counts.garbled;
        self.status.lost = counts.lost;
    }

    /// To be called every 100 ms of the board's clock: without samples since the last call there is
    /// no permit, until one comes.
    pub fn check_samples_come(&mut self) {
        if !core::mem::take(&mut self.samples_came) && self.permit.is_permitted() {
            let _ = self.permit.rest();
        }
    }

    /// Sends what is due.
    pub fn send<W: Write + WriteReady>(
        &mut self,
        link: &mut W,
    ) -> Result<Progress, LinkDown<W::Error>> {
        self.outbox.poll(self.status.time_us, link)
    }
}

const _: () = assert!(JOINTS <= bolting_monitor::wire::MAX_JOINTS);
