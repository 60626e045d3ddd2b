//! The monitor on a Cortex-M4F: joint samples, the job and acknowledgements come in over UART0,
//! frames go out over UART1, the permit is a pin. Runs on the board `mps2-an386` of
//! `qemu-system-arm`; for another board, replace `board.rs`.
//!
//! One loop that sleeps until a byte comes, no interrupt handlers: on the emulated board the UART holds the sender back until its byte was
//! read. A real UART does not; there, put an interrupt or DMA and a ring behind [`board::Uart`].

#![no_std]
#![no_main]

mod board;
mod controller;
mod panic;
mod session;

use bolting_monitor::device::{FrameReader, PermitOutput};
use bolting_monitor::wire::Progress;
use cortex_m_rt::entry;

use board::{PermitPin, Uart, Watch};
use controller::Controller;

/// Bytes taken from the port before the outbox gets its turn.
const BYTES_PER_TURN: usize = 64;

#[entry]
fn main() -> ! {
    let (Ok(permit), Some(mut watch)) = (PermitOutput::new(PermitPin), Watch::start()) else {
        // Without the pin or the clock under control nothing must be permitted.
        board::halt()
    };
    let mut reader = FrameReader::new(Uart::<0>::enable());
    let mut link = Uart::<1>::enable();
    let mut controller = Controller::new(permit, board::boot_id());
    loop {
        // Neither port has errors of its own: what is damaged fails its CRC and is counted.
        let _ = reader.poll(BYTES_PER_TURN, |frame| controller.take(&frame));
        controller.note_link(reader.counts());
        if watch.elapsed() {
            controller.check_samples_come();
        }
        if let Ok(Progress::Idle) = controller.send(&mut link) {
            board::sleep();
        }
    }
}
