//! Standard output for data, standard error for talk.

use std::fmt::Display;
use std::io::{ErrorKind, Write};
use std::path::Path;

use anstyle::{AnsiColor, Style};

use super::error::CliError;

const BAD: Style = AnsiColor::Red.on_default().bold();
const NOTE: Style = AnsiColor::Yellow.on_default().bold();

/// Writes data to standard output.
///
/// # Errors
/// Standard output cannot be written to for another reason.
pub fn data(text: &str) -> std::io::Result<()> {
    let mut out = anstream::stdout().lock();
    unless_gone(out.write_all(text.as_bytes()).and_then(|()| out.flush()))
}

/// Writes a file.
///
/// # Errors
/// It cannot be written.
pub fn file(path: &Path, content: &[u8]) -> Result<(), CliError> {
    std::fs::write(path, content).map_err(|source| CliError::File {
        path: path.to_owned(),
        source,
    })
}

/// A reader that has gone away wants no more: that is no error.
///
/// # Errors
/// Every other one.
pub fn unless_gone(written: std::io::Result<()>) -> std::io::Result<()> {
    match written {
        Err(error) if error.kind() == ErrorKind::BrokenPipe => Ok(()),
        written => written,
    }
}

/// Whether standard output takes colour: not a file or pipe, and not switched off.
pub fn colored() -> bool {
    anstream::AutoStream::choice(&std::io::stdout()) != anstream::ColorChoice::Never
}

/// Characters that a line of standard output takes; `None` for a file or pipe.
pub fn width() -> Option<u16> {
    comfy_table::Table::new().width()
}

/// Says what went wrong.
pub fn error(message: &impl Display) {
    talk("error", BAD, message);
}

/// Says what the user should know.
pub fn notice(message: &impl Display) {
    talk("notice", NOTE, message);
}

fn talk(label: &str, style: Style, message: &impl Display) {
    // Nobody is left to be told that standard error is gone.
    let _ = writeln!(anstream::stderr(), "{style}{label}:{style:#} {message}");
}
