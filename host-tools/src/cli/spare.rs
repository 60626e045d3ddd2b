//! What a command reads it does not write over.

use std::path::Path;

use super::error::CliError;

/// Refuses to write to `output` where that is one of the files that the command reads.
///
/// # Errors
/// It is one of them.
pub fn spare<'a>(
    output: &Path,
    inputs: impl IntoIterator<Item = &'a Path>,
) -> Result<(), CliError> {
    let same = |input: &Path| {
        input == output
            || matches!((input.canonicalize(), output.canonicalize()), (Ok(a), Ok(b)) if a == b)
    };
    if inputs.into_iter().any(same) {
        return Err(CliError::Overwrites(output.to_owned()));
    }
    Ok(())
}

/// As [`spare`]; refuses also what is named like a recording, whether it is read or not.
///
/// # Errors
/// It is named so, or one of them.
pub fn spare_recordings<'a>(
    output: &Path,
    inputs: impl IntoIterator<Item = &'a Path>,
) -> Result<(), CliError> {
    if (output.extension()).is_some_and(|ending| ending == "csv" || ending == "wirelog") {
        return Err(CliError::OverRecording(output.to_owned()));
    }
    spare(output, inputs)
}
