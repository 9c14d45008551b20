//! The source of all input bytes: a file, read by position, or memory.

mod identity;

use std::fs::{File, Metadata};
use std::io::{self, BufRead, BufReader, Read, Seek, SeekFrom};
use std::path::Path;
use std::sync::Arc;

use sha2::{Digest, Sha256};

pub use identity::Identity;

use crate::error::{Error, ErrorKind, Result};

/// The bytes of one input; several readers can read from any position at once.
#[derive(Debug, Clone)]
pub struct Bytes {
    name: String,
    length: u64,
    /// What the file was when it was opened.
    opened: Option<Identity>,
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
        let about = file.metadata().map_err(refused)?;
        Ok(Bytes {
            name: path.display().to_string(),
            length: about.len(),
            opened: Identity::from(&about),
            store: Store::File(Arc::new(file)),
        })
    }

    /// Bytes in memory; `name` stands for them in messages.
    pub fn memory(name: impl Into<String>, bytes: impl Into<Arc<[u8]>>) -> Bytes {
        let bytes = bytes.into();
        Bytes {
            name: name.into(),
            length: bytes.len() as u64,
            opened: None,
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
        self.cursor(at).read_exact(to).map_err(|e| match e.kind() {
            // It was as long as this when it was opened.
            io::ErrorKind::UnexpectedEof => Error::changed(self.name()),
            _ => self.refused(e),
        })
    }

    /// A reader from offset `at` on; it follows a growing file to its current end.
    pub fn cursor(&self, at: u64) -> Cursor {
        Cursor {
            bytes: self.clone(),
            at,
        }
    }

    /// Checks that nobody wrote to the file since it was opened.
    ///
    /// # Errors
    /// Somebody did: what was read since may be of two contents.
    pub fn unchanged(&self) -> Result<()> {
        let now = match &self.store {
            Store::File(file) => file.metadata().ok(),
            Store::Memory(_) => return Ok(()),
        };
        match now.as_ref().and_then(Identity::from) == self.opened {
            true => Ok(()),
            false => Err(Error::changed(self.name())),
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
        let room = bytes.try_reserve_exact(self.length as usize + 1);
        room.map_err(|_| Error::memory(self.name()))?;
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

/// In a browser there is one thread, so nobody moves the position in between.
#[cfg(not(any(unix, windows)))]
fn read_some(mut file: &File, to: &mut [u8], at: u64) -> io::Result<usize> {
    file.seek(SeekFrom::Start(at))?;
    file.read(to)
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

/// Bytes at either end by which files of one length are held against each other before they are read whole.
const END: u64 = 1 << 16;

/// Whether two files hold the same bytes. Files that cannot be read hold nothing in common.
pub fn same_content(a: &Path, b: &Path) -> bool {
    let (Some(of_a), Some(of_b)) = (Identity::of(a), Identity::of(b)) else {
        return false;
    };
    if of_a.inode().is_some() && of_a.inode() == of_b.inode() {
        return true;
    }
    if of_a.length() != of_b.length() {
        return false;
    }
    let (Ok(a), Ok(b)) = (Bytes::file(a), Bytes::file(b)) else {
        return false;
    };
    let end = of_a.length().saturating_sub(END);
    same_from(&a, &b, end, END) && same_from(&a, &b, 0, of_a.length())
}

/// Whether two files hold the same in this many bytes from an offset on.
fn same_from(a: &Bytes, b: &Bytes, at: u64, count: u64) -> bool {
    let [mut a, mut b] = [a, b].map(|bytes| BufReader::new(bytes.cursor(at).take(count)));
    loop {
        let (Ok(in_a), Ok(in_b)) = (a.fill_buf(), b.fill_buf()) else {
            return false;
        };
        let shared = in_a.len().min(in_b.len());
        if in_a[..shared] != in_b[..shared] {
            return false;
        }
        if shared == 0 {
            return in_a.len() == in_b.len();
        }
        a.consume(shared);
        b.consume(shared);
    }
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
    bytes.unchanged()?;
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
            assert!(!same_content(&path, Path::new("none")));
            assert_eq!((bytes.length(), bytes.file_name()), (10, "ten"));
        }
    }

    #[test]
    fn content_is_the_same_to_the_last_byte_or_not_at_all() {
        let folder = tempfile::tempdir().unwrap();
        let path = |name: &str| folder.path().join(name);
        let long = vec![7; 3 * END as usize];
        std::fs::write(path("a"), &long).unwrap();
        std::fs::copy(path("a"), path("copy")).unwrap();
        std::fs::hard_link(path("a"), path("link")).unwrap();
        for (name, at) in [
            ("first", 0),
            ("middle", long.len() / 2),
            ("last", long.len() - 1),
        ] {
            let mut other = long.clone();
            other[at] = 8;
            std::fs::write(path(name), other).unwrap();
            assert!(!same_content(&path("a"), &path(name)), "{name}");
        }
        assert!(same_content(&path("a"), &path("copy")) && same_content(&path("link"), &path("a")));
    }
}
