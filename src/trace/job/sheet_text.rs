//! A run sheet as it is written: every cell as text, the separator and line ends of its file kept, and the one way in which
//! cells are written, harmless to a spreadsheet.

use std::path::Path;

use crate::bytes::Bytes;
use crate::error::{Error, ErrorKind, Result};
use crate::guard::{guard, unguard};
use crate::job::cells;
use crate::job::length::number;

/// A run sheet as text, cell by cell.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SheetText {
    /// What stands before the header: the mark by which spreadsheets name the separator.
    before: Vec<Vec<String>>,
    columns: Vec<String>,
    rows: Vec<Vec<String>>,
    delimiter: u8,
    crlf: bool,
    /// A byte-order mark tells spreadsheets that the text is UTF-8.
    marked: bool,
}

impl SheetText {
    /// A sheet without rows.
    pub fn new(columns: &[&str]) -> SheetText {
        SheetText {
            before: Vec::new(),
            columns: columns.iter().map(|&name| name.to_owned()).collect(),
            rows: Vec::new(),
            delimiter: b',',
            crlf: false,
            marked: false,
        }
    }

    /// Reads a sheet in any usual encoding; it is written as UTF-8.
    ///
    /// # Errors
    /// A file that cannot be read, or that is no sheet.
    pub fn read(path: &Path) -> Result<SheetText> {
        let bytes = Bytes::file(path)?.whole(cells::MOST_BYTES)?;
        let text = cells::decode(&bytes);
        let mut sheet = SheetText::parse(&text, &path.display().to_string())?;
        sheet.marked = bytes != text.as_bytes();
        Ok(sheet)
    }

    /// Takes a sheet apart; `at` is its name in messages.
    ///
    /// # Errors
    /// Text that is no sheet.
    pub fn parse(text: &str, at: &str) -> Result<SheetText> {
        let delimiter = cells::delimiter(text);
        let mut reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .delimiter(delimiter)
            .from_reader(text.as_bytes());
        let mut sheet = SheetText::new(&[]);
        for record in reader.records() {
            let record = record.map_err(|e| Error::new(ErrorKind::SheetForm, at, e.to_string()))?;
            let cells: Vec<String> = record.iter().map(unguard).collect();
            match (cells::is_row(&cells), sheet.columns.is_empty()) {
                (false, true) => sheet.before.push(cells),
                (false, false) => {}
                (true, true) => sheet.columns = cells,
                (true, false) => sheet.rows.push(cells),
            }
        }
        let width = sheet.columns.len();
        for row in &mut sheet.rows {
            row.resize(row.len().max(width), String::new());
        }
        sheet.delimiter = delimiter;
        sheet.crlf = text.contains("\r\n");
        Ok(sheet)
    }

    /// Number of rows that are runs.
    pub fn len(&self) -> usize {
        self.rows.len()
    }

    /// Whether there is no run.
    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// The cell of a row in a column; empty where the sheet has no such column.
    pub fn cell(&self, row: usize, column: &str) -> &str {
        self.place(column).map_or("", |k| self.rows[row][k].trim())
    }

    /// The cell as a whole number.
    pub fn count(&self, row: usize, column: &str) -> Option<u32> {
        self.cell(row, column).parse().ok()
    }

    /// Writes a cell; a column that the sheet lacks is added at its end, unless there is nothing to write.
    pub fn set(&mut self, row: usize, column: &str, value: impl Into<String>) {
        let value = value.into();
        let place = match self.place(column) {
            Some(place) => place,
            None if value.is_empty() => return,
            None => {
                self.add_column(column);
                self.columns.len() - 1
            }
        };
        self.rows[row][place] = value;
    }

    /// Adds a column at the end, unless there is one of this name.
    pub fn add_column(&mut self, column: &str) {
        if self.place(column).is_some() {
            return;
        }
        // Cells beyond the header have no name, and must not get this one.
        let width = self.rows.iter().map(Vec::len).max().unwrap_or(0);
        self.columns
            .resize(width.max(self.columns.len()), String::new());
        self.columns.push(column.to_owned());
        for row in &mut self.rows {
            row.resize(self.columns.len(), String::new());
        }
    }

    /// Adds a row at the end, by its cells' columns.
    pub fn push(&mut self, cells: &[(&str, &str)]) {
        self.rows.push(vec![String::new(); self.columns.len()]);
        for (column, value) in cells {
            self.set(self.rows.len() - 1, column, *value);
        }
    }

    /// Puts a copy of a row behind another.
    pub fn copy(&mut self, row: usize, behind: usize) {
        let copy = self.rows[row].clone();
        self.rows.insert(behind + 1, copy);
    }

    /// Puts these rows in the place of one, each a copy of it with other cells.
    pub fn part(&mut self, row: usize, parts: &[Vec<(&str, String)>]) {
        for _ in 1..parts.len() {
            self.copy(row, row);
        }
        for (k, cells) in parts.iter().enumerate() {
            for (column, value) in cells {
                self.set(row + k, column, value.as_str());
            }
        }
    }

    /// The text of the file.
    pub fn written(&self) -> String {
        let end = match self.crlf {
            true => csv::Terminator::CRLF,
            false => csv::Terminator::Any(b'\n'),
        };
        let mut writer = csv::WriterBuilder::new()
            .delimiter(self.delimiter)
            .flexible(true)
            .terminator(end)
            .from_writer(Vec::new());
        let never = "writing to memory does not fail";
        for record in self.before.iter().chain([&self.columns]).chain(&self.rows) {
            writer
                .write_record(record.iter().map(|cell| harmless(cell)))
                .expect(never);
        }
        let bytes = writer.into_inner().expect(never);
        let text = String::from_utf8(bytes).expect("the cells were text");
        match self.marked {
            true => format!("\u{feff}{text}"),
            false => text,
        }
    }

    fn place(&self, column: &str) -> Option<usize> {
        self.columns
            .iter()
            .position(|name| cells::column(name.trim()) == column)
    }
}

/// A cell that no spreadsheet runs as a formula; a negative number is none.
fn harmless(cell: &str) -> String {
    match number(cell.trim()) {
        Some(_) => cell.to_owned(),
        None => guard(cell),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_spreadsheet_would_run_is_written_harmless_and_read_as_it_was() {
        let mut sheet = SheetText::new(&["file", "prep", "offset_mm"]);
        sheet.push(&[("file", "a.wav"), ("prep", "=A1+1"), ("offset_mm", "-0.5")]);
        sheet.push(&[("file", "b.wav"), ("prep", "@B"), ("note", "-x")]);
        let text = sheet.written();
        assert_eq!(
            text,
            "file,prep,offset_mm,note\na.wav,'=A1+1,-0.5,\nb.wav,'@B,,'-x\n"
        );
        assert_eq!(SheetText::parse(&text, "runs.csv").unwrap(), sheet);
    }

    #[test]
    fn separator_line_ends_and_the_byte_order_mark_stay() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("runs.csv");
        let text = "\u{feff}sep=;\r\nFile;Prep;;\r\na.wav;A;;beyond\r\n";
        std::fs::write(&path, text).unwrap();
        let mut sheet = SheetText::read(&path).unwrap();
        assert_eq!((sheet.len(), sheet.cell(0, "prep")), (1, "A"));
        assert_eq!(sheet.written(), text);
        sheet.set(0, "starts", "3");
        assert!(sheet.written().ends_with("a.wav;A;;beyond;3\r\n"));
    }
}
