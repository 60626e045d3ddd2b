//! The monitor on a Cortex-M4F: joint samples, the job and acknowledgements come in over UART0,
//! frames go out over UART1, the permit is a pin. Runs on the board `mps2-an386` of
//! `qemu-system-arm`.
//!
//! One loop that sleeps until a byte comes, no interrupt handlers: on the emulated board the UART
//! holds the sender back until its byte was read. A real UART does not; there, put an interrupt or
//! DMA and a ring behind [`Uart`], or see `examples/interrupts`.

#![no_std]
#![no_main]

use bolting_board::board::{self, PermitPin, Uart, Watch};
use bolting_board::control::{Control, Slot};
use bolting_board::desk::Desk;
use bolting_monitor::device::{FrameReader, PermitOutput};
use bolting_monitor::wire::Progress;
use cortex_m_rt::entry;

/// Bytes taken from the port before the outbox gets its turn.
const BYTES_PER_TURN: usize = 64;

#[entry]
fn main() -> ! {
    let slot: Option<Slot> = cortex_m::singleton!(: Option<bolting_board::session::Session> = None);
    let (Some(slot), Ok(permit), Some(mut watch)) =
        (slot, PermitOutput::new(PermitPin), Watch::start())
    else {
        // Without the pin or the clock under control nothing must be permitted.
        board::halt()
    };
    let mut reader = FrameReader::new(Uart::<0>::enable());
    let mut link = Uart::<1>::enable();
    let mut control = Control::new(permit);
    let mut desk = Desk::new(slot, board::boot_id());
    loop {
        // Neither port has errors of its own: what is damaged fails its CRC and is counted.
        let _ = reader.poll(BYTES_PER_TURN, |frame| {
            let mut request = desk.take(&frame);
            while let Some(asked) = request {
                request = control.follow(asked).and_then(|report| desk.hear(report));
            }
        });
        desk.note_link(reader.counts());
        if watch.elapsed() {
            control.check_samples_come();
        }
        if let Ok(Progress::Idle) = desk.send(&mut link) {
            board::sleep();
        }
    }
}
