//! A starts table in a folder of Parquet files, parted by day and cell as engines expect it: `day=2026-01-05/cell=3`.
//!
//! Each partition is one file, replaced as a whole: whatever ends the program, each holds the starts of before or of after,
//! and the next run completes the others. A recording measured again takes the place of its starts in the partition.

use std::collections::{BTreeMap, HashSet};
use std::path::{Path, PathBuf};

use crate::error::{Error, Result};
use crate::measuring::table::columns::{PARTED_BY, Wanted};
use crate::measuring::table::parquet;
use crate::output;
use crate::output::Form;
use crate::score::StartRow;

/// Stands in the name of a folder for a value that is not given, as Apache Hive has it (from memory).
const NOT_GIVEN: &str = "__HIVE_DEFAULT_PARTITION__";

/// The file of a partition.
const FILE: &str = "starts.parquet";

const ENDING: &str = "parquet";

/// First bytes of every Parquet file.
pub(super) const MAGIC: &[u8] = b"PAR1";

const PARQUET: Form = Form {
    name: "a Parquet file",
    is_own: |head| head.starts_with(MAGIC),
};

/// Adds rows to the table in a folder, each recording's in place of those it had in the partition before.
///
/// # Errors
/// A file there that is no starts table, or what the system refuses. The partitions before it are written.
pub fn add(folder: &Path, rows: &[StartRow]) -> Result<()> {
    let mut parts: BTreeMap<PathBuf, Vec<&StartRow>> = BTreeMap::new();
    for row in rows {
        parts.entry(place_of(row)).or_default().push(row);
    }
    for (place, own) in parts {
        let place = folder.join(place);
        let file = place.join(FILE);
        let before = match file.exists() {
            true => read_file(&file, Wanted::All)?,
            false => Vec::new(),
        };
        let measured: HashSet<&str> = own.iter().map(|row| &*row.recording).collect();
        let others = before
            .iter()
            .filter(|row| !measured.contains(&*row.recording));
        let all: Vec<&StartRow> = others.chain(own.iter().copied()).collect();
        let bytes = parquet::file_of(&all, &file)?;
        std::fs::create_dir_all(&place).map_err(|e| Error::io(&place, "create", e))?;
        output::whole(&file, &PARQUET, |out| out.write_all(&bytes))?;
    }
    Ok(())
}

/// Where a row goes, from the folder of the table.
fn place_of(row: &StartRow) -> PathBuf {
    let day = row.date.as_deref().and_then(day_of);
    let [by_day, by_cell] = PARTED_BY;
    let named = |key: &str, value: Option<&str>| format!("{key}={}", escaped(value));
    Path::new(&named(by_day, day)).join(named(by_cell, row.cell.as_deref()))
}

/// The day that a date or a moment begins with.
fn day_of(date: &str) -> Option<&str> {
    let day = date.get(..10)?;
    let fits = |(k, b): (usize, u8)| match k {
        4 | 7 => b == b'-',
        _ => b.is_ascii_digit(),
    };
    day.bytes().enumerate().all(fits).then_some(day)
}

/// A value in the name of a folder: what a path or an engine could take for something else as `%` and two digits.
fn escaped(value: Option<&str>) -> String {
    let Some(value) = value.filter(|value| !value.is_empty()) else {
        return NOT_GIVEN.to_owned();
    };
    let plain = |c: char| c.is_alphanumeric() || "-_. ".contains(c);
    let mut name = String::new();
    for c in value.chars() {
        match plain(c) {
            true => name.push(c),
            false => c
                .encode_utf8(&mut [0; 4])
                .bytes()
                .for_each(|b| name += &format!("%{b:02X}")),
        }
    }
    name
}

/// The value that the name of a folder stands for; `None` where it is not given.
fn unescaped(name: &str) -> Option<String> {
    if name == NOT_GIVEN {
        return None;
    }
    let (mut bytes, mut rest) = (Vec::new(), name.as_bytes());
    while let [first, after @ ..] = rest {
        let digits = after.get(..2).and_then(|two| std::str::from_utf8(two).ok());
        let escape = digits.and_then(|two| u8::from_str_radix(two, 16).ok());
        match (first, escape) {
            (b'%', Some(byte)) => {
                bytes.push(byte);
                rest = &after[2..];
            }
            _ => {
                bytes.push(*first);
                rest = after;
            }
        }
    }
    Some(String::from_utf8_lossy(&bytes).into_owned())
}

/// Columns and values that the folders of a file tell.
fn keys_of(path: &Path) -> Vec<(String, String)> {
    let folders = path.parent().into_iter().flat_map(Path::components);
    let key = |part: std::path::Component| {
        let name = part.as_os_str().to_str()?;
        let (key, value) = name.split_once('=')?;
        Some((key.to_owned(), unescaped(value)?))
    };
    folders.filter_map(key).collect()
}

/// Reads one Parquet file with what its folders tell.
///
/// # Errors
/// A file that cannot be read or is no starts table.
pub(super) fn read_file(path: &Path, wanted: Wanted) -> Result<Vec<StartRow>> {
    let whole = path.canonicalize().unwrap_or_else(|_| path.to_path_buf());
    parquet::read(path, &keys_of(&whole), wanted)
}

/// The files of a table by what their folders tell of a key, each list with one value; `None` where some tell nothing.
///
/// # Errors
/// A folder that cannot be read.
pub fn parted_by(folder: &Path, key: &str) -> Result<Option<Vec<Vec<PathBuf>>>> {
    let mut parts: BTreeMap<String, Vec<PathBuf>> = BTreeMap::new();
    for file in files(folder)? {
        let told = keys_of(&file).into_iter().find(|(known, _)| known == key);
        let Some((_, value)) = told else {
            return Ok(None);
        };
        parts.entry(value).or_default().push(file);
    }
    Ok(Some(parts.into_values().collect()))
}

/// Whether a folder is a table or a partition of one: it holds Parquet files and no others, or folders named by a key and a
/// value that do.
pub fn is_partitioned(folder: &Path) -> bool {
    let Ok(paths) = visible(folder) else {
        return false;
    };
    let (folders, files): (Vec<PathBuf>, Vec<PathBuf>) =
        paths.into_iter().partition(|path| path.is_dir());
    let is_part = |folder: &PathBuf| name_of(folder).contains('=') && is_partitioned(folder);
    !files.is_empty() && files.iter().all(|path| is_file(path)) || folders.iter().any(is_part)
}

/// What a folder holds, by name, but for hidden files and those that an engine is still writing.
fn visible(folder: &Path) -> Result<Vec<PathBuf>> {
    let entries = std::fs::read_dir(folder).map_err(|e| Error::io(folder, "read", e))?;
    let mut paths: Vec<PathBuf> = entries.flatten().map(|entry| entry.path()).collect();
    paths.retain(|path| !name_of(path).starts_with(['.', '_']));
    paths.sort();
    Ok(paths)
}

fn is_file(path: &Path) -> bool {
    path.is_file() && path.extension().is_some_and(|ending| ending == ENDING)
}

fn name_of(path: &Path) -> String {
    let name = path.file_name().unwrap_or_default();
    name.to_string_lossy().into_owned()
}

/// The files of a table in a folder, by day and cell.
///
/// # Errors
/// A folder that cannot be read.
pub fn files(folder: &Path) -> Result<Vec<PathBuf>> {
    let mut found = Vec::new();
    for path in visible(folder)? {
        if path.is_dir() {
            found.extend(files(&path)?);
        } else if is_file(&path) {
            found.push(path);
        }
    }
    Ok(found)
}
