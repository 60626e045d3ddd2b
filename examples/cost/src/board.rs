//! The emulator as a counter of instructions and as a file system.
//!
//! QEMU's `-icount` moves virtual time by a fixed step for each instruction; a timer read before and
//! after a piece of code then counts instructions, the same in every run. Files go through the
//! semihosting interface, which both instruction sets define alike.

use core::arch::asm;
use core::convert::Infallible;
use core::panic::PanicInfo;

use embedded_io::{ErrorType, Write, WriteReady};

const SYS_OPEN: usize = 0x01;
const SYS_WRITE: usize = 0x05;
const SYS_READ: usize = 0x06;
const SYS_EXIT: usize = 0x18;
/// Reason "application exit"; any other one is a failure.
const APPLICATION_EXIT: usize = 0x2_0026;
const RUN_TIME_ERROR: usize = 0x2_0023;
const MODE_READ_BINARY: usize = 1;
const MODE_WRITE_BINARY: usize = 5;

fn semihost(operation: usize, argument: usize) -> usize {
    let result;
    // SAFETY: a debug trap that QEMU answers; the argument points to a block that outlives the call
    // or is a plain number, as the operation asks.
    unsafe {
        #[cfg(target_arch = "arm")]
        asm!("bkpt 0xab", inout("r0") operation => result, in("r1") argument);
        #[cfg(target_arch = "riscv32")]
        asm!(
            ".balign 16", ".option push", ".option norvc",
            "slli x0, x0, 0x1f", "ebreak", "srai x0, x0, 7",
            ".option pop",
            inout("a0") operation => result, in("a1") argument
        );
    }
    result
}

fn call<const K: usize>(operation: usize, block: [usize; K]) -> usize {
    semihost(operation, core::hint::black_box(&block).as_ptr() as usize)
}

/// Ends the emulator, with success or not.
pub fn exit(success: bool) -> ! {
    let reason = if success {
        APPLICATION_EXIT
    } else {
        RUN_TIME_ERROR
    };
    loop {
        semihost(SYS_EXIT, reason);
    }
}

#[panic_handler]
fn panic(_: &PanicInfo) -> ! {
    exit(false)
}

/// A file on the host.
pub struct File(usize);

impl File {
    /// Opens the file that `name`, ended by a zero, means in the emulator's folder.
    pub fn open(name: &[u8], write: bool) -> Self {
        let mode = if write {
            MODE_WRITE_BINARY
        } else {
            MODE_READ_BINARY
        };
        let handle = call(SYS_OPEN, [name.as_ptr() as usize, mode, name.len() - 1]);
        if handle == usize::MAX {
            exit(false);
        }
        Self(handle)
    }

    /// Reads `N` bytes; the emulator ends with a failure where the file has fewer.
    pub fn read<const N: usize>(&self) -> [u8; N] {
        let mut bytes = [0; N];
        self.fill(&mut bytes);
        bytes
    }

    /// As [`File::read`], into a slice.
    pub fn fill(&self, bytes: &mut [u8]) {
        let block = [self.0, bytes.as_mut_ptr() as usize, bytes.len()];
        if call(SYS_READ, block) != 0 {
            exit(false);
        }
    }

    /// Writes words, least significant byte first.
    pub fn write_words(&self, words: &[u32]) {
        self.send(words.as_ptr() as usize, size_of_val(words));
    }

    fn send(&self, address: usize, length: usize) {
        if call(SYS_WRITE, [self.0, address, length]) != 0 {
            exit(false);
        }
    }
}

impl ErrorType for File {
    type Error = Infallible;
}

impl Write for File {
    fn write(&mut self, bytes: &[u8]) -> Result<usize, Infallible> {
        self.send(bytes.as_ptr() as usize, bytes.len());
        Ok(bytes.len())
    }

    fn flush(&mut self) -> Result<(), Infallible> {
        Ok(())
    }
}

impl WriteReady for File {
    fn write_ready(&mut self) -> Result<bool, Infallible> {
        Ok(true)
    }
}

/// A timer that QEMU moves on by a fixed step for each instruction.
#[cfg(target_arch = "arm")]
pub struct Counter(cortex_m::peripheral::SYST);

#[cfg(target_arch = "arm")]
impl Counter {
    /// Starts it.
    pub fn start() -> Self {
        let Some(mut parts) = cortex_m::Peripherals::take() else {
            exit(false)
        };
        parts
            .SYST
            .set_clock_source(cortex_m::peripheral::syst::SystClkSource::Core);
        parts.SYST.set_reload(0x00ff_ffff);
        parts.SYST.clear_current();
        parts.SYST.enable_counter();
        Self(parts.SYST)
    }

    /// Ticks that `work` takes, and its result; correct up to 2²⁴ ticks.
    pub fn ticks<T>(&self, work: impl FnOnce() -> T) -> (u32, T) {
        let before = cortex_m::peripheral::SYST::get_current();
        let result = work();
        let after = cortex_m::peripheral::SYST::get_current();
        (before.wrapping_sub(after) & 0x00ff_ffff, result)
    }
}

/// The counter of retired instructions.
#[cfg(target_arch = "riscv32")]
pub struct Counter;

#[cfg(target_arch = "riscv32")]
impl Counter {
    /// It runs from reset on.
    pub fn start() -> Self {
        Self
    }

    /// Ticks that `work` takes, and its result.
    pub fn ticks<T>(&self, work: impl FnOnce() -> T) -> (u32, T) {
        let before = Self::now();
        let result = work();
        (Self::now().wrapping_sub(before), result)
    }

    fn now() -> u32 {
        let now;
        // SAFETY: reads a counter.
        unsafe { asm!("csrr {}, minstret", out(reg) now) };
        now
    }
}

impl Counter {
    /// Ticks of 4000 instructions and of none, from which all others are told.
    pub fn calibrate(&self) -> [u32; 2] {
        let (nothing, ()) = self.ticks(|| ());
        let (nops, ()) = self.ticks(four_thousand);
        [nops, nothing]
    }
}

// Alone, or Thumb's short loads could not reach across it.
#[inline(never)]
fn four_thousand() {
    // SAFETY: does nothing.
    unsafe { asm!(".rept 4000", "nop", ".endr") }
}

const PAINT: u32 = 0xc5c5_c5c5;
/// Left alone right below the stack pointer: painting itself needs some.
const MARGIN: usize = 256;

/// Bytes of stack that `work` takes below its caller, up to `watched`.
#[inline(never)]
pub fn stack_of<T>(watched: usize, work: impl FnOnce() -> T) -> (u32, T) {
    let top = stack_pointer();
    let bottom = top - watched;
    for address in (bottom..top - MARGIN).step_by(4) {
        // SAFETY: free stack of the only thread; no interrupt is on.
        unsafe { (address as *mut u32).write_volatile(PAINT) };
    }
    let result = work();
    let deepest = (bottom..top - MARGIN)
        .step_by(4)
        // SAFETY: as above.
        .find(|address| unsafe { (*address as *const u32).read_volatile() } != PAINT)
        .unwrap_or(top - MARGIN);
    ((top - deepest) as u32, result)
}

fn stack_pointer() -> usize {
    let address;
    // SAFETY: reads a register.
    unsafe {
        #[cfg(target_arch = "arm")]
        asm!("mov {}, sp", out(reg) address);
        #[cfg(target_arch = "riscv32")]
        asm!("mv {}, sp", out(reg) address);
    }
    address
}

#[cfg(target_arch = "riscv32")]
core::arch::global_asm!(
    ".section .text.start",
    ".globl _start",
    "_start:",
    "la sp, _stack_start",
    "call main",
);
