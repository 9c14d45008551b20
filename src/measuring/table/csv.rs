//! CSV becomes rows, one record after the other: the text is never held as a whole.

use std::collections::HashSet;
use std::fs::File;
use std::io::{self, Read};
use std::path::Path;
use std::sync::LazyLock;

use memchr::memmem::Finder;
use rayon::prelude::*;

use crate::error::{Error, ErrorKind, Place, Result};
use crate::guard::unguard;
use crate::measuring::table::cell::{Draft, TableCell};
use crate::measuring::table::columns::{Column, Fixed, REQUIRED, Wanted};
use crate::measuring::table::room;
use crate::measuring::table::room::{LONGEST_ROW, Lines};
use crate::measuring::table::sheet_cells::SheetCells;
use crate::measuring::table::texts::Texts;
use crate::score::StartRow;

/// Records that are taken out of the text at a time, while those before them become rows.
const AT_A_TIME: usize = 2048;

/// Shares of them a core: one that took the text is behind, and makes rows of fewer.
const LANES: usize = 4;

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

/// Finds the first of the names that a head line has.
static FIRST_NAME: LazyLock<Finder> = LazyLock::new(|| Finder::new(REQUIRED[0]));

fn is_head(record: &::csv::StringRecord) -> bool {
    let has = |name: &&str| record.iter().any(|cell| cell.trim() == *name);
    FIRST_NAME.find(record.as_slice().as_bytes()).is_some() && REQUIRED.iter().all(has)
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
        wanted,
        head: Head {
            decimal_comma: separator == b';',
            ..Head::default()
        },
        lanes: Vec::new(),
        rows: Vec::new(),
        places: Vec::new(),
    };
    let (mut now, mut next) = (Records::default(), Records::default());
    now.fill(&mut reader);
    loop {
        // While these become rows, the next are taken out of the text.
        let ((), done) = rayon::join(|| next.fill(&mut reader), || reading.take(now.found()));
        done?;
        if let Some(stopped) = now.stopped.take() {
            return Err(refused(path, stopped));
        }
        if now.found().is_empty() {
            return Ok((reading.rows, reading.places));
        }
        std::mem::swap(&mut now, &mut next);
    }
}

/// Some records of the text, one after the other.
#[derive(Default)]
struct Records {
    /// The room for them, used again and again; whether each is a head line.
    room: Vec<(::csv::StringRecord, bool)>,
    /// How many of it are taken; none at the end of the text.
    found: usize,
    /// What stopped the reader behind them.
    stopped: Option<::csv::Error>,
}

impl Records {
    fn found(&self) -> &[(::csv::StringRecord, bool)] {
        &self.room[..self.found]
    }

    fn fill(&mut self, reader: &mut ::csv::Reader<impl Read>) {
        self.room.resize_with(AT_A_TIME, Default::default);
        self.found = 0;
        for (record, heads) in &mut self.room {
            match reader.read_record(record) {
                Ok(true) => {
                    *heads = is_head(record);
                    self.found += 1;
                }
                Ok(false) => break,
                Err(error) => {
                    self.stopped = Some(error);
                    break;
                }
            }
        }
    }
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
    decimal_comma: bool,
    names: Vec<String>,
    /// Fixed columns that are wanted, by their places.
    fixed: Vec<(usize, Fixed)>,
    /// Places of the sheet's columns.
    sheet: Vec<usize>,
    headings: Vec<String>,
}

/// What was met under a head line in one share of each lot of records; the shares become rows side by side.
struct Lane {
    /// Texts of each fixed column.
    texts: Vec<Texts>,
    cells: SheetCells,
    rows: Vec<StartRow>,
    places: Vec<u64>,
}

struct Reading<'a> {
    path: &'a Path,
    wanted: Wanted<'a>,
    head: Head,
    lanes: Vec<Lane>,
    rows: Vec<StartRow>,
    /// Where each row begins in the file.
    places: Vec<u64>,
}

impl Reading<'_> {
    fn take(&mut self, records: &[(::csv::StringRecord, bool)]) -> Result<()> {
        for under_one in records.chunk_by(|_, (_, heads)| !heads) {
            match under_one {
                [(head, true), rows @ ..] => {
                    self.begin(head)?;
                    self.add(rows)?;
                }
                rows => self.add(rows)?,
            }
        }
        Ok(())
    }

    /// Columns by position, names unguarded.
    fn begin(&mut self, record: &::csv::StringRecord) -> Result<()> {
        let names: Vec<String> = record.iter().map(|cell| unguard(cell.trim())).collect();
        let mut seen = HashSet::new();
        let mut given = names.iter().filter(|name| !name.is_empty());
        if let Some(name) = given.find(|name| !seen.insert(name.as_str())) {
            let problem = format!("column \"{}\" stands there twice", name.escape_debug());
            let kind = ErrorKind::StartsTable;
            return Err(wrong(self.path, kind, place_of(record), problem));
        }
        let mut head = Head {
            decimal_comma: self.head.decimal_comma,
            ..Head::default()
        };
        for (place, name) in names.iter().enumerate() {
            match Column::named(name) {
                Column::Sheet(heading) => {
                    head.sheet.push(place);
                    head.headings.push(heading);
                }
                column if !self.wanted.takes(&column) => {}
                Column::Fixed(column) => head.fixed.push((place, column)),
            }
        }
        head.names = names;
        let lane = || Lane {
            texts: head.fixed.iter().map(|_| Texts::default()).collect(),
            cells: SheetCells::new(head.headings.clone()),
            rows: Vec::new(),
            places: Vec::new(),
        };
        let lanes = LANES * rayon::current_num_threads();
        self.lanes = (0..lanes).map(|_| lane()).collect();
        self.head = head;
        Ok(())
    }

    /// Makes rows of records, on all cores.
    fn add(&mut self, records: &[(::csv::StringRecord, bool)]) -> Result<()> {
        let each = records.len().div_ceil(self.lanes.len()).max(1);
        let (path, head) = (self.path, &self.head);
        let shares = records.par_chunks(each).zip(&mut self.lanes);
        let done: Vec<Result<()>> = shares
            .map(|(records, lane)| lane.take(path, head, records))
            .collect();
        for (lane, done) in self.lanes.iter_mut().zip(done) {
            done?;
            room::append(&mut self.rows, &mut lane.rows, path)?;
            self.places.append(&mut lane.places);
        }
        Ok(())
    }
}

impl Lane {
    fn take(
        &mut self,
        path: &Path,
        head: &Head,
        records: &[(::csv::StringRecord, bool)],
    ) -> Result<()> {
        for (record, _) in records {
            if record.iter().any(|cell| !cell.trim().is_empty()) {
                let row = self.row(path, head, record)?;
                self.rows.push(row);
                self.places.push(place_of(record));
            }
        }
        Ok(())
    }

    fn row(&mut self, path: &Path, head: &Head, record: &::csv::StringRecord) -> Result<StartRow> {
        let at = place_of(record);
        let (found, expected) = (record.len(), head.names.len());
        if found != expected {
            let problem = format!("{found} cells found, {expected} expected as in the head line");
            return Err(wrong(path, ErrorKind::StartsTable, at, problem));
        }
        let text = record.as_slice().as_bytes();
        let is_plain = memchr::memchr2(b'\'', b',', text).is_none();
        let mut draft = Draft::new();
        for ((place, column), texts) in head.fixed.iter().zip(&mut self.texts) {
            let cell = &record[*place];
            let done = match is_plain || !cell.contains(['\'', ',']) {
                true => draft.put(*column, TableCell::text(cell), texts),
                false => {
                    let cell = plain(cell, head.decimal_comma);
                    draft.put(*column, TableCell::text(&cell), texts)
                }
            };
            done.map_err(|problem| {
                let name = head.names[*place].escape_debug();
                let problem = format!("column \"{name}\" {problem}");
                wrong(path, ErrorKind::StartsValue, at, problem)
            })?;
        }
        let sheet = head.sheet.iter().map(|place| &record[*place]);
        draft.row.sheet = self.cells.shared(sheet, unguard);
        let row = draft.finish();
        row.map_err(|problem| wrong(path, ErrorKind::StartsValue, at, problem))
    }
}

/// The byte at which a record begins.
fn place_of(record: &::csv::StringRecord) -> u64 {
    record.position().map_or(0, ::csv::Position::byte)
}

/// What stops the reader: the system, or letters that are not UTF-8.
fn refused(path: &Path, error: ::csv::Error) -> Error {
    let at = error.position().map_or(0, ::csv::Position::byte);
    match error.into_kind() {
        ::csv::ErrorKind::Io(refused) if refused.kind() == io::ErrorKind::InvalidData => {
            too_long(path)
        }
        ::csv::ErrorKind::Io(refused) => Error::io(path, "read", refused),
        _ => not_utf8(path, line_at(path, at)),
    }
}

/// A cell without its guard; with its decimal comma made a point, where it then is a number.
fn plain(cell: &str, decimal_comma: bool) -> String {
    let pointed = cell.replacen(',', ".", 1);
    match decimal_comma && pointed.parse::<f64>().is_ok() {
        true => pointed,
        false => unguard(cell),
    }
}

fn wrong(path: &Path, kind: ErrorKind, at: u64, problem: String) -> Error {
    let line = line_at(path, at);
    Error::new(kind, Place::file(path).line(line), problem)
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
