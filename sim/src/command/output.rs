//! Files that a command writes: none is overwritten unless that is said.

use std::fs::OpenOptions;
use std::io::{ErrorKind, Write};
use std::path::Path;

use super::run::cannot_write;
use crate::error::InputError;

/// Writes a file that must not be there yet, unless it may be replaced.
///
/// # Errors
/// One that is there, or that cannot be written.
pub(super) fn write(
    option: &str,
    path: &Path,
    bytes: &[u8],
    replace: bool,
) -> Result<(), InputError> {
    let mut how = OpenOptions::new();
    how.write(true).create_new(!replace).create(replace).truncate(replace);
    let written = how.open(path).and_then(|mut file| file.write_all(bytes));
    written.map_err(|cause| match cause.kind() {
        ErrorKind::AlreadyExists => is_there(option, path),
        _ => cannot_write(option, path, &cause),
    })
}

/// Says at once, before any work, that a file is there already.
///
/// # Errors
/// If it is, and must not be replaced.
pub(super) fn must_be_new(option: &str, path: &Path, replace: bool) -> Result<(), InputError> {
    if !replace && path.exists() { Err(is_there(option, path)) } else { Ok(()) }
}

fn is_there(option: &str, path: &Path) -> InputError {
    let error = InputError::new("is there already, and is not overwritten without --replace");
    error.field(option).value(path.display())
}
