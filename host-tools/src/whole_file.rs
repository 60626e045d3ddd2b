//! Files that are there whole or not at all: whoever reads one while it is written, or after the power
//! went, finds the old one or the new one.

use std::fs;
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

/// Puts `content` into the file at `path`, in place of what was there, and has the disk keep it.
///
/// # Errors
/// The folder is not there or may not be written to, or there is no room; what was there stays.
pub fn write(path: &Path, content: &[u8]) -> io::Result<()> {
    put(path, content, true)
}

/// As [`write()`], but leaves it to the system when the disk keeps it: for many files that can be made
/// again.
///
/// # Errors
/// As [`write()`].
pub fn write_for_now(path: &Path, content: &[u8]) -> io::Result<()> {
    put(path, content, false)
}

fn put(path: &Path, content: &[u8], keep: bool) -> io::Result<()> {
    let path = &target(path);
    // A pipe or a terminal is written into; nothing can take its place.
    if fs::metadata(path).is_ok_and(|found| !found.is_file()) {
        return fs::write(path, content);
    }
    let folder = path.parent().filter(|folder| *folder != Path::new(""));
    let mut builder = tempfile::Builder::new();
    builder.prefix(".").suffix(".part");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        // Whose it was may read it as before; a new one as the system has it for new files.
        let found = fs::metadata(path).map(|found| found.permissions());
        builder.permissions(found.unwrap_or_else(|_| fs::Permissions::from_mode(0o666)));
    }
    let mut file = builder.tempfile_in(folder.unwrap_or(Path::new(".")))?;
    file.write_all(content)?;
    if keep {
        file.as_file().sync_all()?;
    }
    file.persist(path).map_err(|error| error.error)?;
    Ok(())
}

/// What a link points at: the link stays.
fn target(path: &Path) -> PathBuf {
    match fs::symlink_metadata(path) {
        Ok(found) if found.is_symlink() => path.canonicalize().unwrap_or_else(|_| path.to_owned()),
        _ => path.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_cannot_be_written_leaves_what_was_there_and_nothing_else() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("report.html");
        write(&path, b"first").unwrap();
        write(&path, b"second").unwrap();
        assert_eq!(fs::read(&path).unwrap(), b"second");
        // A folder stands in the way.
        let taken = folder.path().join("taken");
        fs::create_dir(&taken).unwrap();
        assert!(write(&taken, b"third").is_err());
        assert!(write(&folder.path().join("none/report.html"), b"third").is_err());
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 2);
    }

    #[test]
    #[cfg(unix)]
    fn a_link_stays_and_readers_keep_their_rights() {
        use std::os::unix::fs::PermissionsExt as _;
        let folder = tempfile::tempdir().unwrap();
        let [file, link] = ["file", "link"].map(|name| folder.path().join(name));
        fs::write(&file, "first").unwrap();
        fs::set_permissions(&file, fs::Permissions::from_mode(0o640)).unwrap();
        std::os::unix::fs::symlink(&file, &link).unwrap();
        write(&link, b"second").unwrap();
        assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
        assert_eq!(fs::read(&file).unwrap(), b"second");
        let mode = fs::metadata(&file).unwrap().permissions().mode();
        assert_eq!(mode & 0o777, 0o640);
    }
}
