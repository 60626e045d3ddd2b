//! What happens at a panic: nothing may be permitted any more.
//!
//! With the feature `panic-free` the handler calls a function that does not exist, so that the
//! firmware links only if the compiler could show that no panic is reached. That proof holds for
//! this firmware, this compiler and this profile, not for every user of the crate.

use core::panic::PanicInfo;

#[cfg(not(feature = "panic-free"))]
#[panic_handler]
fn panic(_: &PanicInfo) -> ! {
    crate::board::halt()
}

#[cfg(feature = "panic-free")]
#[panic_handler]
fn panic(_: &PanicInfo) -> ! {
    unsafe extern "C" {
        fn panic_is_reachable_in_this_firmware() -> !;
    }
    // SAFETY: never linked, see above.
    unsafe { panic_is_reachable_in_this_firmware() }
}
