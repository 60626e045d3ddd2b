//! The monitor in the control interrupt of a Cortex-M4F, the link behind it, with RTIC.
//!
//! | task | priority | does |
//! |---|---|---|
//! | `control` | 8, highest | each millisecond: one sample through the monitor, the permit pin |
//! | `link` | 1 | when a byte came or control has reported: requests, outbox, port |
//! | idle | 0 | sleeps |
//!
//! Between the two lie two bounded queues without locks; no interrupt is ever masked, so nothing that
//! happens to the link can delay control.

#![no_std]
#![no_main]

// The vector table and the way to `main`.
use cortex_m_rt as _;

mod device;
mod link;
mod metronome;
mod told;

#[rtic::app(device = crate::device, peripherals = false)]
mod app {
    use bolting_board::board::{self, PermitPin, Uart};
    use bolting_board::control::{Control, Report, Request};
    use bolting_board::desk::Desk;
    use bolting_board::session::Session;
    use bolting_monitor::device::PermitOutput;
    use heapless::spsc::{Consumer, Queue};

    use crate::device::Interrupt;
    use crate::link::Link;
    use crate::metronome::Metronome;
    use crate::told::Told;

    #[shared]
    struct Shared {}

    #[local]
    struct Local {
        metronome: Metronome,
        control: Control,
        requests: Consumer<'static, Request>,
        told: Told,
        link: Link,
    }

    #[init(local = [
        run: Option<Session> = None,
        asked: Queue<Request, 16> = Queue::new(),
        reports: Queue<Report, 64> = Queue::new(),
    ])]
    fn init(cx: init::Context) -> (Shared, Local) {
        let Ok(permit) = PermitOutput::new(PermitPin) else {
            // Without the pin under control nothing must be permitted.
            board::halt()
        };
        let (asked, requests) = cx.local.asked.split();
        let (told, reports) = cx.local.reports.split();
        let desk = Desk::new(cx.local.run, board::boot_id());
        let local = Local {
            metronome: Metronome::start(cx.core.SYST),
            control: Control::new(permit),
            requests,
            told: Told::new(told),
            link: Link::new(desk, asked, reports),
        };
        (Shared {}, local)
    }

    #[idle]
    fn idle(_: idle::Context) -> ! {
        loop {
            cortex_m::asm::wfi();
        }
    }

    /// One cycle of control. The sample comes from a queue because the host plays the arm; with an
    /// arm, read its joints here.
    #[task(binds = SysTick, priority = 8, local = [metronome, control, requests, told])]
    fn control(cx: control::Context) {
        let control::LocalResources {
            metronome,
            control,
            requests,
            told,
            ..
        } = cx.local;
        metronome.open();
        let mut idle = true;
        let mut room = told.has_room();
        // At most a queue's length: nothing is added while this runs.
        while idle && let Some(next) = requests.peek() {
            let is_sample = matches!(next, Request::Sample(_));
            if !is_sample {
                told.tell(Report::Cycle(metronome.cycle()));
                room = told.has_room();
            }
            if !is_sample && !room {
                break;
            }
            if let Some(report) = requests.dequeue().and_then(|asked| control.follow(asked)) {
                told.tell(report);
            }
            idle = !is_sample;
        }
        if metronome.is_time_to_look() {
            control.check_samples_come();
            told.tell(Report::Cycle(metronome.cycle()));
        }
        metronome.close(idle, told.left_out());
        rtic::pend(Interrupt::UART0RX);
    }

    #[task(binds = UART0RX, priority = 1, local = [link])]
    fn link(cx: link::Context) {
        Uart::<0>::acknowledge();
        while cx.local.link.turn() {}
    }

    #[task(binds = UART1TX, priority = 1)]
    fn port_is_free(_: port_is_free::Context) {
        Uart::<1>::acknowledge();
        rtic::pend(Interrupt::UART0RX);
    }
}
