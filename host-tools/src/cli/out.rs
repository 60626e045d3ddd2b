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

/// Writes a file, whole or not at all.
///
/// # Errors
/// It cannot be written.
pub fn file(path: &Path, content: &[u8]) -> Result<(), CliError> {
    bolting_host::whole_file::write(path, content).map_err(|source| CliError::File {
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

/// Says what goes beside the data.
pub fn aside(message: &str) {
    // As in `talk`.
    let _ = anstream::stderr().write_all(message.as_bytes());
}

/// Text from a file or a link without what a terminal would take for an order: control characters, and
/// those that turn the direction of writing. JSON and pages have an escape of their own.
pub fn plain(text: &str) -> String {
    let order =
        |c: char| c.is_control() || matches!(c, '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}');
    text.replace(order, "\u{FFFD}")
}

fn talk(label: &str, style: Style, message: &impl Display) {
    let message: Vec<_> = message.to_string().lines().map(plain).collect();
    let message = message.join("\n");
    // Nobody is left to be told that standard error is gone.
    let _ = writeln!(anstream::stderr(), "{style}{label}:{style:#} {message}");
}

#[cfg(test)]
mod tests {
    use super::plain;

    #[test]
    fn no_text_gives_the_terminal_orders() {
        assert_eq!(plain("flange 7, Stück 3 °"), "flange 7, Stück 3 °");
        assert_eq!(
            plain("\x1b[31mX\x1b]0;t\x07\n\u{9b}1m\u{202e}"),
            "\u{FFFD}[31mX\u{FFFD}]0;t\u{FFFD}\u{FFFD}\u{FFFD}1m\u{FFFD}"
        );
    }
}
