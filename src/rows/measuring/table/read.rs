//! Tables become rows; CSV, JSON Lines or Parquet is told by content.

use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};

use crate::error::{Error, ErrorKind, Place, Result};
use crate::measuring::table::columns::{REQUIRED, Wanted};
use crate::measuring::table::csv::separator;
use crate::measuring::table::{csv, jsonl, partition};
use crate::measuring::twice::repeats;
use crate::score::StartRow;

/// The line of a row by the place that its reader noted.
type LineOf = fn(&Path, u64) -> u64;

/// How much of a file is looked at to tell whether it is a starts table.
const LOOK_BYTES: u64 = 64 * 1024;

/// Whether a file is a starts table: its first line names the columns that every table has, or it is Parquet.
///
/// # Errors
/// The file cannot be read.
pub fn is_table(path: &Path) -> Result<bool> {
    Ok(kind_of(&head_of(path)?).is_some())
}

fn head_of(path: &Path) -> Result<Vec<u8>> {
    let mut head = Vec::new();
    let file = File::open(path).map_err(|e| Error::io(path, "read", e))?;
    file.take(LOOK_BYTES)
        .read_to_end(&mut head)
        .map_err(|e| Error::io(path, "read", e))?;
    Ok(head)
}

/// Kinds of starts table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum TableKind {
    /// With its separator.
    Csv(u8),
    JsonLines,
    Parquet,
}

/// The kind of starts table that a file begins as.
pub(super) fn kind_of(head: &[u8]) -> Option<TableKind> {
    if head.starts_with(partition::MAGIC) {
        return Some(TableKind::Parquet);
    }
    let text = String::from_utf8_lossy(head);
    let line = first_line(&text);
    if line.starts_with('{') {
        let has = |name: &&str| line.contains(&format!("\"{name}\""));
        return REQUIRED.iter().all(has).then_some(TableKind::JsonLines);
    }
    separator(line).map(TableKind::Csv)
}

fn first_line(text: &str) -> &str {
    let text = text.trim_start_matches('\u{feff}');
    text.lines()
        .find(|line| !line.trim().is_empty())
        .unwrap_or_default()
}

/// Reads a starts table with all its columns; see [`read_wanted`].
///
/// # Errors
/// As [`read_wanted`].
pub fn read(path: &Path) -> Result<Vec<StartRow>> {
    read_wanted(path, Wanted::All)
}

/// Reads a starts table: CSV, JSON Lines, Parquet, or a folder of Parquet files. Measures that are not wanted are not read.
///
/// Tables may have been put one after the other in one file: a repeated head line begins a new list of
/// columns. A start that stands there twice is an error, because it would be counted twice.
///
/// # Errors
/// File, line and column, what was found and what was expected.
pub fn read_wanted(path: &Path, wanted: Wanted) -> Result<Vec<StartRow>> {
    if path.is_dir() {
        return read_files(&partition::files(path)?, wanted);
    }
    let head = head_of(path)?;
    let begins_as_json = first_line(&String::from_utf8_lossy(&head)).starts_with('{');
    let (rows, places, line_of): (_, Vec<u64>, LineOf) = match kind_of(&head) {
        Some(TableKind::Parquet) => return partition::read_file(path, wanted),
        Some(TableKind::Csv(separator)) => {
            let (rows, places) = csv::read(path, separator, wanted)?;
            (rows, places, csv::line_at)
        }
        None if !begins_as_json => return Err(no_table(path)),
        _ => {
            let (rows, lines) = jsonl::read(path)?;
            (rows, lines, |_, line| line)
        }
    };
    refuse_repeats(path, &rows, |k| line_of(path, places[k]))?;
    Ok(rows)
}

/// Reads files of a table in a folder, one after the other.
///
/// # Errors
/// As [`read_wanted`].
pub fn read_files(files: &[PathBuf], wanted: Wanted) -> Result<Vec<StartRow>> {
    let mut rows = Vec::new();
    for file in files {
        rows.extend(partition::read_file(file, wanted)?);
    }
    if let Wanted::Columns(_) = wanted {
        return Ok(rows);
    }
    let instant = |t: Option<f64>| t.map(f64::to_bits);
    let key = |row: &StartRow| (row.run, row.start, instant(row.began_s()));
    match repeats(&rows, key).first() {
        None => Ok(rows),
        Some((first, _)) => {
            let (row, problem) = (
                &rows[*first],
                "comes in twice, so it would be counted twice",
            );
            let at = format!("{}, run {}, start {}", row.recording, row.run, row.start);
            Err(Error::new(ErrorKind::CountedTwice, at, problem)
                .hint("Delete the file of the table that holds it under its old date or cell"))
        }
    }
}

fn no_table(path: &Path) -> Error {
    let columns = REQUIRED.join(", ");
    Error::new(
        ErrorKind::StartsTable,
        Place::file(path),
        "is no starts table",
    )
    .hint(format!(
        "Its first line must name at least the columns {columns}"
    ))
}

/// A start counted twice would make a comparison look surer than it is.
fn refuse_repeats(path: &Path, rows: &[StartRow], line: impl Fn(usize) -> u64) -> Result<()> {
    let instant = |t: Option<f64>| t.map(f64::to_bits);
    let key = |row: &StartRow| {
        (
            row.run,
            row.start,
            instant(row.instants.t_first_s),
            instant(row.instants.t_out_s),
        )
    };
    let Some((first, again)) = repeats(rows, key)
        .into_iter()
        .min_by_key(|(_, again)| *again)
    else {
        return Ok(());
    };
    let problem = format!(
        "the same start stands at line {}: it would be counted twice",
        line(first)
    );
    Err(Error::new(
        ErrorKind::CountedTwice,
        Place::file(path).line(line(again)),
        problem,
    )
    .hint("Take one of the two away"))
}
