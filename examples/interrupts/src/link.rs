//! The desk between two queues and two ports.

use bolting_board::board::Uart;
use bolting_board::control::{Report, Request};
use bolting_board::desk::Desk;
use bolting_monitor::device::FrameReader;
use heapless::spsc::{Consumer, Producer};

/// Bytes taken from the port before reports and the outbox get their turn.
const BYTES_PER_TURN: usize = 64;

/// Everything that may wait.
pub struct Link {
    desk: Desk,
    reader: FrameReader<Uart<0>>,
    port: Uart<1>,
    asked: Producer<'static, Request>,
    /// What found no place in that queue; until it does, nothing new is taken.
    pending: Option<Request>,
    reports: Consumer<'static, Report>,
}

impl Link {
    /// Switches both ports on.
    pub fn new(
        desk: Desk,
        asked: Producer<'static, Request>,
        reports: Consumer<'static, Report>,
    ) -> Self {
        Self {
            desk,
            reader: FrameReader::new(Uart::enable()),
            port: Uart::enable(),
            asked,
            pending: None,
            reports,
        }
    }

    /// Does what can be done now; returns whether there is more of it.
    ///
    /// Where control is behind, bytes are left at the port. The emulated UART holds the sender back
    /// then; a real one overflows, and the frames that are missing are counted and told.
    pub fn turn(&mut self) -> bool {
        let pending = self.pending.take();
        self.ask(pending);
        while self.pending.is_none()
            && let Some(report) = self.reports.dequeue()
        {
            let request = self.desk.hear(report);
            self.ask(request);
        }
        for _ in 0..BYTES_PER_TURN {
            if !self.may_take() {
                break;
            }
            let mut request = None;
            // The port has no errors of its own: what is damaged fails its CRC and is counted.
            let _ = self
                .reader
                .poll(1, |frame| request = self.desk.take(&frame));
            self.ask(request);
        }
        self.desk.note_link(self.reader.counts());
        // A port that is busy says so by an interrupt when it is not any more.
        let _ = self.desk.send(&mut self.port);
        Uart::<0>::byte_waits() && self.may_take()
    }

    fn may_take(&self) -> bool {
        self.pending.is_none() && !self.desk.is_waiting() && self.asked.ready()
    }

    fn ask(&mut self, request: Option<Request>) {
        if let Some(request) = request {
            self.pending = self.asked.enqueue(request).err();
        }
    }
}
