//! Recordings named by themselves or by their folders: which of them count, and under which name.

use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

use crate::error::{Error, ErrorKind, Result};
use crate::job::{JOB_FILE, Run, SHEET_FILE};
use crate::measuring::table;

/// Endings of the recordings that are looked for in a folder.
const RECORDING_ENDINGS: [&str; 4] = [".wav", ".csv", ".csv.gz", ".txt"];

/// A file whose header disagrees with its length is taken to be still written to for this long after its last change.
const AT_WORK: Duration = Duration::from_secs(600);

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
    let misnamed = folder.join(JOB_FILE.to_owned() + ".txt");
    if misnamed.exists() {
        let path = misnamed.display().to_string();
        return Err(
            Error::new(ErrorKind::NotAJob, path, "a job file ends in .toml")
                .hint("An editor added the .txt: rename it to job.toml"),
        );
    }
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

/// Recordings that nobody writes to, and the names of the others.
pub(super) fn at_rest(files: Vec<Loose>) -> (Vec<Loose>, Vec<String>) {
    let (at_work, at_rest): (Vec<Loose>, Vec<Loose>) =
        files.into_iter().partition(|file| is_at_work(&file.path));
    let names = at_work.into_iter().map(|file| file.name);
    (at_rest, names.collect())
}

/// Takes out the runs found by a pattern whose recordings somebody writes to; gives their names.
pub(super) fn take_at_work(runs: &mut Vec<Run>) -> Vec<String> {
    let at_work = runs.extract_if(.., |run| run.by_pattern && is_at_work(&run.path));
    at_work.map(|run| run.file).collect()
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
    fn a_file_at_work_waits() {
        let folder = tempfile::tempdir().unwrap();
        let file = |name: &str, bytes: &[u8]| {
            let path = folder.path().join(name);
            std::fs::write(&path, bytes).unwrap();
            named(&path)
        };
        let files = vec![
            file("a.wav", &riff(192, 200)),
            file("half.wav", &riff(4000, 200)),
            file("begun.wav", &riff(36, 200)),
        ];
        let (kept, at_work) = at_rest(files.clone());
        assert_eq!(names(&kept), ["a.wav"]);
        assert_eq!(at_work, ["half.wav", "begun.wav"]);
        // Nobody has written to it for long: it is cut short, and measured as far as it goes.
        let old = SystemTime::now() - AT_WORK - Duration::from_secs(5);
        let half = File::options().append(true).open(&files[1].path).unwrap();
        half.set_modified(old).unwrap();
        assert!(names(&at_rest(files).0).contains(&"half.wav"));
    }
}
