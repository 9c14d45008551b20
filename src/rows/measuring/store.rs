//! One store of entries by key: a few files that grow by whole lines and are rewritten by half when they are full.
//!
//! A line holds a key, a checksum and the entry; what is torn or changed does not fit its checksum and counts as not there. Only
//! regular files that begin with the store's first line are read or written; everything else in the folder is left alone.

use std::collections::{HashMap, HashSet};
use std::fs::{File, symlink_metadata};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use base64::Engine;
use base64::engine::general_purpose::STANDARD_NO_PAD;
use flate2::Compression;
use flate2::read::DeflateDecoder;
use flate2::write::DeflateEncoder;

use crate::bytes::{Bytes, sha256_of};
use crate::output;
use crate::output::Form;

/// Files of a store.
const FILES: usize = 16;
/// A file of the usual store that is longer is rewritten with its newest entries, bytes: in all 64 MiB, some 10,000 recordings
/// of 20 starts.
pub(super) const MOST_BYTES: u64 = 4 << 20;
/// An entry is not longer, bytes.
const LONGEST: u64 = 64 << 20;
/// First line of each file.
const HEAD: &str = "tipstrike store of measured starts, 1\n";
/// Length of a SHA-256 in hexadecimal digits.
const DIGITS: usize = 64;

const FORM: Form = Form {
    name: "a store of measured starts",
    is_own: |head| head.starts_with(HEAD.as_bytes()),
};

/// A store in a folder.
#[derive(Debug)]
pub(super) struct Store {
    files: Vec<Mutex<StoreFile>>,
}

impl Store {
    /// A store whose files hold about `most_bytes` each.
    pub fn new(folder: &Path, most_bytes: u64) -> Store {
        let file = |k| {
            Mutex::new(StoreFile {
                path: folder.join(format!("starts-{k:02}")),
                most_bytes,
                read: None,
            })
        };
        Store {
            files: (0..FILES).map(file).collect(),
        }
    }

    /// The newest entry of a key (a SHA-256 in hexadecimal digits) that is whole.
    pub fn get(&self, key: &str) -> Option<Vec<u8>> {
        self.file(key)
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .get(key)
    }

    /// Adds an entry. One that cannot be written is one that is not there.
    pub fn put(&self, key: &str, entry: &[u8]) {
        let file = self.file(key).lock();
        let _ = file.unwrap_or_else(PoisonError::into_inner).put(key, entry);
    }

    fn file(&self, key: &str) -> &Mutex<StoreFile> {
        let number = u8::from_str_radix(&key[..2], 16).unwrap_or_default();
        &self.files[usize::from(number) % FILES]
    }
}

/// Offset and length of the newest line of each key.
type Places = HashMap<String, (u64, usize)>;

#[derive(Debug)]
struct StoreFile {
    path: PathBuf,
    most_bytes: u64,
    /// The file as it was when it was first asked, with the offset and length of each entry.
    read: Option<(Bytes, Places)>,
}

impl StoreFile {
    fn get(&mut self, key: &str) -> Option<Vec<u8>> {
        if self.read.is_none() {
            let (bytes, text) = contents(&self.path)?;
            let places =
                lines(&text).map(|(at, line)| (line[..DIGITS].to_owned(), (at, line.len())));
            self.read = Some((bytes, places.collect()));
        }
        let (bytes, places) = self.read.as_ref()?;
        let &(at, length) = places.get(key)?;
        let mut line = vec![0; length];
        bytes.read_at(at, &mut line).ok()?;
        unpacked(key, std::str::from_utf8(&line).ok()?)
    }

    fn put(&mut self, key: &str, entry: &[u8]) -> io::Result<()> {
        let line = packed(key, entry)?;
        if line.len() as u64 > self.most_bytes / 2 {
            return Ok(());
        }
        let length = symlink_metadata(&self.path).map_or(0, |about| about.len());
        if length > self.most_bytes {
            self.shrink();
        }
        let begun = match symlink_metadata(&self.path) {
            Err(_) => false,
            Ok(about) if about.is_file() && about.len() == 0 => false,
            Ok(_) if is_own(&self.path) => true,
            Ok(_) => return Ok(()),
        };
        let mut file = File::options().append(true).create(true).open(&self.path)?;
        // A line of its own, even behind one that was torn.
        let head = if begun { "\n" } else { HEAD };
        file.write_all(format!("{head}{line}\n").as_bytes())
    }

    /// Rewrites the file with its newest entries.
    fn shrink(&self) {
        let Some((_, text)) = contents(&self.path) else {
            return;
        };
        let all: Vec<&str> = lines(&text).map(|(_, line)| line).collect();
        let (mut keys, mut size) = (HashSet::new(), 0);
        let newest = all.iter().rev().take_while(|line| {
            size += line.len() as u64;
            size < self.most_bytes / 2
        });
        let mut kept: Vec<&str> = newest
            .copied()
            .filter(|line| keys.insert(&line[..DIGITS]))
            .collect();
        kept.reverse();
        let _ = output::whole(&self.path, &FORM, |out| {
            out.write_all(HEAD.as_bytes())?;
            kept.iter().try_for_each(|line| writeln!(out, "{line}"))
        });
    }
}

/// Whether a file is one of the store's: regular, and with the first line.
fn is_own(path: &Path) -> bool {
    let mut head = vec![0; HEAD.len()];
    let regular = symlink_metadata(path).is_ok_and(|about| about.is_file());
    regular
        && File::open(path)
            .and_then(|mut file| file.read_exact(&mut head))
            .is_ok()
        && (FORM.is_own)(&head)
}

/// A file of the store and its text.
fn contents(path: &Path) -> Option<(Bytes, String)> {
    if !is_own(path) {
        return None;
    }
    let bytes = Bytes::file(path).ok()?;
    // Many processes may have added to it at once, but not as much as this.
    let text = bytes.whole(LONGEST).ok()?;
    Some((bytes, String::from_utf8_lossy(&text).into_owned()))
}

/// The lines that can be entries, with their offsets.
fn lines(text: &str) -> impl Iterator<Item = (u64, &str)> {
    let mut at = 0;
    let lines = text.split_inclusive('\n').map(move |line| {
        let begins = at;
        at += line.len() as u64;
        (begins, line.trim_end_matches('\n'))
    });
    let is_entry = |line: &str| {
        line.len() > 2 * DIGITS
            && line.is_ascii()
            && line.bytes().take(DIGITS).all(|b| b.is_ascii_hexdigit())
    };
    lines.filter(move |(_, line)| is_entry(line))
}

fn packed(key: &str, entry: &[u8]) -> io::Result<String> {
    let mut deflated = DeflateEncoder::new(Vec::new(), Compression::fast());
    deflated.write_all(entry)?;
    let text = STANDARD_NO_PAD.encode(deflated.finish()?);
    Ok(format!("{key}{}{text}", sha256_of(&format!("{key}{text}"))))
}

fn unpacked(key: &str, line: &str) -> Option<Vec<u8>> {
    let (checksum, text) = line.strip_prefix(key)?.split_at_checked(DIGITS)?;
    if sha256_of(&format!("{key}{text}")) != checksum {
        return None;
    }
    let mut entry = Vec::new();
    let deflated = STANDARD_NO_PAD.decode(text).ok()?;
    DeflateDecoder::new(&deflated[..])
        .take(LONGEST)
        .read_to_end(&mut entry)
        .ok()?;
    Some(entry)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn key(k: u32) -> String {
        sha256_of(&k.to_string())
    }

    #[test]
    fn the_newest_whole_entry_is_given_and_torn_ones_are_not_there() {
        let folder = tempfile::tempdir().unwrap();
        let fresh = || Store::new(folder.path(), MOST_BYTES);
        fresh().put(&key(1), b"old");
        fresh().put(&key(1), b"new");
        assert_eq!(fresh().get(&key(1)).unwrap(), b"new");
        let entry = std::fs::read_dir(folder.path())
            .unwrap()
            .next()
            .unwrap()
            .unwrap()
            .path();
        let whole = std::fs::read(&entry).unwrap();
        // Without its last line end the newest line is still whole.
        for cut in HEAD.len()..whole.len() - 1 {
            std::fs::write(&entry, &whole[..cut]).unwrap();
            let got = fresh().get(&key(1));
            assert!(
                got.is_none() || got.as_deref() == Some(b"old"),
                "cut at {cut}"
            );
            fresh().put(&key(1), b"again");
            assert_eq!(fresh().get(&key(1)).unwrap(), b"again", "cut at {cut}");
        }
    }

    #[test]
    fn every_damaged_byte_of_an_entry_shows() {
        let folder = tempfile::tempdir().unwrap();
        Store::new(folder.path(), MOST_BYTES).put(&key(1), b"entry");
        let path = std::fs::read_dir(folder.path())
            .unwrap()
            .next()
            .unwrap()
            .unwrap()
            .path();
        let whole = std::fs::read(&path).unwrap();
        for at in HEAD.len()..whole.len() - 1 {
            let mut damaged = whole.clone();
            damaged[at] ^= 1;
            std::fs::write(&path, damaged).unwrap();
            assert_eq!(
                Store::new(folder.path(), MOST_BYTES).get(&key(1)),
                None,
                "at {at}"
            );
        }
    }

    /// A year of 40 cells: a new entry for each in every night.
    #[test]
    fn a_year_of_nights_does_not_swell_it() {
        const MOST: u64 = 1 << 16;
        let folder = tempfile::tempdir().unwrap();
        let store = Store::new(folder.path(), MOST);
        let last = 40 * 365;
        for night in 0..last {
            store.put(&key(night), key(night).repeat(5).as_bytes());
        }
        let files: Vec<_> = std::fs::read_dir(folder.path())
            .unwrap()
            .flatten()
            .collect();
        let size: u64 = files
            .iter()
            .map(|file| file.metadata().unwrap().len())
            .sum();
        assert!(
            files.len() <= FILES && size < FILES as u64 * (MOST + 1000),
            "{size}"
        );
        let fresh = Store::new(folder.path(), MOST);
        assert!((last - 400..last).all(|night| fresh.get(&key(night)).is_some()));
        assert!(fresh.get(&key(0)).is_none());
    }

    #[cfg(unix)]
    #[test]
    fn pipes_devices_links_and_files_of_others_are_left_alone() {
        let folder = tempfile::tempdir().unwrap();
        let path = |k: usize| folder.path().join(format!("starts-{k:02}"));
        let other = folder.path().join("other");
        std::fs::write(&other, format!("{HEAD}mine")).unwrap();
        for k in 0..FILES {
            match k % 4 {
                0 => std::os::unix::fs::symlink(&other, path(k)).unwrap(),
                1 => std::os::unix::fs::symlink("/dev/zero", path(k)).unwrap(),
                2 => std::fs::write(path(k), "notes").unwrap(),
                _ => assert!(
                    std::process::Command::new("mkfifo")
                        .arg(path(k))
                        .status()
                        .unwrap()
                        .success()
                ),
            }
        }
        let store = Store::new(folder.path(), MOST_BYTES);
        for k in 0..64 {
            store.put(&key(k), b"entry");
            assert_eq!(store.get(&key(k)), None);
        }
        assert_eq!(
            std::fs::read_to_string(other).unwrap(),
            format!("{HEAD}mine")
        );
        assert_eq!(std::fs::read(path(2)).unwrap(), b"notes");
    }
}
