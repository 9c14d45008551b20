//! Reads a sheet as spreadsheets save it into rows of trimmed cells.

use std::collections::HashSet;
use std::path::Path;

use crate::error::{Error, ErrorKind, Place, Result};
use crate::guard::unguard;

/// A row that is not blank, with its line.
pub(super) struct SheetRow {
    /// Line in the file where the row starts, from 1: the row number shown by a spreadsheet.
    pub line: u64,
    /// Trimmed cells, at least as many as the header has.
    pub cells: Vec<String>,
}

/// Maximum size of a run sheet, bytes.
pub(super) const MOST_BYTES: u64 = 64 << 20;

/// Maximum number of rows.
const MOST_ROWS: usize = 100_000;
/// Maximum number of columns.
const MOST_COLUMNS: usize = 1000;
/// Maximum length of a cell, bytes: a quote that is never closed makes one cell of all that follows.
const LONGEST_CELL: usize = 10_000;

/// Header and rows of a sheet.
pub(super) struct Cells {
    /// Column names in lower case, with underscores for blanks.
    pub header: Vec<String>,
    /// Rows that are not blank.
    pub rows: Vec<SheetRow>,
}

/// Reads a sheet with commas, semicolons or tabs, in any usual encoding, with or without a byte-order mark.
///
/// # Errors
/// Unreadable file, no header, or a repeated column name.
pub(super) fn read(path: &Path) -> Result<Cells> {
    let bytes = crate::bytes::Bytes::file(path)?.whole(MOST_BYTES)?;
    parse(&decode(&bytes), &path.display().to_string())
}

/// Decodes UTF-8 (or what the byte-order mark says); otherwise the western code page of older spreadsheets.
pub(super) fn decode(bytes: &[u8]) -> String {
    let (text, _, broken) = encoding_rs::UTF_8.decode(bytes);
    if broken {
        return encoding_rs::WINDOWS_1252.decode(bytes).0.into_owned();
    }
    text.into_owned()
}

/// Splits decoded text; `at` names the file.
pub(super) fn parse(text: &str, at: &str) -> Result<Cells> {
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(delimiter(text))
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let ends = line_ends(text);
    let mut rows = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|e| Error::new(ErrorKind::SheetForm, at, e.to_string()))?;
        // The reader counts line ends before a record as part of it.
        let offset = record.position().map_or(0, csv::Position::byte) as usize;
        let skipped = text[offset..].find(|c| c != '\r' && c != '\n').unwrap_or(0);
        let line = 1 + ends.partition_point(|end| *end < offset + skipped) as u64;
        check_size(&record, rows.len()).map_err(|(found, way_out)| {
            Error::new(ErrorKind::SheetForm, Place::from(at).row(line), found).hint(way_out)
        })?;
        let cells: Vec<String> = record.iter().map(|cell| unguard(cell.trim())).collect();
        if is_row(&cells) {
            rows.push(SheetRow { line, cells });
        }
    }
    if rows.is_empty() {
        return Err(Error::new(ErrorKind::SheetForm, at, "the sheet is empty")
            .hint("Its first row names the columns: file, prep, …"));
    }
    let header: Vec<String> = rows.remove(0).cells.iter().map(|c| column(c)).collect();
    check_header(&header, at)?;
    for row in &mut rows {
        row.cells
            .resize(row.cells.len().max(header.len()), String::new());
    }
    Ok(Cells { header, rows })
}

/// Whether a record is neither blank nor the mark by which spreadsheets name the separator.
pub(super) fn is_row(cells: &[String]) -> bool {
    let mark = cells[0].to_lowercase().starts_with("sep=");
    cells.iter().any(|cell| !cell.trim().is_empty()) && !mark
}

/// Checks a record against the size of any sheet a person keeps; returns the problem and the way out.
fn check_size(record: &csv::StringRecord, rows: usize) -> Result<(), (String, &'static str)> {
    if rows > MOST_ROWS {
        let found = format!("the sheet has more than {MOST_ROWS} rows");
        return Err((found, "Make several jobs of it"));
    }
    if record.len() > MOST_COLUMNS {
        let found = format!("it has {} cells, more than {MOST_COLUMNS}", record.len());
        return Err((found, "Check the separator and the quotes"));
    }
    match record.iter().map(str::len).max() {
        Some(longest) if longest > LONGEST_CELL => {
            let found = format!("a cell is {longest} bytes long, more than {LONGEST_CELL}");
            Err((found, "Check that every quote is closed"))
        }
        _ => Ok(()),
    }
}

/// Byte offsets of the line ends, to count lines by.
fn line_ends(text: &str) -> Vec<usize> {
    memchr::memchr_iter(b'\n', text.as_bytes()).collect()
}

/// Returns the most frequent delimiter of the header line, outside quotes.
pub(super) fn delimiter(text: &str) -> u8 {
    let blank = |line: &&str| {
        line.trim_matches([',', ';', '\t', ' ', '\u{feff}'])
            .is_empty()
    };
    let mut lines = text.lines().skip_while(blank);
    let first = lines.next().unwrap_or("");
    let header = match first.to_lowercase().starts_with("sep=") {
        true => lines.find(|line| !blank(line)).unwrap_or(""),
        false => first,
    };
    let mut quoted = false;
    let mut counts = [(b',', 0), (b';', 0), (b'\t', 0)];
    for byte in header.bytes() {
        quoted ^= byte == b'"';
        for (delimiter, count) in &mut counts {
            *count += usize::from(!quoted && byte == *delimiter);
        }
    }
    // The first one wins a tie: a sheet with one column is read with commas.
    let most = counts.iter().map(|c| c.1).max().unwrap_or(0);
    counts.iter().find(|c| c.1 == most).map_or(b',', |c| c.0)
}

pub(super) fn column(cell: &str) -> String {
    cell.to_lowercase()
        .split_whitespace()
        .collect::<Vec<_>>()
        .join("_")
}

fn check_header(header: &[String], at: &str) -> Result<()> {
    let mut seen = HashSet::new();
    for name in header {
        if !name.is_empty() && !seen.insert(name) {
            return Err(Error::new(
                ErrorKind::SheetForm,
                at,
                format!("two columns are named '{name}'"),
            )
            .hint("Rename one"));
        }
    }
    Ok(())
}
