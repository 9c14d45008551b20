//! Recordings named by themselves or by their folders: which of them count, and under which name.

use std::collections::BTreeMap;
use std::fs::File;
use std::io::{Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

use crate::bytes;
use crate::error::{Error, ErrorKind, Result};
use crate::job::SHEET_FILE;
use crate::measuring::cache::Identity;
use crate::measuring::table;

/// Endings of the recordings that are looked for in a folder.
const RECORDING_ENDINGS: [&str; 4] = [".wav", ".csv", ".csv.gz", ".txt"];

/// A file whose header disagrees with its length is taken to be still written to for so long after its last change.
const AT_WORK: Duration = Duration::from_secs(600);

/// Bytes at either end by which files of one length are held against each other before they are read whole.
const END: u64 = 1 << 16;

/// A recording without a row of a run sheet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Loose {
    /// Where it lies.
    pub path: PathBuf,
    /// Its name in rows: the file's, or its path from the folder that was named.
    pub name: String,
}

/// A recording named by itself.
pub(super) fn named(path: &Path) -> Loose {
    let name = path.file_name().unwrap_or(path.as_os_str());
    Loose {
        path: path.to_path_buf(),
        name: name.to_string_lossy().into_owned(),
    }
}

/// The recordings of a folder by name, with those of the folders in it where `deep`. Names begin at the folder, or with it
/// where several are named (`several`). Hidden files and folders, run sheets and starts tables are
/// no recordings; links to folders are not followed.
///
/// # Errors
/// A folder that cannot be read or holds no recording.
pub(super) fn recordings_in(folder: &Path, deep: bool, several: bool) -> Result<Vec<Loose>> {
    let mut paths = Vec::new();
    walk(folder, deep, &mut paths)?;
    paths.sort();
    if paths.is_empty() {
        return Err(Error::new(
            ErrorKind::NoRecordings,
            folder.display().to_string(),
            "no recordings in this folder",
        )
        .hint(format!(
            "Recordings end in {}",
            RECORDING_ENDINGS.join(", ")
        )));
    }
    let loose = |path: PathBuf| {
        let from = if several {
            &path
        } else {
            path.strip_prefix(folder).unwrap_or(&path)
        };
        // One name on every system.
        let parts = from.iter().map(|part| part.to_string_lossy());
        let name = match several {
            true => from.to_string_lossy().into_owned(),
            false => parts.collect::<Vec<_>>().join("/"),
        };
        Loose { path, name }
    };
    Ok(paths.into_iter().map(loose).collect())
}

fn walk(folder: &Path, deep: bool, found: &mut Vec<PathBuf>) -> Result<()> {
    let entries = std::fs::read_dir(folder).map_err(|e| Error::io(folder, "read", e))?;
    for entry in entries.flatten() {
        let path = entry.path();
        let hidden = entry.file_name().to_string_lossy().starts_with('.');
        let is_folder = entry.file_type().is_ok_and(|kind| kind.is_dir());
        if !hidden && is_folder && deep {
            walk(&path, deep, found)?;
        } else if !hidden && is_recording(&path) {
            found.push(path);
        }
    }
    Ok(())
}

fn is_recording(path: &Path) -> bool {
    let name = path.file_name().unwrap_or_default();
    let name = name.to_string_lossy().to_lowercase();
    path.is_file()
        && name != SHEET_FILE
        && RECORDING_ENDINGS.iter().any(|e| name.ends_with(e))
        && !(name.ends_with(".csv") && table::is_table(path).unwrap_or(false))
}

/// What is left out of recordings, and why.
#[derive(Debug, Default)]
pub(super) struct LeftOut {
    /// Names of recordings that are still being written.
    pub(super) still_written: Vec<String>,
    /// Names of recordings with the content of another, and the other's.
    pub(super) copies: Vec<(String, String)>,
}

/// Takes out recordings that are still being written, and all but the first of one content.
pub(super) fn sort_out(files: Vec<Loose>) -> (Vec<Loose>, LeftOut) {
    let mut left = LeftOut::default();
    let mut by_length: BTreeMap<u64, Vec<usize>> = BTreeMap::new();
    let mut kept: Vec<Loose> = Vec::new();
    for file in files {
        if is_at_work(&file.path) {
            left.still_written.push(file.name);
            continue;
        }
        let length = file.path.metadata().map_or(0, |about| about.len());
        let alike = by_length.entry(length).or_default();
        // An empty file has no content to share.
        let first = alike
            .iter()
            .find(|&&k| length > 0 && is_same(&kept[k].path, &file.path));
        match first {
            Some(&k) => left.copies.push((file.name, kept[k].name.clone())),
            None => {
                alike.push(kept.len());
                kept.push(file);
            }
        }
    }
    (kept, left)
}

/// Whether two files of one length hold the same. What cannot be read is told where it is measured.
fn is_same(a: &Path, b: &Path) -> bool {
    let inode = |path| Identity::of(path).and_then(|identity| identity.inode());
    if inode(a).is_some() && inode(a) == inode(b) {
        return true;
    }
    let (Some(ends_a), Some(ends_b)) = (ends(a), ends(b)) else {
        return false;
    };
    ends_a == ends_b && matches!((bytes::sha256(a), bytes::sha256(b)), (Ok(a), Ok(b)) if a == b)
}

fn ends(path: &Path) -> Option<Vec<u8>> {
    let mut file = File::open(path).ok()?;
    let length = file.metadata().ok()?.len();
    let mut bytes = Vec::new();
    file.by_ref().take(END).read_to_end(&mut bytes).ok()?;
    file.seek(SeekFrom::Start(length.saturating_sub(END)))
        .ok()?;
    file.take(END).read_to_end(&mut bytes).ok()?;
    Some(bytes)
}

/// Whether a WAV file changed a moment ago and its header does not yet tell its length: a logger writes it at the end.
fn is_at_work(path: &Path) -> bool {
    let Ok(about) = path.metadata() else {
        return false;
    };
    let age = about
        .modified()
        .ok()
        .map(|time| SystemTime::now().duration_since(time));
    let recent = age.is_some_and(|age| age.is_ok_and(|age| age < AT_WORK));
    recent && header_length(path).is_some_and(|told| told.abs_diff(about.len()) > 1)
}

/// Length of the whole file by a RIFF header, which counts without its first eight bytes.
fn header_length(path: &Path) -> Option<u64> {
    let mut head = [0; 8];
    File::open(path).ok()?.read_exact(&mut head).ok()?;
    let told = u32::from_le_bytes(head[4..].try_into().ok()?);
    head.starts_with(b"RIFF").then(|| u64::from(told) + 8)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn riff(told: u32, length: usize) -> Vec<u8> {
        let mut bytes = b"RIFF".to_vec();
        bytes.extend(told.to_le_bytes());
        bytes.resize(length, 7);
        bytes
    }

    fn names(files: &[Loose]) -> Vec<&str> {
        files.iter().map(|file| file.name.as_str()).collect()
    }

    #[test]
    fn equal_names_in_two_folders_stay_two_and_tables_are_no_recordings() {
        let folder = tempfile::tempdir().unwrap();
        for (name, text) in [
            ("cell1/run.wav", "a"),
            ("cell2/run.wav", "b"),
            ("top.csv", "time_s,current_a\n0,1\n"),
            ("runs.csv", "file,prep\n"),
            (".hidden/x.wav", "c"),
            ("note.md", "d"),
        ] {
            let path = folder.path().join(name);
            std::fs::create_dir_all(path.parent().unwrap()).unwrap();
            std::fs::write(path, text).unwrap();
        }
        let deep = recordings_in(folder.path(), true, false).unwrap();
        assert_eq!(names(&deep), ["cell1/run.wav", "cell2/run.wav", "top.csv"]);
        let flat = recordings_in(folder.path(), false, false).unwrap();
        assert_eq!(names(&flat), ["top.csv"]);
        let several = recordings_in(&folder.path().join("cell1"), true, true).unwrap();
        assert!(several[0].name.ends_with("cell1/run.wav") && several[0].name.len() > 13);
    }

    #[test]
    fn one_content_counts_once_and_a_file_at_work_waits() {
        let folder = tempfile::tempdir().unwrap();
        let file = |name: &str, bytes: &[u8]| {
            let path = folder.path().join(name);
            std::fs::write(&path, bytes).unwrap();
            named(&path)
        };
        let mut files = vec![
            file("a.wav", &riff(192, 200)),
            file("b.wav", &riff(192, 200)),
            file("half.wav", &riff(4000, 200)),
            file("begun.wav", &riff(36, 200)),
        ];
        let mut other = riff(192, 200);
        other[100] = 8;
        files.push(file("c.wav", &other));
        std::fs::hard_link(&files[0].path, folder.path().join("link.wav")).unwrap();
        files.push(named(&folder.path().join("link.wav")));
        let (kept, left) = sort_out(files.clone());
        assert_eq!(names(&kept), ["a.wav", "c.wav"]);
        let copy = |name: &str| (name.to_owned(), "a.wav".to_owned());
        assert_eq!(left.copies, [copy("b.wav"), copy("link.wav")]);
        assert_eq!(left.still_written, ["half.wav", "begun.wav"]);
        // Nobody has written to it for long: it is cut short, and measured as far as it goes.
        let old = SystemTime::now() - AT_WORK - Duration::from_secs(5);
        let half = File::options().append(true).open(&files[2].path).unwrap();
        half.set_modified(old).unwrap();
        assert!(names(&sort_out(files).0).contains(&"half.wav"));
    }
}
