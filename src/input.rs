//! Input files that are read whole: regular ones, and not beyond a size.

use std::path::Path;

use crate::error::{Error, Result};

/// Reads a whole file of at most `most` bytes.
///
/// # Errors
/// No file, a pipe or a device, a larger file, or what the system refuses.
pub fn whole(path: &Path, most: u64) -> Result<Vec<u8>> {
    let about = std::fs::metadata(path).map_err(|e| Error::io(path, "read", e))?;
    let at = || path.display().to_string();
    if about.is_dir() {
        return Err(Error::input(at(), "is a folder, not a file"));
    }
    if !about.is_file() {
        return Err(Error::input(
            at(),
            "is a pipe or a device; a file is needed",
        ));
    }
    if about.len() > most {
        let found = format!(
            "has {} bytes, more than the {most} that such a file may have",
            about.len()
        );
        return Err(Error::input(at(), found));
    }
    std::fs::read(path).map_err(|e| Error::io(path, "read", e))
}

/// The same as text.
///
/// # Errors
/// As [`whole`]; letters that are not UTF-8.
pub fn text(path: &Path, most: u64) -> Result<String> {
    String::from_utf8(whole(path, most)?)
        .map_err(|_| Error::input(path.display().to_string(), "has letters that are not UTF-8"))
}
