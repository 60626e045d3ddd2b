//! A monitor in the caller's memory.

use core::mem::MaybeUninit;
use core::sync::atomic::{AtomicU8, Ordering};

use bolting_monitor::arm::ArmDescription;
use bolting_monitor::monitor::{Monitor, MonitorError};
use bolting_monitor::procedure::BoltJob;

use crate::status::Status;
use crate::structs::{BM_MAX_JOINTS, BM_MONITOR_ALIGN, BM_MONITOR_ROOM};

/// "bolt", as a word that memory holds by chance once in four thousand million.
const LIVE: usize = 0x626f_6c74;

/// What stands before every monitor.
#[repr(C)]
struct Head {
    /// [`LIVE`], mixed with the head's own address: a monitor that was copied elsewhere is none.
    live: usize,
    /// 1 while a call is under way.
    busy: AtomicU8,
    joints: u8,
}

#[repr(C)]
struct Slot<const N: usize> {
    head: Head,
    /// As the crate returned it, so that it need not be moved: it is larger than many a stack.
    made: MaybeUninit<Made<N>>,
}

type Made<const N: usize> = Result<Monitor<N>, MonitorError>;

const _: () = {
    assert!(size_of::<Slot<BM_MAX_JOINTS>>() <= BM_MONITOR_ROOM);
    assert!(align_of::<Slot<BM_MAX_JOINTS>>() <= BM_MONITOR_ALIGN);
};

fn mark(head: *const Head) -> usize {
    LIVE ^ head.addr()
}

/// Calls `$call::<N>(…)` for the number of joints `$joints`; `$none` where it was not built.
macro_rules! for_joints {
    ($joints:expr, $call:ident($($argument:expr),*), $none:expr) => {
        match $joints {
            0 => $call::<0>($($argument),*),
            6 => $call::<6>($($argument),*),
            7 => $call::<7>($($argument),*),
            #[cfg(feature = "any-joints")]
            1 => $call::<1>($($argument),*),
            #[cfg(feature = "any-joints")]
            2 => $call::<2>($($argument),*),
            #[cfg(feature = "any-joints")]
            3 => $call::<3>($($argument),*),
            #[cfg(feature = "any-joints")]
            4 => $call::<4>($($argument),*),
            #[cfg(feature = "any-joints")]
            5 => $call::<5>($($argument),*),
            #[cfg(feature = "any-joints")]
            8 => $call::<8>($($argument),*),
            _ => $none,
        }
    };
}
pub(crate) use for_joints;

/// Size of the memory for a monitor of `N` joints.
pub fn size<const N: usize>() -> usize {
    size_of::<Slot<N>>()
}

/// Alignment of that memory.
pub const ALIGN: usize = align_of::<Slot<BM_MAX_JOINTS>>();

/// Makes a monitor at `memory`.
///
/// # Safety
/// `memory` is aligned to [`ALIGN`] and [`size`] bytes can be written there.
pub unsafe fn create<const N: usize>(
    memory: *mut u8,
    job: &BoltJob,
    arm: Option<&ArmDescription>,
) -> Result<(), MonitorError> {
    let head = memory.cast::<Head>();
    // SAFETY: within the memory that the caller promised; it may hold anything.
    let made = unsafe { &mut *made::<N>(head).cast::<MaybeUninit<Made<N>>>() };
    if let Err(error) = make_in(made, job, arm) {
        return Err(error.clone());
    }
    let live = Head {
        live: mark(head),
        busy: AtomicU8::new(0),
        joints: N as u8,
    };
    // SAFETY: likewise.
    unsafe { head.write(live) };
    Ok(())
}

// On its own, and through a reference, so that the compiler lets the crate write where it shall stay.
#[inline(never)]
fn make_in<'a, const N: usize>(
    to: &'a mut MaybeUninit<Made<N>>,
    job: &BoltJob,
    arm: Option<&ArmDescription>,
) -> &'a mut Made<N> {
    to.write(Monitor::try_new(job, arm))
}

/// Where a monitor of `N` joints stands behind its head.
fn made<const N: usize>(head: *mut Head) -> *mut Made<N> {
    head.wrapping_byte_add(core::mem::offset_of!(Slot<N>, made))
        .cast()
}

/// Whatever was at `memory` is no monitor any more.
///
/// # Safety
/// `memory` is aligned to [`ALIGN`] and a `usize` can be written there.
pub unsafe fn forget(memory: *mut u8) {
    // SAFETY: promised by the caller.
    unsafe { memory.cast::<usize>().write(0) };
}

/// The only borrow of a monitor, for one call.
pub struct Borrowed {
    head: *mut Head,
}

impl Borrowed {
    /// Borrows the monitor at `memory`, if there is one and no other call has it.
    ///
    /// # Safety
    /// `memory` is null, or misaligned, or the memory of a monitor as `bm_monitor_create` was given
    /// it, initialised and not accessed by others while this lives.
    pub unsafe fn new(memory: *mut u8) -> Result<Self, Status> {
        let head = memory.cast::<Head>();
        if head.is_null() {
            return Err(Status::NullPointer);
        }
        if !head.addr().is_multiple_of(ALIGN) {
            return Err(Status::Misaligned);
        }
        // SAFETY: aligned, and initialised by the caller's promise; any bits are a usize.
        let live = unsafe { head.cast::<usize>().read() };
        if live != mark(head) {
            return Err(Status::NotAMonitor);
        }
        let borrowed = Self { head };
        // Load and store, not a swap: a Cortex-M0+ has none. An interrupt between the two has come
        // and gone before the store, so none slips through; threads might, and need a lock.
        if borrowed.busy().load(Ordering::Acquire) != 0 {
            core::mem::forget(borrowed);
            return Err(Status::Busy);
        }
        borrowed.busy().store(1, Ordering::Release);
        Ok(borrowed)
    }

    fn busy(&self) -> &AtomicU8 {
        // SAFETY: the mark says that `create` made this head; only this field is shared.
        unsafe { &(*self.head).busy }
    }

    /// Joints of the monitor.
    pub fn joints(&self) -> u8 {
        // SAFETY: as in `busy`; written once, by `create`.
        unsafe { (*self.head).joints }
    }

    /// The monitor.
    ///
    /// # Safety
    /// `N` is [`Borrowed::joints`].
    pub unsafe fn monitor<const N: usize>(&mut self) -> Result<&mut Monitor<N>, Status> {
        // SAFETY: `create` wrote it there for this `N`, and `busy` makes this the only borrow.
        let made = unsafe { &mut *made::<N>(self.head) };
        made.as_mut().map_err(|_| Status::NotAMonitor)
    }

    /// Ends the monitor.
    pub fn destroy(self) {
        // SAFETY: the head is there, and this is the only borrow.
        unsafe { forget(self.head.cast()) };
    }
}

impl Drop for Borrowed {
    fn drop(&mut self) {
        self.busy().store(0, Ordering::Release);
    }
}
