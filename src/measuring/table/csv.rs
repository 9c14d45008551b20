//! CSV becomes rows, one record after the other: the text is never held as a whole.

use std::collections::HashSet;
use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

use crate::error::{Error, ErrorKind, Place, Result};
use crate::guard::unguard;
use crate::measuring::table::cell::{Draft, TableCell};
use crate::measuring::table::columns::{Column, Fixed, REQUIRED, Wanted};
use crate::measuring::table::room;
use crate::measuring::table::room::{LONGEST_ROW, Lines};
use crate::measuring::table::sheet_cells::SheetCells;
use crate::score::StartRow;

/// Separators a spreadsheet may have saved the table with.
const SEPARATORS: [u8; 3] = [b',', b';', b'\t'];

/// The separator with which a line is the head of a starts table.
pub(super) fn separator(line: &str) -> Option<u8> {
    SEPARATORS.into_iter().find(|separator| {
        let mut reader = ::csv::ReaderBuilder::new()
            .has_headers(false)
            .delimiter(*separator)
            .from_reader(line.as_bytes());
        let first = reader.records().next();
        first.is_some_and(|record| record.is_ok_and(|record| is_head(&record)))
    })
}

fn is_head(record: &::csv::StringRecord) -> bool {
    REQUIRED
        .iter()
        .all(|name| record.iter().any(|cell| cell.trim() == *name))
}

/// Reads the rows, and where each begins in the file.
///
/// # Errors
/// File, line and column, what was found and what was expected.
pub(super) fn read(
    path: &Path,
    separator: u8,
    wanted: Wanted,
) -> Result<(Vec<StartRow>, Vec<u64>)> {
    let file = File::open(path).map_err(|e| Error::io(path, "read", e))?;
    let mut reader = ::csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(separator)
        .buffer_capacity(1 << 18)
        .from_reader(Lines::new(file));
    let mut reading = Reading {
        path,
        decimal_comma: separator == b';',
        head: Head::default(),
    };
    let (mut rows, mut places) = (Vec::new(), Vec::new());
    let mut record = ::csv::StringRecord::new();
    while reader
        .read_record(&mut record)
        .map_err(|e| reading.refused(e))?
    {
        let at = record.position().map_or(0, ::csv::Position::byte);
        if is_head(&record) {
            reading.head = reading.head_of(at, &record, wanted)?;
        } else if record.iter().any(|cell| !cell.trim().is_empty()) {
            room::add(&mut rows, reading.row(at, &record)?, path)?;
            places.push(at);
        }
    }
    Ok((rows, places))
}

/// The line of a record that begins at a byte; the reader stands before the line ends that it has yet to pass over, LF of
/// CR LF included.
pub(super) fn line_at(path: &Path, at: u64) -> u64 {
    let Ok(mut file) = File::open(path) else {
        return 1;
    };
    let (mut line, mut left, mut block) = (1, at, [0; 1 << 16]);
    while let Ok(read @ 1..) = file.read(&mut block) {
        let before = read.min(usize::try_from(left).unwrap_or(read));
        line += memchr::memchr_iter(b'\n', &block[..before]).count() as u64;
        left -= before as u64;
        let ends = block[before..read]
            .iter()
            .take_while(|b| b"\r\n".contains(b));
        line += ends.clone().filter(|b| **b == b'\n').count() as u64;
        if left == 0 && ends.count() < read - before {
            break;
        }
    }
    line
}

/// What the head line says of the cells below it.
#[derive(Default)]
struct Head {
    names: Vec<String>,
    /// Fixed columns that are wanted, by their places.
    fixed: Vec<(usize, Fixed)>,
    /// Places of the sheet's columns.
    sheet: Vec<usize>,
    cells: SheetCells,
}

struct Reading<'a> {
    path: &'a Path,
    decimal_comma: bool,
    head: Head,
}

impl Reading<'_> {
    /// Columns by position, names unguarded.
    fn head_of(&self, at: u64, record: &::csv::StringRecord, wanted: Wanted) -> Result<Head> {
        let names: Vec<String> = record.iter().map(|cell| unguard(cell.trim())).collect();
        let mut seen = HashSet::new();
        let mut given = names.iter().filter(|name| !name.is_empty());
        if let Some(name) = given.find(|name| !seen.insert(name.as_str())) {
            let problem = format!("column \"{}\" stands there twice", name.escape_debug());
            return Err(self.wrong(ErrorKind::StartsTable, at, problem));
        }
        let (mut fixed, mut sheet, mut headings) = (Vec::new(), Vec::new(), Vec::new());
        for (place, name) in names.iter().enumerate() {
            match Column::named(name) {
                Column::Sheet(heading) => {
                    sheet.push(place);
                    headings.push(heading);
                }
                column if !wanted.takes(&column) => {}
                Column::Fixed(column) => fixed.push((place, column)),
            }
        }
        Ok(Head {
            names,
            fixed,
            sheet,
            cells: SheetCells::new(headings),
        })
    }

    fn row(&mut self, at: u64, record: &::csv::StringRecord) -> Result<StartRow> {
        let (found, expected) = (record.len(), self.head.names.len());
        if found != expected {
            let problem = format!("{found} cells found, {expected} expected as in the head line");
            return Err(self.wrong(ErrorKind::StartsTable, at, problem));
        }
        let mut draft = Draft::new();
        for (place, column) in &self.head.fixed {
            let cell = &record[*place];
            let done = match cell.contains(['\'', ',']) {
                false => draft.put(*column, TableCell::text(cell)),
                true => draft.put(*column, TableCell::text(&self.plain(cell))),
            };
            done.map_err(|problem| {
                let name = self.head.names[*place].escape_debug();
                self.wrong(
                    ErrorKind::StartsValue,
                    at,
                    format!("column \"{name}\" {problem}"),
                )
            })?;
        }
        let sheet = self.head.sheet.iter().map(|place| &record[*place]);
        draft.row.sheet = self.head.cells.shared(sheet, unguard);
        draft
            .finish()
            .map_err(|problem| self.wrong(ErrorKind::StartsValue, at, problem))
    }

    /// A cell without its guard; with its decimal comma made a point, where it then is a number.
    fn plain(&self, cell: &str) -> String {
        let pointed = cell.replacen(',', ".", 1);
        match self.decimal_comma && pointed.parse::<f64>().is_ok() {
            true => pointed,
            false => unguard(cell),
        }
    }

    fn wrong(&self, kind: ErrorKind, at: u64, problem: String) -> Error {
        let line = line_at(self.path, at);
        Error::new(kind, Place::file(self.path).line(line), problem)
    }

    /// What stops the reader: the system, or letters that are not UTF-8.
    fn refused(&self, error: ::csv::Error) -> Error {
        let at = error.position().map_or(0, ::csv::Position::byte);
        match error.into_kind() {
            ::csv::ErrorKind::Io(refused) if refused.kind() == io::ErrorKind::InvalidData => {
                too_long(self.path)
            }
            ::csv::ErrorKind::Io(refused) => Error::io(self.path, "read", refused),
            _ => not_utf8(self.path, line_at(self.path, at)),
        }
    }
}

/// Letters that cannot be read, in a line.
pub(super) fn not_utf8(path: &Path, line: u64) -> Error {
    let problem = "has letters that are not UTF-8";
    Error::new(ErrorKind::NotUtf8, Place::file(path).line(line), problem)
        .hint("Save the table as CSV UTF-8")
}

/// A text without line ends is no table.
pub(super) fn too_long(path: &Path) -> Error {
    let most = LONGEST_ROW >> 20;
    let problem = format!("has a row of more than {most} MiB");
    Error::new(ErrorKind::StartsTable, Place::file(path), problem).hint("Is it the right file?")
}
