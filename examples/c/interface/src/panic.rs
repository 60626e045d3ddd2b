//! What happens at a panic on a bare-metal target: nothing goes on. No panic is known to be
//! reachable; with the feature `panic-free` the program links only if the compiler could show it.

use core::panic::PanicInfo;

#[cfg(not(feature = "panic-free"))]
#[panic_handler]
fn panic(_: &PanicInfo) -> ! {
    loop {
        core::hint::spin_loop();
    }
}

#[cfg(feature = "panic-free")]
#[panic_handler]
fn panic(_: &PanicInfo) -> ! {
    unsafe extern "C" {
        fn panic_is_reachable_in_this_program() -> !;
    }
    // SAFETY: never linked, see above.
    unsafe { panic_is_reachable_in_this_program() }
}
