//! The link half: what each frame asks for, and what is said in return.

use bolting_monitor::monitor::Update;
use bolting_monitor::procedure::{Snug, Turn};
use bolting_monitor::wire::{
    Cycle, Frame, Heartbeat, Hello, JobAssembler, JobChunk, JobReply, JobStatus, LinkCounts,
    LinkDown, Outbox, Plan, PlanError, Progress, ToController,
};
use embedded_io::{Write, WriteReady};

use crate::board::PermitPin;
use crate::control::{Report, Request, Slot};
use crate::session::{JOINTS, PLAN_BYTES, Session};

const POINTS: usize = 256;
const RETAINED: usize = 16;
/// Interval of the sign of life, and after which retained messages are sent again; sample time.
const INTERVAL_US: u64 = 1_000_000;

/// The link half.
pub struct Desk {
    outbox: Outbox<POINTS, RETAINED>,
    assembler: JobAssembler<PLAN_BYTES>,
    plan: Option<Plan>,
    /// CRC of the plan's bytes.
    plan_crc: u32,
    /// Here between runs.
    slot: Option<Slot>,
    /// To be begun when the run before has been handed back.
    next: Option<Turn>,
    awaits_first_sample: bool,
    /// Of the run under way, until its torque is reached: a plan may come meanwhile.
    awaited_nm: Option<f32>,
    asks_for_snug: bool,
    beat_us: Option<u64>,
    status: Heartbeat,
    cycle: Option<Cycle>,
}

impl Desk {
    /// Without a plan; runs take place in `slot`.
    pub fn new(slot: Slot, boot_id: u32) -> Self {
        let hello = Hello {
            boot_id,
            ticks_per_s: 1_000_000,
            software: [0, 1, 0],
            ..Hello::default()
        };
        Self {
            outbox: Outbox::new(hello, INTERVAL_US),
            assembler: JobAssembler::new(),
            plan: None,
            plan_crc: 0,
            slot: Some(slot),
            next: None,
            awaits_first_sample: false,
            awaited_nm: None,
            asks_for_snug: false,
            beat_us: None,
            status: Heartbeat::default(),
            cycle: None,
        }
    }

    /// Whether no frame may be taken now, because a run must be handed back first.
    pub const fn is_waiting(&self) -> bool {
        self.next.is_some()
    }

    /// Follows one frame, as far as that is for this half; returns what is for the other. Frames of
    /// another version are counted as refused.
    pub fn take(&mut self, frame: &Frame<'_>) -> Option<Request> {
        let done = match ToController::decode(frame) {
            Ok(ToController::Sample(sample)) => return Some(Request::Sample(sample)),
            Ok(ToController::Finish(_)) => return Some(Request::Finish),
            Ok(ToController::LiftStop(_)) => return Some(Request::LiftStop),
            Ok(ToController::Start(_)) => return self.start(Turn::default()),
            Ok(ToController::StartTurn(start)) => return self.start(start.turn),
            Ok(ToController::Ack(ack)) => {
                self.outbox.acknowledge(&ack);
                Some(())
            }
            Ok(ToController::JobChunk(chunk)) => self.job_chunk(&chunk),
            Ok(_) | Err(_) => None,
        };
        self.count(done);
        None
    }

    /// Takes note of what control says; returns what it is asked next.
    pub fn hear(&mut self, report: Report) -> Option<Request> {
        let done = match report {
            Report::Updated {
                update,
                permitted,
                permit_changed,
            } => {
                self.status.permitted = permitted;
                self.sample_came(update.time_us);
                self.updated(&update, permit_changed)
            }
            Report::Unused {
                time_us,
                permitted,
                permit_changed,
            } => {
                self.status.permitted = permitted;
                self.sample_came(time_us);
                if permit_changed {
                    self.beat();
                }
                None
            }
            Report::Cycle(cycle) => {
                self.cycle = Some(cycle);
                Some(())
            }
            Report::Snug(snug) => self.offer_snug(snug),
            Report::Ended(slot) => self.finish(slot),
            Report::NoRun => None,
        };
        self.count(done);
        if let Some(turn) = self.next.take() {
            return self.begin(turn);
        }
        core::mem::take(&mut self.asks_for_snug).then_some(Request::TellSnug)
    }

    fn count(&mut self, done: Option<()>) {
        if done.is_none() {
            self.status.refused = self.status.refused.saturating_add(1);
        }
    }

    fn sample_came(&mut self, time_us: u64) {
        self.status.samples = self.status.samples.saturating_add(1);
        self.status.time_us = time_us;
    }

    fn updated(&mut self, update: &Update, permit_changed: bool) -> Option<()> {
        if core::mem::take(&mut self.awaits_first_sample) {
            let mut hello = self.outbox.hello().clone();
            hello.run_start_us = self.status.time_us;
            self.outbox.introduce(hello);
        }
        let kept = self.outbox.offer(update);
        let reached = |target_nm: &mut f32| update.turning && update.torque_nm >= *target_nm;
        if self.awaited_nm.take_if(reached).is_some() {
            self.asks_for_snug = true;
        }
        let due = self
            .beat_us
            .and_then(|at| self.status.time_us.checked_sub(at))
            .is_none_or(|age| age >= INTERVAL_US);
        if due || permit_changed {
            self.beat_us = Some(self.status.time_us);
            self.outbox.introduce(self.outbox.hello().clone());
            self.beat();
        }
        kept.ok()
    }

    // The angle gets better as the clamping goes on: the one of the summary is the last.
    fn offer_snug(&mut self, snug: Option<Snug>) -> Option<()> {
        match snug {
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
                    self.plan_crc = Plan::crc_of(bytes);
                    // A run keeps the job it was begun with, in words too: the next one's is told
                    // when it begins.
                    let mut hello = self.outbox.hello().clone();
                    if hello.run == 0 {
                        tell_job(&mut hello, &plan, self.plan_crc);
                        self.outbox.introduce(hello);
                    }
                    self.plan = Some(plan);
                    JobStatus::Loaded
                }
                Err(PlanError::LeftOut(_)) => JobStatus::PartLeftOut,
                _ => JobStatus::Refused,
            },
        };
        self.outbox.offer_job_reply(JobReply {
            crc: chunk.crc,
            status: status.wire_code(),
        });
        (status == JobStatus::Loaded).then_some(())
    }

    fn start(&mut self, turn: Turn) -> Option<Request> {
        if self.slot.is_some() {
            return self.begin(turn);
        }
        // The run under way is summed up first: none is lost without a word.
        self.next = Some(turn);
        Some(Request::Finish)
    }

    fn begin(&mut self, turn: Turn) -> Option<Request> {
        let plan = self.plan.as_ref();
        let begins =
            |slot: &mut Slot| plan.is_some_and(|plan| Session::begin(slot, plan, turn).is_some());
        let (Some(slot), Some(plan)) = (self.slot.take_if(begins), plan) else {
            self.count(None);
            return None;
        };
        let mut hello = self.outbox.hello().clone();
        hello.run = hello.run.wrapping_add(1);
        hello.turn = turn;
        tell_job(&mut hello, plan, self.plan_crc);
        self.awaited_nm = (plan.procedure.goal(turn.pass)).and_then(|goal| goal.target_nm());
        self.outbox.introduce(hello);
        self.awaits_first_sample = true;
        Some(Request::Begin(slot))
    }

    fn finish(&mut self, slot: Slot) -> Option<()> {
        let ended = slot.take();
        self.slot = Some(slot);
        let ended = ended?;
        let snug_kept = self.offer_snug(ended.snug_point());
        let finding_kept = ended
            .finish()
            .is_none_or(|finding| self.outbox.offer_finding(&finding).is_ok());
        self.status.permitted = PermitPin::is_high();
        self.beat();
        self.outbox.offer_summary(&ended.summary()).ok()?;
        snug_kept.filter(|()| finding_kept)
    }

    fn beat(&mut self) {
        self.outbox.offer_heartbeat(Heartbeat {
            retained: u8::try_from(self.outbox.retained()).unwrap_or(u8::MAX),
            displaced: self.outbox.displaced(),
            ..self.status
        });
        if let Some(cycle) = self.cycle {
            self.outbox.offer_cycle(cycle);
        }
    }

    /// Keeps what the reader counted for the next sign of life.
    pub fn note_link(&mut self, counts: LinkCounts) {
        self.status.garbled = counts.garbled;
        self.status.lost = counts.lost;
    }

    /// Sends what is due.
    pub fn send<W: Write + WriteReady>(
        &mut self,
        link: &mut W,
    ) -> Result<Progress, LinkDown<W::Error>> {
        self.outbox.poll(self.status.time_us, link)
    }
}

/// Puts the job into what is said of a run.
fn tell_job(hello: &mut Hello, plan: &Plan, crc: u32) {
    hello.joints = if plan.arm.is_some() { JOINTS as u8 } else { 0 };
    hello.job_crc = crc;
    hello.job = plan.job.name.clone();
}

const _: () = assert!(JOINTS <= bolting_monitor::wire::MAX_JOINTS);
