//! Tells the linker where memory lies on the emulated boards.

use std::{env, fs, path::PathBuf};

fn main() {
    let out = PathBuf::from(env::var_os("OUT_DIR").expect("cargo sets OUT_DIR"));
    let arm = env::var("CARGO_CFG_TARGET_ARCH").is_ok_and(|arch| arch == "arm");
    // cortex-m-rt brings its own script, which includes memory.x; for RISC-V ours is the whole.
    let (script, main) = if arm {
        ("memory.x", "link.x")
    } else {
        ("riscv.x", "riscv.x")
    };
    fs::copy(script, out.join(script)).expect("copy the linker script");
    println!("cargo:rustc-link-search={}", out.display());
    println!("cargo:rustc-link-arg-bins=-T{main}");
    println!("cargo:rustc-link-arg-bins=--nmagic");
    println!("cargo:rerun-if-changed={script}");
}
