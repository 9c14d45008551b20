//! CSV or JSON Lines become rows; the kind is told by content.

use std::collections::{HashMap, HashSet};
use std::fmt;
use std::fs::File;
use std::io::Read;
use std::path::Path;

use serde::de::{Deserialize, Deserializer, MapAccess, Visitor};

use crate::error::{Error, ErrorKind, Place, Result};
use crate::guard::unguard;
use crate::measuring::table::cell::{Draft, TableCell};
use crate::measuring::table::{REQUIRED, sheet_key};
use crate::score::{Sheets, StartRow};

/// Separators a spreadsheet may have saved the table with.
const SEPARATORS: [u8; 3] = [b',', b';', b'\t'];

/// How much of a file is looked at to tell whether it is a starts table.
const LOOK_BYTES: u64 = 64 * 1024;

/// Whether a file is a starts table (its first line names the columns that every table has).
///
/// # Errors
/// The file cannot be read.
pub fn is_table(path: &Path) -> Result<bool> {
    let mut head = Vec::new();
    let file = File::open(path).map_err(|e| Error::io(path, "read", e))?;
    file.take(LOOK_BYTES)
        .read_to_end(&mut head)
        .map_err(|e| Error::io(path, "read", e))?;
    Ok(kind_of(&head).is_some())
}

/// Kinds of starts table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum TableKind {
    Csv,
    JsonLines,
}

/// The kind of starts table that a file begins as.
pub(super) fn kind_of(head: &[u8]) -> Option<TableKind> {
    let text = String::from_utf8_lossy(head);
    let line = first_line(&text);
    if line.starts_with('{') {
        let has = |name: &&str| line.contains(&format!("\"{name}\""));
        return REQUIRED.iter().all(has).then_some(TableKind::JsonLines);
    }
    separator(line).map(|_| TableKind::Csv)
}

/// A starts table is not larger: it is held in memory.
const MOST_BYTES: u64 = 1 << 30;

/// Reads a starts table, CSV or JSON Lines.
///
/// Tables may have been put one after the other in one file: a repeated head line begins a new list of
/// columns. A start that stands there twice is an error, because it would be counted twice.
///
/// # Errors
/// File, line and column, what was found and what was expected.
pub fn read(path: &Path) -> Result<Vec<StartRow>> {
    let bytes = crate::bytes::Bytes::file(path)?.whole(MOST_BYTES)?;
    let text = String::from_utf8(bytes).map_err(|e| {
        let line = 1 + e.as_bytes()[..e.utf8_error().valid_up_to()]
            .iter()
            .filter(|b| **b == b'\n')
            .count();
        Error::new(
            ErrorKind::NotUtf8,
            at(path, line as u64),
            "has letters that are not UTF-8",
        )
        .hint("Save the table as CSV UTF-8")
    })?;
    room_for(memchr::memchr_iter(b'\n', text.as_bytes()).count())
        .ok_or_else(|| Error::memory(path.display().to_string()))?;
    let line = first_line(&text);
    let rows = if line.starts_with('{') {
        read_jsonl(path, &text)?
    } else if let Some(separator) = separator(line) {
        read_csv(path, &text, separator)?
    } else {
        return Err(Error::new(
            ErrorKind::StartsTable,
            path.display().to_string(),
            "is no starts table",
        )
        .hint(format!(
            "Its first line must name at least the columns {}",
            REQUIRED.join(", ")
        )));
    };
    refuse_repeats(path, &rows)?;
    Ok(rows.into_iter().map(|(_, row)| row).collect())
}

/// Bytes that the texts of a row take besides the row itself.
const TEXT_BYTES: usize = 512;

/// Whether there is memory for so many rows; a list that grows may hold twice its length.
fn room_for(rows: usize) -> Option<()> {
    let row = 2 * size_of::<(u64, StartRow)>() + TEXT_BYTES;
    let mut room: Vec<u8> = Vec::new();
    room.try_reserve_exact(rows.checked_mul(row)?).ok()
}

fn at(path: &Path, line: u64) -> Place {
    Place::file(path).line(line)
}

fn first_line(text: &str) -> &str {
    let text = text.trim_start_matches('\u{feff}');
    text.lines()
        .find(|line| !line.trim().is_empty())
        .unwrap_or_default()
}

/// The separator with which a line is the head of a starts table.
fn separator(line: &str) -> Option<u8> {
    SEPARATORS.into_iter().find(|separator| {
        let mut reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .delimiter(*separator)
            .from_reader(line.as_bytes());
        let first = reader.records().next();
        first.is_some_and(|record| record.is_ok_and(|record| is_head(&record)))
    })
}

fn is_head(record: &csv::StringRecord) -> bool {
    REQUIRED
        .iter()
        .all(|name| record.iter().any(|cell| cell.trim() == *name))
}

/// Columns by position, names unguarded.
fn head(path: &Path, line: u64, record: &csv::StringRecord) -> Result<Vec<String>> {
    let names: Vec<String> = record.iter().map(|cell| unguard(cell.trim())).collect();
    let mut seen = HashSet::new();
    match names
        .iter()
        .find(|name| !name.is_empty() && !seen.insert(*name))
    {
        Some(name) => Err(twice(path, line, name)),
        None => Ok(names),
    }
}

fn twice(path: &Path, line: u64, name: &str) -> Error {
    let problem = format!("column \"{}\" stands there twice", name.escape_debug());
    Error::new(ErrorKind::StartsTable, at(path, line), problem)
}

fn read_csv(path: &Path, text: &str, separator: u8) -> Result<Vec<(u64, StartRow)>> {
    let text = text.trim_start_matches('\u{feff}');
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(separator)
        .from_reader(text.as_bytes());
    let (mut names, mut rows) = (Vec::new(), Vec::new());
    let mut sheets = Sheets::default();
    let (mut line, mut counted) = (1, 0);
    for record in reader.records() {
        let record = record.expect("UTF-8 with rows of any length is always CSV");
        // The reader stands before the line ends that it has yet to pass over, LF of CR LF included.
        let at = record.position().map_or(0, csv::Position::byte) as usize;
        let ends = text[at..]
            .bytes()
            .take_while(|b| b"\r\n".contains(b))
            .count();
        line += text[counted..at + ends].matches('\n').count() as u64;
        counted = at + ends;
        if is_head(&record) {
            names = head(path, line, &record)?;
        } else if record.iter().any(|cell| !cell.trim().is_empty()) {
            let mut row = csv_row(path, line, &names, &record, separator == b';')?;
            sheets.share(&mut row);
            rows.push((line, row));
        }
    }
    Ok(rows)
}

fn csv_row(
    path: &Path,
    line: u64,
    names: &[String],
    record: &csv::StringRecord,
    decimal_comma: bool,
) -> Result<StartRow> {
    if record.len() != names.len() {
        let problem = format!(
            "{} cells found, {} expected as in the head line",
            record.len(),
            names.len()
        );
        return Err(Error::new(ErrorKind::StartsTable, at(path, line), problem));
    }
    let mut draft = Draft::new();
    for (name, cell) in names.iter().zip(record) {
        let cell = match cell.is_empty() {
            true => TableCell::Empty,
            false if decimal_comma && sheet_key(name).is_none() => {
                TableCell::Text(with_point(cell))
            }
            false => TableCell::Text(unguard(cell)),
        };
        put(path, line, &mut draft, name, cell)?;
    }
    finish(path, line, draft)
}

/// A cell with its decimal comma made a point, where it then is a number.
fn with_point(cell: &str) -> String {
    let pointed = cell.replacen(',', ".", 1);
    match pointed.parse::<f64>() {
        Ok(_) => pointed,
        Err(_) => unguard(cell),
    }
}

fn read_jsonl(path: &Path, text: &str) -> Result<Vec<(u64, StartRow)>> {
    let text = text.trim_start_matches('\u{feff}');
    let lines = (1..)
        .zip(text.lines())
        .filter(|(_, line)| !line.trim().is_empty());
    let mut sheets = Sheets::default();
    lines
        .map(|(number, line)| {
            let mut row = json_row(path, number, line)?;
            sheets.share(&mut row);
            Ok((number, row))
        })
        .collect()
}

fn json_row(path: &Path, line: u64, text: &str) -> Result<StartRow> {
    let Pairs(object) = serde_json::from_str(text).map_err(|e| {
        Error::new(
            ErrorKind::StartsTable,
            at(path, line),
            format!("is no JSON object ({e})"),
        )
        .hint("One start is one object on one line")
    })?;
    let has = |name: &str| object.iter().any(|(key, _)| key == name);
    if let Some(name) = REQUIRED.into_iter().find(|name| !has(name)) {
        return Err(Error::new(
            ErrorKind::StartsTable,
            at(path, line),
            format!("column \"{name}\" is missing"),
        ));
    }
    let mut draft = Draft::new();
    let mut seen = HashSet::new();
    for (key, value) in object {
        // As the head of a CSV table is read.
        let name = key.trim();
        if !seen.insert(name.to_owned()) {
            return Err(twice(path, line, name));
        }
        let cell = json_cell(value).ok_or_else(|| {
            Error::new(
                ErrorKind::StartsValue,
                at(path, line),
                format!(
                    "column \"{}\" holds an object or a list of other than names",
                    name.escape_debug()
                ),
            )
        })?;
        put(path, line, &mut draft, name, cell)?;
    }
    finish(path, line, draft)
}

/// Keys and values of a JSON object, those of one key each by itself.
struct Pairs(Vec<(String, serde_json::Value)>);

impl<'de> Deserialize<'de> for Pairs {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Pairs, D::Error> {
        deserializer.deserialize_map(PairsVisitor)
    }
}

struct PairsVisitor;

impl<'de> Visitor<'de> for PairsVisitor {
    type Value = Pairs;

    fn expecting(&self, f: &mut fmt::Formatter) -> fmt::Result {
        f.write_str("an object")
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Pairs, A::Error> {
        let mut pairs = Vec::new();
        while let Some(pair) = map.next_entry()? {
            pairs.push(pair);
        }
        Ok(Pairs(pairs))
    }
}

fn json_cell(value: serde_json::Value) -> Option<TableCell> {
    use serde_json::Value;
    Some(match value {
        Value::Null => TableCell::Empty,
        Value::Bool(yes) => TableCell::Bool(yes),
        Value::Number(number) => match number.as_u64() {
            Some(whole) => TableCell::Count(whole),
            None => TableCell::Real(number.as_f64()?),
        },
        Value::String(text) => TableCell::Text(text),
        Value::Array(names) => {
            let names = names
                .into_iter()
                .map(|name| name.as_str().map(str::to_owned));
            TableCell::List(names.collect::<Option<_>>()?)
        }
        Value::Object(_) => return None,
    })
}

fn put(path: &Path, line: u64, draft: &mut Draft, name: &str, cell: TableCell) -> Result<()> {
    let done = match sheet_key(name) {
        Some(key) => draft.put_sheet(key, cell),
        None => draft.put(name, cell),
    };
    done.map_err(|problem| {
        Error::new(
            ErrorKind::StartsValue,
            at(path, line),
            format!("column \"{}\" {problem}", name.escape_debug()),
        )
    })
}

fn finish(path: &Path, line: u64, draft: Draft) -> Result<StartRow> {
    draft
        .finish()
        .map_err(|problem| Error::new(ErrorKind::StartsValue, at(path, line), problem))
}

/// A start counted twice would make a comparison look surer than it is.
fn refuse_repeats(path: &Path, rows: &[(u64, StartRow)]) -> Result<()> {
    let mut seen = HashMap::new();
    for (line, row) in rows {
        let instant = |t: Option<f64>| t.map(f64::to_bits);
        let key = (
            &row.recording,
            row.run,
            row.start,
            instant(row.instants.t_first_s),
            instant(row.instants.t_out_s),
        );
        if let Some(first) = seen.insert(key, line) {
            let problem =
                format!("the same start stands at line {first}: it would be counted twice");
            return Err(
                Error::new(ErrorKind::CountedTwice, at(path, *line), problem)
                    .hint("Take one of the two away"),
            );
        }
    }
    Ok(())
}
