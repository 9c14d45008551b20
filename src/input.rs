//! Input files: read whole (regular ones, and not beyond a size), and known by their content.

use std::fs::Metadata;
use std::io::Read;
use std::path::Path;

use sha2::{Digest, Sha256};

use crate::error::{Error, Result};

/// What the system says of a regular file.
///
/// # Errors
/// No file, a folder, a pipe or a device (reading one might never end).
pub fn regular(path: &Path) -> Result<Metadata> {
    let about = std::fs::metadata(path).map_err(|e| Error::io(path, "read", e))?;
    let refused = |problem| Err(Error::input(path.display().to_string(), problem));
    if about.is_dir() {
        return refused("is a folder, not a file");
    }
    if !about.is_file() {
        return refused("is a pipe or a device; a file is needed");
    }
    Ok(about)
}

/// Reads a whole file of at most `most` bytes.
///
/// # Errors
/// As [`regular`], a larger file, or what the system refuses.
pub fn whole(path: &Path, most: u64) -> Result<Vec<u8>> {
    let length = regular(path)?.len();
    if length > most {
        let found = format!("has {length} bytes, more than the {most} that such a file may have");
        return Err(Error::input(path.display().to_string(), found).hint("Is it the right file?"));
    }
    std::fs::read(path).map_err(|e| Error::io(path, "read", e))
}

/// The same as text.
///
/// # Errors
/// As [`whole`]; letters that are not UTF-8.
pub fn text(path: &Path, most: u64) -> Result<String> {
    String::from_utf8(whole(path, most)?).map_err(|_| {
        Error::input(path.display().to_string(), "has letters that are not UTF-8")
            .hint("Save it as UTF-8")
    })
}

/// SHA-256 of a file of any length, as hexadecimal digits.
///
/// # Errors
/// What the system refuses.
pub fn sha256(path: &Path) -> Result<String> {
    let refused = |e| Error::io(path, "read", e);
    let mut file = std::fs::File::open(path).map_err(refused)?;
    let mut hasher = Sha256::new();
    let mut block = vec![0; 1 << 16];
    loop {
        match file.read(&mut block).map_err(refused)? {
            0 => break,
            count => hasher.update(&block[..count]),
        }
    }
    Ok(hex(&hasher.finalize()))
}

/// SHA-256 of a text, as hexadecimal digits.
pub fn sha256_of(text: &str) -> String {
    hex(&Sha256::digest(text))
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}
