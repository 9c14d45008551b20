//! Records under a head line become rows, on all cores.

use std::collections::HashSet;
use std::fs::File;
use std::io::Read;
use std::path::Path;
use std::sync::LazyLock;

use memchr::memmem::Finder;

use super::line::{Line, Room};
use crate::error::{Error, ErrorKind, Place, Result};
use crate::guard::unguard;
use crate::measuring::table::cell::{Draft, TableCell, empty_row};
use crate::measuring::table::columns::{Column, Fixed, REQUIRED, Wanted};
use crate::measuring::table::room;
use crate::measuring::table::sheet_cells::SheetCells;
use crate::parallel;
use crate::score::StartRow;
use crate::texts::Texts;

/// Shares of the records a core: one that took the text is behind, and makes rows of fewer.
const LANES: usize = 4;

/// Finds the first of the names that a head line has.
static FIRST_NAME: LazyLock<Finder> = LazyLock::new(|| Finder::new(REQUIRED[0]));

/// Whether a record names the columns that every table has.
pub(super) fn is_head(line: &Line) -> bool {
    let has = |name: &&str| line.cells().any(|cell| cell.trim() == *name);
    FIRST_NAME.find(line.text.as_bytes()).is_some() && REQUIRED.iter().all(has)
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
pub(super) struct Lane {
    pub(super) room: Room,
    /// Texts of each fixed column.
    texts: Vec<Texts>,
    cells: SheetCells,
    /// What every row begins as.
    empty: StartRow,
    made: Made,
}

/// Where a share ended: `None` at its end, else the byte of the file from which on nothing was taken.
pub(super) type Ended = Option<u64>;

/// The rows of a file as far as it is read.
pub(super) struct Reading<'a> {
    about: About<'a>,
    wanted: Wanted<'a>,
    lanes: Vec<Lane>,
    /// What the lanes made last, in order; it joins the rest while they make more.
    made: Vec<Made>,
    all: Made,
}

/// Rows, and where each begins in the file.
#[derive(Default)]
struct Made {
    rows: Vec<StartRow>,
    places: Vec<u64>,
}

impl Made {
    /// Takes over what others hold, and leaves them empty.
    fn append(&mut self, others: &mut [Made], path: &Path) -> Result<()> {
        for Made { rows, places } in others {
            room::append(&mut self.rows, rows, path)?;
            self.places.append(places);
        }
        Ok(())
    }
}

/// What rows are made by.
pub(super) struct About<'a> {
    path: &'a Path,
    head: Head,
}

impl<'a> Reading<'a> {
    pub(super) fn new(path: &'a Path, separator: u8, wanted: Wanted<'a>) -> Reading<'a> {
        let head = Head {
            decimal_comma: separator == b';',
            ..Head::default()
        };
        Reading {
            about: About { path, head },
            wanted,
            lanes: Vec::new(),
            made: Vec::new(),
            all: Made::default(),
        }
    }

    /// Columns by position, names unguarded.
    pub(super) fn begin(&mut self, line: &Line) -> Result<()> {
        let names: Vec<String> = line.cells().map(|cell| unguard(cell.trim())).collect();
        let mut seen = HashSet::new();
        let mut given = names.iter().filter(|name| !name.is_empty());
        if let Some(name) = given.find(|name| !seen.insert(name.as_str())) {
            let problem = format!("column \"{}\" stands there twice", name.escape_debug());
            return Err(self.about.wrong(ErrorKind::StartsTable, line.at, problem));
        }
        let mut head = Head {
            decimal_comma: self.about.head.decimal_comma,
            ..Head::default()
        };
        for (place, name) in names.iter().enumerate() {
            match Column::named(name) {
                column if !self.wanted.takes(&column) => {}
                Column::Sheet(heading) => {
                    head.sheet.push(place);
                    head.headings.push(heading);
                }
                Column::Fixed(column) => head.fixed.push((place, column)),
            }
        }
        head.names = names;
        let lane = || Lane {
            room: Room::default(),
            texts: head.fixed.iter().map(|_| Texts::default()).collect(),
            cells: SheetCells::new(head.headings.clone()),
            empty: empty_row(),
            made: Made::default(),
        };
        self.lanes = (0..Reading::lanes()).map(|_| lane()).collect();
        self.about.head = head;
        Ok(())
    }

    /// Shares that are taken side by side.
    pub(super) fn lanes() -> usize {
        LANES * parallel::threads()
    }

    /// Makes rows of shares of the text, on all cores; says where the first ended that did not come to its end.
    pub(super) fn take<T: Sync>(
        &mut self,
        shares: &[T],
        make: impl Fn(&mut Lane, &About, &T) -> Result<Ended> + Sync,
    ) -> Result<Ended> {
        let about = &self.about;
        let lanes = &mut self.lanes;
        let make = || {
            let mut shares: Vec<(&T, &mut Lane)> = shares.iter().zip(&mut *lanes).collect();
            parallel::each_mut(&mut shares, |(share, lane)| make(lane, about, share))
        };
        let (done, joined) = parallel::both(make, || self.all.append(&mut self.made, about.path));
        joined?;
        self.made.resize_with(lanes.len(), Made::default);
        let mut ended = None;
        for ((lane, made), done) in lanes.iter_mut().zip(&mut self.made).zip(done) {
            if ended.is_some() {
                lane.made = Made::default();
                continue;
            }
            ended = done?;
            std::mem::swap(&mut lane.made, made);
        }
        Ok(ended)
    }

    /// All rows, and where each begins in the file.
    pub(super) fn finish(mut self) -> Result<(Vec<StartRow>, Vec<u64>)> {
        self.all.append(&mut self.made, self.about.path)?;
        Ok((self.all.rows, self.all.places))
    }
}

impl Lane {
    /// Makes a row of a record that is not blank.
    pub(super) fn add(&mut self, about: &About, line: &Line) -> Result<()> {
        if line.cells().any(|cell| !cell.trim().is_empty()) {
            let row = self.row(about, line)?;
            self.made.rows.push(row);
            self.made.places.push(line.at);
        }
        Ok(())
    }

    fn row(&mut self, about: &About, line: &Line) -> Result<StartRow> {
        let head = &about.head;
        let (found, expected) = (line.len(), head.names.len());
        if found != expected {
            let problem = format!("{found} cells found, {expected} expected as in the head line");
            return Err(about.wrong(ErrorKind::StartsTable, line.at, problem));
        }
        let mut draft = Draft::like(&self.empty);
        for ((place, column), texts) in head.fixed.iter().zip(&mut self.texts) {
            let cell = line.cell(*place);
            if cell.is_empty() && !column.is_required() {
                continue;
            }
            let done = match line.is_plain || !cell.contains(['\'', ',']) {
                true => draft.put(*column, TableCell::text(cell), texts),
                false => {
                    let cell = plain(cell, head.decimal_comma);
                    draft.put(*column, TableCell::text(&cell), texts)
                }
            };
            done.map_err(|problem| {
                let name = head.names[*place].escape_debug();
                let problem = format!("column \"{name}\" {problem}");
                about.wrong(ErrorKind::StartsValue, line.at, problem)
            })?;
        }
        let sheet = head.sheet.iter().map(|place| line.cell(*place));
        draft.row.sheet = self.cells.shared(sheet, unguard);
        let row = draft.finish();
        row.map_err(|problem| about.wrong(ErrorKind::StartsValue, line.at, problem))
    }
}

impl About<'_> {
    fn wrong(&self, kind: ErrorKind, at: u64, problem: String) -> Error {
        let line = line_at(self.path, at);
        Error::new(kind, Place::file(self.path).line(line), problem)
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

/// The line of a record that begins at a byte; the reader stands before the line ends that it has yet to pass over, LF of
/// CR LF included.
pub(in crate::measuring::table) fn line_at(path: &Path, at: u64) -> u64 {
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
