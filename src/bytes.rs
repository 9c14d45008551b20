//! The source of all input bytes: a file, read by position, or memory.

use std::fs::{File, Metadata};
use std::io::{self, Read, Seek, SeekFrom};
use std::path::Path;
use std::sync::Arc;

use sha2::{Digest, Sha256};

use crate::error::{Error, ErrorKind, Result};

/// The bytes of one input; several readers can read from any position at once.
#[derive(Debug, Clone)]
pub struct Bytes {
    name: String,
    length: u64,
    store: Store,
}

#[derive(Debug, Clone)]
enum Store {
    File(Arc<File>),
    Memory(Arc<[u8]>),
}

impl Bytes {
    /// Opens a regular file.
    ///
    /// # Errors
    /// Missing file, folder, pipe or device, or a file that cannot be opened.
    pub fn file(path: &Path) -> Result<Bytes> {
        regular(path)?;
        let refused = |e| Error::io(path, "read", e);
        let file = File::open(path).map_err(refused)?;
        Ok(Bytes {
            name: path.display().to_string(),
            length: file.metadata().map_err(refused)?.len(),
            store: Store::File(Arc::new(file)),
        })
    }

    /// Bytes in memory; `name` stands for them in messages.
    pub fn memory(name: impl Into<String>, bytes: impl Into<Arc<[u8]>>) -> Bytes {
        let bytes = bytes.into();
        Bytes {
            name: name.into(),
            length: bytes.len() as u64,
            store: Store::Memory(bytes),
        }
    }

    /// The path as given, or the name.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Last part of the name, which stands for a recording in tables.
    pub fn file_name(&self) -> &str {
        let last = Path::new(&self.name).file_name();
        last.and_then(|name| name.to_str()).unwrap_or(&self.name)
    }

    /// Length when it was opened, bytes.
    pub fn length(&self) -> u64 {
        self.length
    }

    /// Fills `to` with the bytes from offset `at` on.
    ///
    /// # Errors
    /// Fewer bytes than that, or the operating system refused.
    pub fn read_at(&self, at: u64, to: &mut [u8]) -> Result<()> {
        self.cursor(at).read_exact(to).map_err(|e| self.refused(e))
    }

    /// A reader from offset `at` on; it follows a growing file to its current end.
    pub fn cursor(&self, at: u64) -> Cursor {
        Cursor {
            bytes: self.clone(),
            at,
        }
    }

    /// Wraps an I/O error of a reader of these bytes.
    pub fn refused(&self, error: io::Error) -> Error {
        Error::io(Path::new(&self.name), "read", error)
    }

    /// Reads everything, if it is at most `most` bytes.
    ///
    /// # Errors
    /// More bytes, or the operating system refused.
    pub fn whole(&self, most: u64) -> Result<Vec<u8>> {
        if self.length > most {
            let found = format!(
                "has {} bytes; a file of this kind has at most {most}",
                self.length
            );
            return Err(Error::new(ErrorKind::FileTooLarge, self.name(), found)
                .hint("Is it the right file?"));
        }
        let mut bytes = Vec::new();
        let read = self.cursor(0).read_to_end(&mut bytes);
        read.map_err(|e| self.refused(e))?;
        Ok(bytes)
    }

    /// Reads everything as text.
    ///
    /// # Errors
    /// As [`Bytes::whole`], or text that is not UTF-8.
    pub fn text(&self, most: u64) -> Result<String> {
        String::from_utf8(self.whole(most)?).map_err(|_| {
            Error::new(
                ErrorKind::NotUtf8,
                self.name(),
                "has letters that are not UTF-8",
            )
            .hint("Save it as UTF-8")
        })
    }
}

/// A reader of [`Bytes`] with a position of its own.
pub struct Cursor {
    bytes: Bytes,
    at: u64,
}

impl Read for Cursor {
    fn read(&mut self, to: &mut [u8]) -> io::Result<usize> {
        let count = match &self.bytes.store {
            Store::File(file) => read_some(file, to, self.at)?,
            Store::Memory(bytes) => {
                let rest = &bytes[bytes.len().min(self.at as usize)..];
                let count = to.len().min(rest.len());
                to[..count].copy_from_slice(&rest[..count]);
                count
            }
        };
        self.at += count as u64;
        Ok(count)
    }
}

impl Seek for Cursor {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        let (from, by) = match to {
            SeekFrom::Start(at) => (at, 0),
            SeekFrom::End(by) => (self.bytes.length, by),
            SeekFrom::Current(by) => (self.at, by),
        };
        let before_start = || io::Error::from(io::ErrorKind::InvalidInput);
        self.at = from.checked_add_signed(by).ok_or_else(before_start)?;
        Ok(self.at)
    }
}

#[cfg(unix)]
fn read_some(file: &File, to: &mut [u8], at: u64) -> io::Result<usize> {
    std::os::unix::fs::FileExt::read_at(file, to, at)
}

#[cfg(windows)]
fn read_some(file: &File, to: &mut [u8], at: u64) -> io::Result<usize> {
    std::os::windows::fs::FileExt::seek_read(file, to, at)
}

/// Systems without files, such as a browser, read from memory only.
#[cfg(not(any(unix, windows)))]
fn read_some(_: &File, _: &mut [u8], _: u64) -> io::Result<usize> {
    Err(io::ErrorKind::Unsupported.into())
}

/// Checks that a path is a regular file and returns its metadata.
///
/// # Errors
/// Missing file, folder, pipe or device (reading one might never end).
pub fn regular(path: &Path) -> Result<Metadata> {
    let about = std::fs::metadata(path).map_err(|e| Error::io(path, "read", e))?;
    let refused = |problem| {
        Err(Error::new(
            ErrorKind::NotAFile,
            path.display().to_string(),
            problem,
        ))
    };
    if about.is_dir() {
        return refused("is a folder, not a file");
    }
    if !about.is_file() {
        return refused("is a pipe or a device; a file is needed");
    }
    Ok(about)
}

/// SHA-256 of a file of any size, as hexadecimal digits.
///
/// # Errors
/// The operating system refused.
pub fn sha256(path: &Path) -> Result<String> {
    let bytes = Bytes::file(path)?;
    let mut reader = bytes.cursor(0);
    let mut hasher = Sha256::new();
    let mut block = vec![0; 1 << 16];
    loop {
        match reader.read(&mut block).map_err(|e| bytes.refused(e))? {
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_and_memory_are_read_alike() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("ten");
        std::fs::write(&path, b"0123456789").unwrap();
        for bytes in [
            Bytes::file(&path).unwrap(),
            Bytes::memory("ten", &b"0123456789"[..]),
        ] {
            let mut three = [0; 3];
            bytes.read_at(4, &mut three).unwrap();
            assert_eq!(&three, b"456");
            assert!(bytes.read_at(8, &mut three).is_err(), "two bytes are left");
            let mut cursor = bytes.cursor(0);
            assert_eq!(cursor.seek(SeekFrom::End(-2)).unwrap(), 8);
            assert_eq!(bytes.text(10).unwrap(), "0123456789");
            assert!(bytes.whole(9).is_err(), "one byte more than may be");
            assert_eq!((bytes.length(), bytes.file_name()), (10, "ten"));
        }
    }
}
