//! The board `mps2-an386` as QEMU emulates it: Arm's CMSDK UARTs, a user LED as permit output, and
//! SysTick.
//!
//! Addresses and bits: Arm application note AN386 and the CMSDK technical reference manual
//! (APB UART), as far as QEMU implements them.

use core::convert::Infallible;
use core::mem::MaybeUninit;
use core::ptr::{addr_of_mut, read_volatile, write_volatile};

use cortex_m::interrupt::InterruptNumber;
use cortex_m::peripheral::{NVIC, SCB, SYST, syst::SystClkSource};
use embedded_hal::digital::{self, OutputPin};
use embedded_io::{ErrorType, Read, ReadReady, Write, WriteReady};

const UART_BASE: [usize; 2] = [0x4000_4000, 0x4000_5000];
const DATA: usize = 0x0;
const STATE: usize = 0x4;
const CTRL: usize = 0x8;
const INTERRUPT: usize = 0xC;
const BAUD_DIVIDER: usize = 0x10;
const TX_FULL: u32 = 1;
const RX_FULL: u32 = 2;
const TX_AND_RX_ON: u32 = 1 | 2;
const BOTH_INTERRUPTS_ON: u32 = 4 | 8;
const BOTH_INTERRUPTS: u32 = 1 | 2;

const LEDS: usize = 0x4002_8000;
const PERMIT_LED: u32 = 1;

/// Clock of the core and of SysTick, Hz.
pub const CORE_CLOCK_HZ: u32 = 25_000_000;

fn read(address: usize) -> u32 {
    // SAFETY: only called with the register addresses above, which are always mapped on this board.
    unsafe { read_volatile(address as *const u32) }
}

fn write(address: usize, value: u32) {
    // SAFETY: as in `read`; none of these registers has an effect on memory.
    unsafe { write_volatile(address as *mut u32, value) }
}

/// The interrupt "a byte came" of UART 0.
#[derive(Clone, Copy)]
struct ByteCame;

// SAFETY: UART 0 receives on line 0, and the board has more lines than that.
unsafe impl InterruptNumber for ByteCame {
    fn number(self) -> u16 {
        0
    }
}

/// With interrupts masked by [`Watch::start`], so that they only end a sleep: waits for a byte at
/// UART 0 or for the watch; returns at once if one came since the last call.
pub fn sleep() {
    cortex_m::asm::wfi();
    // In this order: a byte that comes from here on sets both again.
    Uart::<0>::acknowledge();
    NVIC::unpend(ByteCame);
}

/// UART number `I` (0 or 1).
pub struct Uart<const I: usize>;

impl<const I: usize> Uart<I> {
    const BASE: usize = UART_BASE[I];

    /// Switches the UART on.
    pub fn enable() -> Self {
        write(Self::BASE + BAUD_DIVIDER, CORE_CLOCK_HZ / 921_600);
        write(Self::BASE + CTRL, TX_AND_RX_ON | BOTH_INTERRUPTS_ON);
        Self
    }

    /// Takes back its interrupts: a byte that comes or leaves from here on raises them again.
    pub fn acknowledge() {
        write(Self::BASE + INTERRUPT, BOTH_INTERRUPTS);
    }

    /// Whether a byte waits to be read.
    pub fn byte_waits() -> bool {
        Self::state() & RX_FULL != 0
    }

    fn state() -> u32 {
        read(Self::BASE + STATE)
    }
}

impl<const I: usize> ErrorType for Uart<I> {
    type Error = Infallible;
}

impl<const I: usize> ReadReady for Uart<I> {
    fn read_ready(&mut self) -> Result<bool, Infallible> {
        Ok(Self::byte_waits())
    }
}

impl<const I: usize> Read for Uart<I> {
    fn read(&mut self, buffer: &mut [u8]) -> Result<usize, Infallible> {
        let Some(first) = buffer.first_mut() else {
            return Ok(0);
        };
        while !Self::byte_waits() {}
        *first = read(Self::BASE + DATA) as u8;
        Ok(1)
    }
}

impl<const I: usize> WriteReady for Uart<I> {
    fn write_ready(&mut self) -> Result<bool, Infallible> {
        Ok(Self::state() & TX_FULL == 0)
    }
}

impl<const I: usize> Write for Uart<I> {
    fn write(&mut self, bytes: &[u8]) -> Result<usize, Infallible> {
        let Some(first) = bytes.first() else {
            return Ok(0);
        };
        while Self::state() & TX_FULL != 0 {}
        write(Self::BASE + DATA, u32::from(*first));
        Ok(1)
    }

    fn flush(&mut self) -> Result<(), Infallible> {
        while Self::state() & TX_FULL != 0 {}
        Ok(())
    }
}

/// The permit output: user LED 0 stands for the line to the tool.
pub struct PermitPin;

impl PermitPin {
    /// The level, read back from the register.
    pub fn is_high() -> bool {
        read(LEDS) & PERMIT_LED != 0
    }
}

impl digital::ErrorType for PermitPin {
    type Error = digital::ErrorKind;
}

impl OutputPin for PermitPin {
    fn set_low(&mut self) -> Result<(), digital::ErrorKind> {
        write(LEDS, read(LEDS) & !PERMIT_LED);
        confirm(!Self::is_high())
    }

    fn set_high(&mut self) -> Result<(), digital::ErrorKind> {
        write(LEDS, read(LEDS) | PERMIT_LED);
        confirm(Self::is_high())
    }
}

fn confirm(as_written: bool) -> Result<(), digital::ErrorKind> {
    if as_written {
        Ok(())
    } else {
        Err(digital::ErrorKind::Other)
    }
}

/// Drives the permit low and stays.
pub fn halt() -> ! {
    loop {
        // The result cannot be acted on any further; trying again is all that is left.
        let _ = PermitPin.set_low();
    }
}

/// Ticks every 100 ms of the board's own clock: enough to see that samples stopped coming.
pub struct Watch(SYST);

impl Watch {
    /// Starts it and masks all interrupts; `None` if it is running already.
    pub fn start() -> Option<Self> {
        cortex_m::interrupt::disable();
        let mut timer = cortex_m::Peripherals::take()?.SYST;
        // SAFETY: masked by the line above, it can only end a sleep.
        unsafe { NVIC::unmask(ByteCame) };
        timer.set_clock_source(SystClkSource::Core);
        timer.set_reload(CORE_CLOCK_HZ / 10 - 1);
        timer.clear_current();
        timer.enable_interrupt();
        timer.enable_counter();
        Some(Self(timer))
    }

    /// Whether 100 ms have passed since this last said so.
    pub fn elapsed(&mut self) -> bool {
        SCB::clear_pendst();
        self.0.has_wrapped()
    }
}

/// Counts boots in a word that a warm reset leaves alone. A board with a backup register or a page of
/// flash to spare should count there, so that a power failure counts too.
pub fn boot_id() -> u32 {
    #[unsafe(link_section = ".uninit.BOOTS")]
    static mut BOOTS: MaybeUninit<u32> = MaybeUninit::uninit();
    // SAFETY: called once from `main`, before anything else could use the word; every bit pattern is
    // a u32, and the volatile read takes whatever the memory holds.
    unsafe {
        let boots = read_volatile(addr_of_mut!(BOOTS).cast::<u32>()).wrapping_add(1);
        write_volatile(addr_of_mut!(BOOTS).cast::<u32>(), boots);
        boots
    }
}
