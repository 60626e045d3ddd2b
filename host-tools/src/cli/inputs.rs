//! Which recordings are meant, and what describes each.

use std::ffi::OsStr;
use std::path::{Path, PathBuf};

use bolting_host::description::{Description, DescriptionError, Stated};

use super::error::CliError;

/// One recording to replay.
#[derive(Clone, Debug, PartialEq)]
pub struct Input {
    /// Name of the run.
    pub run: String,
    /// The file; `-` is standard input.
    pub path: PathBuf,
    /// A description of this run alone.
    pub own_description: Option<PathBuf>,
}

/// A description, and which keys its file states.
///
/// # Errors
/// As [`Description::load_with`].
pub fn described(path: &Path, urdf: Option<&Path>) -> Result<(Description, Stated), CliError> {
    let description = Description::load_with(path, urdf)?;
    let text = std::fs::read_to_string(path).map_err(|source| DescriptionError::Read {
        path: path.to_owned(),
        source,
    })?;
    Ok((description, Stated::of(&text)))
}

/// Whether standard input is meant.
pub fn is_stdin(path: &Path) -> bool {
    path.as_os_str() == "-"
}

/// The recordings that the arguments stand for: a folder stands for every `.csv` in it that is no
/// curve, by name.
/// A run in a folder goes by the description beside it, a single file only if `bolt` is not given.
pub fn find(arguments: &[PathBuf], bolt: bool) -> Vec<Result<Input, CliError>> {
    let mut inputs = Vec::new();
    for path in arguments {
        if !path.is_dir() {
            inputs.push(Ok(input(path, !bolt)));
            continue;
        }
        match recordings_in(path) {
            Ok(files) => inputs.extend(files.iter().map(|file| Ok(input(file, true)))),
            Err(problem) => inputs.push(Err(CliError::Folder {
                path: path.clone(),
                problem,
            })),
        }
    }
    inputs
}

fn input(path: &Path, look_beside: bool) -> Input {
    let beside = path.with_extension("toml");
    let run = if is_stdin(path) {
        OsStr::new("stdin")
    } else {
        path.file_stem().unwrap_or(path.as_os_str())
    };
    Input {
        run: run.to_string_lossy().into_owned(),
        path: path.to_owned(),
        own_description: (look_beside && !is_stdin(path) && beside.is_file()).then_some(beside),
    }
}

/// Whether `--curves` made it: a curve is no recording.
fn is_curve(path: &Path) -> bool {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    name.ends_with(super::run::CURVE)
}

fn recordings_in(folder: &Path) -> Result<Vec<PathBuf>, String> {
    let mut files = Vec::new();
    for entry in std::fs::read_dir(folder).map_err(|e| format!("cannot be listed: {e}"))? {
        let path = entry.map_err(|e| format!("cannot be listed: {e}"))?.path();
        if path.extension() == Some(OsStr::new("csv")) && !is_curve(&path) {
            files.push(path);
        }
    }
    if files.is_empty() {
        return Err("the folder holds no .csv: give the folder of the recordings".to_owned());
    }
    files.sort();
    Ok(files)
}
