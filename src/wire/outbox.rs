//! What waits to be sent, in fixed memory: what matters is kept until the host has it, the curve
//! gives way, and what gave way is said.

use core::fmt;

use embedded_io::{Write, WriteReady};
use heapless::Deque;

use super::frame::{MAX_WIRE, encode};
use super::message::Payload;
use super::retained::{Message, Retained, RetainedFull};
use super::{
    Ack, Cycle, Evidence, Heartbeat, Hello, JobReply, Point, Points, SnugAngle, SnugSeen, Summary,
    Thinned,
};
use crate::detect::Finding;
use crate::monitor::Update;
use crate::procedure::{RunSummary, Snug};

/// How far [`Outbox::poll`] came.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Progress {
    /// Everything that was due is sent.
    Idle,
    /// The link takes no more at the moment.
    Waiting,
}

/// The link failed. Nothing is lost; poll again when it may be back.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum LinkDown<E> {
    /// The link took no byte though it said it was ready.
    WriteZero,
    /// The link's own error.
    Link(E),
}

impl<E: fmt::Debug> fmt::Display for LinkDown<E> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::WriteZero => write!(f, "link accepts no bytes: check the line, then poll again"),
            Self::Link(e) => write!(f, "link failed ({e:?}): check the line, then poll again"),
        }
    }
}

impl<E: fmt::Debug> core::error::Error for LinkDown<E> {}

/// A run that is over and whose curve is not sent yet. A point does not say of which run it is: the
/// [`Hello`] before it does.
#[derive(Debug)]
struct Before {
    hello: Hello,
    hello_due: bool,
    points: usize,
}

/// The sender's queue: up to `P` curve points and `R` retained messages.
///
/// Alarms go first, then who is speaking, evidence and snug, then the curve, then the summary, so
/// that a run's summary comes behind its curve. An alarm waits for at most the one frame that is on
/// its way ([`MAX_WIRE`] bytes).
///
/// *Retained* are alarms with their evidence, snug messages and summaries: each is sent again every
/// resend interval, and after a broken link, until [`Outbox::acknowledge`]d. A host that never
/// acknowledges gets each at least once: when all places are taken, a new one displaces the oldest
/// that was sent, findings last, and the count is kept for the heartbeat.
#[derive(Debug)]
pub struct Outbox<const P: usize, const R: usize> {
    hello: Hello,
    hello_due: bool,
    heartbeat: Option<Heartbeat>,
    cycle: Option<Cycle>,
    job_reply: Option<JobReply>,
    /// The run whose last points still wait, ahead of those of `hello.run`.
    before: Option<Before>,
    points: Deque<Point, P>,
    thinned: u32,
    thinned_told: u32,
    retained: Retained<R>,
    resend_us: u64,
    seq: u32,
    // First byte 0x00: sent at boot and after a break, to end whatever was torn.
    frame: [u8; MAX_WIRE + 1],
    at: usize,
    end: usize,
}

impl<const P: usize, const R: usize> Outbox<P, R> {
    /// An outbox that introduces itself as `hello` and sends retained messages again every
    /// `resend_us` µs of sample time.
    pub const fn new(hello: Hello, resend_us: u64) -> Self {
        Self {
            hello,
            hello_due: true,
            heartbeat: None,
            cycle: None,
            job_reply: None,
            before: None,
            points: Deque::new(),
            thinned: 0,
            thinned_told: 0,
            retained: Retained::new(),
            resend_us,
            seq: 0,
            frame: [0; MAX_WIRE + 1],
            at: 0,
            end: 0,
        }
    }

    /// Who is speaking.
    pub const fn hello(&self) -> &Hello {
        &self.hello
    }

    /// Introduces anew: a run began, a job was loaded, or a while has passed. What is offered from
    /// here on belongs to `hello.run`; curve points of the run before still go ahead of it, those of
    /// the run before that are given up and counted as thinned.
    pub fn introduce(&mut self, hello: Hello) {
        let same = (hello.boot_id, hello.run) == (self.hello.boot_id, self.hello.run);
        let last = core::mem::replace(&mut self.hello, hello);
        let hello_due = core::mem::replace(&mut self.hello_due, true);
        let older = self.before.as_ref().map_or(0, |before| before.points);
        let points = self.points.len().saturating_sub(older);
        if same || points == 0 {
            return;
        }
        for _ in 0..older {
            self.points.pop_front();
            self.thinned = self.thinned.wrapping_add(1);
        }
        self.before = Some(Before {
            hello: last,
            hello_due,
            points,
        });
    }

    /// Curve points left out since boot.
    pub const fn thinned(&self) -> u32 {
        self.thinned
    }

    /// Retained messages not yet acknowledged.
    pub fn retained(&self) -> usize {
        self.retained.len()
    }

    /// Retained messages given up unacknowledged since boot.
    pub const fn displaced(&self) -> u32 {
        self.retained.displaced()
    }

    /// Queues whatever an update holds: curve point, snug event, finding.
    ///
    /// # Errors
    /// [`RetainedFull`] if a snug event or finding found no place.
    pub fn offer(&mut self, update: &Update) -> Result<(), RetainedFull> {
        let finding = match &update.finding {
            Some(finding) => self.offer_finding(finding).map(|_| ()),
            None => Ok(()),
        };
        let point = Point::from_update(update, self.hello.run_start_us);
        if update.curve_point {
            self.offer_point(point);
        }
        if update.snug_seen {
            let run = self.hello.run as u8;
            self.retained
                .keep(|id| Message::SnugSeen(SnugSeen { id, run, point }))?;
        }
        finding
    }

    /// Queues a curve point. When there is no room, every other waiting point gives way: the curve
    /// gets coarser over its whole length, not cut off.
    pub fn offer_point(&mut self, point: Point) {
        if self.points.is_full() {
            for i in 0..self.points.len() {
                match self.points.pop_front() {
                    Some(kept) if i % 2 == 0 => self.queue_point(kept),
                    Some(_) => self.thinned = self.thinned.wrapping_add(1),
                    None => {}
                }
            }
            if let Some(before) = &mut self.before {
                before.points = before.points.div_ceil(2);
            }
        }
        self.queue_point(point);
    }

    fn queue_point(&mut self, point: Point) {
        if self.points.push_back(point).is_err() {
            self.thinned = self.thinned.wrapping_add(1);
        }
    }

    /// Queues a finding as alarm and evidence; returns its id.
    ///
    /// # Errors
    /// [`RetainedFull`].
    pub fn offer_finding(&mut self, finding: &Finding) -> Result<u8, RetainedFull> {
        let (run, start) = (self.hello.run, self.hello.run_start_us);
        self.retained.keep(|id| {
            let (alarm, evidence) = Evidence::split(finding, id, run, start);
            Message::Finding(alarm, evidence)
        })
    }

    /// Queues the refined snug angle; returns its id.
    ///
    /// # Errors
    /// [`RetainedFull`].
    pub fn offer_snug_angle(&mut self, snug: &Snug) -> Result<u8, RetainedFull> {
        let run = self.hello.run as u8;
        self.retained.keep(|id| {
            Message::SnugAngle(SnugAngle {
                id,
                run,
                angle_rad: snug.angle_rad,
                angle_u_rad: snug.angle_u_rad,
                torque_nm: snug.torque_nm,
            })
        })
    }

    /// Queues the answer for the run; returns its id.
    ///
    /// # Errors
    /// [`RetainedFull`].
    pub fn offer_summary(&mut self, summary: &RunSummary) -> Result<u8, RetainedFull> {
        let run = self.hello.run;
        self.retained
            .keep(|id| Message::Summary(Summary::new(summary, id, run)))
    }

    /// Queues a sign of life; a newer one replaces one that still waits.
    pub fn offer_heartbeat(&mut self, heartbeat: Heartbeat) {
        self.heartbeat = Some(heartbeat);
    }

    /// Queues how the control loop fares; a newer one replaces one that still waits.
    pub fn offer_cycle(&mut self, cycle: Cycle) {
        self.cycle = Some(cycle);
    }

    /// Queues the answer to a job transfer; a newer one replaces one that still waits.
    pub fn offer_job_reply(&mut self, reply: JobReply) {
        self.job_reply = Some(reply);
    }

    /// The host has a retained message: let it go. Returns whether it was still held; one from
    /// another boot never is.
    pub fn acknowledge(&mut self, ack: &Ack) -> bool {
        ack.boot_id == self.hello.boot_id && self.retained.release(ack)
    }

    /// Sends what is due, as far as the link takes it now. `now_us` is the time of the newest
    /// sample, µs. Never blocks: a byte is written only when the link says it is ready.
    ///
    /// # Errors
    /// [`LinkDown`]; the frame under way, then who is speaking and all retained messages, are sent
    /// again when the link is back.
    pub fn poll<W: Write + WriteReady>(
        &mut self,
        now_us: u64,
        link: &mut W,
    ) -> Result<Progress, LinkDown<W::Error>> {
        self.retained.resend(now_us, self.resend_us);
        loop {
            while let Some(rest) = self.frame.get(self.at..self.end).filter(|r| !r.is_empty()) {
                match write_some(link, rest) {
                    Ok(0) => return Ok(Progress::Waiting),
                    Ok(n) => self.at = self.at.saturating_add(n),
                    Err(e) => {
                        self.link_lost(now_us);
                        return Err(e);
                    }
                }
            }
            if !self.load_next(now_us) {
                return Ok(Progress::Idle);
            }
        }
    }

    fn link_lost(&mut self, now_us: u64) {
        self.at = 0;
        self.hello_due = true;
        if let Some(before) = &mut self.before {
            before.hello_due = true;
        }
        self.retained.resend(now_us, 0);
    }

    fn load_next(&mut self, now_us: u64) -> bool {
        if let Some(alarm) = self.retained.next_alarm() {
            return self.load(&alarm);
        }
        let (hello, due) = match &mut self.before {
            Some(before) => (&before.hello, &mut before.hello_due),
            None => (&self.hello, &mut self.hello_due),
        };
        if core::mem::take(due) {
            let hello = hello.clone();
            return self.load(&hello);
        }
        if let Some(reply) = self.job_reply.take() {
            return self.load(&reply);
        }
        if let Some(message) = self.retained.next_rest(now_us, false) {
            return self.load_retained(&message);
        }
        if !self.points.is_empty() {
            let batch = self.next_points();
            return self.load(&batch);
        }
        if self.thinned != self.thinned_told {
            self.thinned_told = self.thinned;
            return self.load(&Thinned {
                points: self.thinned,
            });
        }
        if let Some(message) = self.retained.next_rest(now_us, true) {
            return self.load_retained(&message);
        }
        if let Some(cycle) = self.cycle.take() {
            return self.load(&cycle);
        }
        match self.heartbeat.take() {
            Some(heartbeat) => self.load(&heartbeat),
            None => false,
        }
    }

    /// The points that wait longest, of one run.
    fn next_points(&mut self) -> Points {
        let mut batch = Points::default();
        let of_one_run = (self.before.as_ref()).map_or(usize::MAX, |before| before.points);
        while batch.points.len() < of_one_run && !batch.points.is_full() {
            match self.points.pop_front().map(|p| batch.points.push(p)) {
                Some(Ok(())) => {}
                _ => break,
            }
        }
        if let Some(before) = &mut self.before {
            before.points = before.points.saturating_sub(batch.points.len());
        }
        self.before.take_if(|before| before.points == 0);
        batch
    }

    fn load_retained(&mut self, message: &Message) -> bool {
        match message {
            Message::Finding(_, evidence) => self.load(evidence),
            Message::SnugSeen(message) => self.load(message),
            Message::SnugAngle(message) => self.load(message),
            Message::Summary(message) => self.load(message),
        }
    }

    // Every message of this module fits a frame (shown by a test over extreme values), so that the
    // buffer is never left empty here.
    fn load<T: Payload>(&mut self, message: &T) -> bool {
        let Some((_, room)) = self.frame.split_first_mut() else {
            return false;
        };
        let Ok(length) = encode(self.seq, message, room) else {
            return false;
        };
        self.at = usize::from(self.seq != 0);
        self.seq = self.seq.wrapping_add(1);
        self.end = length.saturating_add(1);
        true
    }
}

fn write_some<W: Write + WriteReady>(
    link: &mut W,
    rest: &[u8],
) -> Result<usize, LinkDown<W::Error>> {
    if !link.write_ready().map_err(LinkDown::Link)? {
        return Ok(0);
    }
    match link.write(rest) {
        Ok(0) => Err(LinkDown::WriteZero),
        // A driver that claims more than it was given would otherwise run past the frame.
        Ok(n) => Ok(n.min(rest.len())),
        Err(e) => Err(LinkDown::Link(e)),
    }
}
