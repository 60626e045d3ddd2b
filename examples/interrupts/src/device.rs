//! What RTIC and the linker must know of the device: its interrupts and their priorities. A vendor's
//! device crate would say it; the emulated board has none.

use cortex_m::interrupt::InterruptNumber;

/// Bits of an interrupt's priority: eight levels, as the board's microcontroller image has (common
/// practice, no source; QEMU offers more).
pub const NVIC_PRIO_BITS: u8 = 3;

/// The interrupts in use, by their place in the vector table (Arm application note AN386).
#[derive(Clone, Copy)]
#[repr(u16)]
pub enum Interrupt {
    /// UART 0: a byte came.
    UART0RX = 0,
    /// UART 1: it takes another byte.
    UART1TX = 3,
}

// SAFETY: the numbers are those of the vector table below.
unsafe impl InterruptNumber for Interrupt {
    fn number(self) -> u16 {
        self as u16
    }
}

/// The name under which RTIC looks for the interrupts.
pub use Interrupt as interrupt;

unsafe extern "C" {
    // Defined by the tasks bound to them in `main.rs`, and by cortex-m-rt.
    fn UART0RX();
    fn UART1TX();
    fn DefaultHandler();
}

/// The device's part of the vector table.
#[unsafe(link_section = ".vector_table.interrupts")]
#[unsafe(no_mangle)]
pub static __INTERRUPTS: [unsafe extern "C" fn(); 4] =
    [UART0RX, DefaultHandler, DefaultHandler, UART1TX];
