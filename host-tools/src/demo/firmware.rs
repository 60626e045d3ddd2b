//! The example firmware in the emulator, built here if it can be.

use std::env;
use std::path::Path;
use std::process::{Command, Stdio};

use crate::emulator::{Emulator, FIRMWARE_VARIABLE, QEMU, firmware_path};

const TARGET: &str = "thumbv7em-none-eabihf";

/// The emulated controller, or why there is none.
pub fn emulated() -> Result<Emulator, String> {
    let there = Command::new(QEMU)
        .arg("--version")
        .stdout(Stdio::null())
        .status();
    if there.is_err() {
        return Err(format!(
            "{QEMU} is not installed (on Debian: apt-get install qemu-system-arm)"
        ));
    }
    if env::var_os(FIRMWARE_VARIABLE).is_none() {
        build(&Path::new(env!("CARGO_MANIFEST_DIR")).join("../examples/firmware"))?;
    }
    Emulator::start(&firmware_path()).map_err(|error| error.to_string())
}

fn build(folder: &Path) -> Result<(), String> {
    if !folder.join("Cargo.toml").is_file() {
        return Err("the checkout with examples/firmware is not there any more".to_owned());
    }
    let sysroot = output(Command::new("rustc").args(["--print", "sysroot"]))?;
    if !Path::new(sysroot.trim())
        .join("lib/rustlib")
        .join(TARGET)
        .is_dir()
    {
        return Err(format!(
            "the compiler lacks the controller's target (rustup target add {TARGET})"
        ));
    }
    eprintln!("building the firmware in examples/firmware (once; some 20 s)");
    let cargo = env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
    output(
        Command::new(cargo)
            .args(["build", "--release", "--locked", "--target-dir", "target"])
            .current_dir(folder),
    )
    .map(drop)
}

/// What a command prints; where it fails, the last thing it complains of.
fn output(command: &mut Command) -> Result<String, String> {
    let name = command.get_program().to_string_lossy().into_owned();
    let done = command
        .stdin(Stdio::null())
        .output()
        .map_err(|error| format!("cannot start {name}: {error}"))?;
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    if done.status.success() {
        return Ok(text(&done.stdout));
    }
    let complaints = text(&done.stderr);
    let error = complaints.lines().find(|line| line.starts_with("error"));
    Err(format!(
        "the firmware does not build: {}",
        error.unwrap_or(&name)
    ))
}
