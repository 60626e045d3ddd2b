//! The way from control to the desk: bounded, never waited for, and what matters is never left out.

use bolting_board::control::Report;
use heapless::spsc::Producer;

/// Places that plain updates leave free for what matters.
const KEPT: usize = 8;

/// The end of the queue at which control puts its reports.
pub struct Told {
    queue: Producer<'static, Report>,
    /// What matters and found no place even so: it goes first as soon as there is one.
    held: Option<Report>,
    left_out: u32,
}

impl Told {
    /// On an empty queue.
    pub const fn new(queue: Producer<'static, Report>) -> Self {
        Self {
            queue,
            held: None,
            left_out: 0,
        }
    }

    /// Whether the next report is sure of a place. If not, control follows no request but samples:
    /// a run that ends must not be left out.
    pub fn has_room(&mut self) -> bool {
        if let Some(report) = self.held.take() {
            self.held = self.queue.enqueue(report).err();
        }
        self.held.is_none() && self.queue.ready()
    }

    /// Tells the desk, unless it is so far behind that a plain update had better be left out.
    pub fn tell(&mut self, report: Report) {
        let free = self.queue.capacity().saturating_sub(self.queue.len());
        if !self.has_room() || (report.is_plain() && free <= KEPT) {
            return self.keep(report);
        }
        if let Err(report) = self.queue.enqueue(report) {
            self.keep(report);
        }
    }

    fn keep(&mut self, report: Report) {
        let out = match &self.held {
            None if !report.is_plain() => self.held.replace(report),
            // The stop itself has moved the permit pin already; here its words are saved, too.
            Some(held) if report.is_stop() && !held.is_stop() => self.held.replace(report),
            _ => Some(report),
        };
        self.left_out = self.left_out.wrapping_add(u32::from(out.is_some()));
    }

    /// Reports left out since boot.
    pub const fn left_out(&self) -> u32 {
        self.left_out
    }
}
