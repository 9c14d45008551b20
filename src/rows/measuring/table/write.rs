//! Rows become CSV or JSON Lines.

use std::collections::BTreeSet;
use std::io::{self, Write};

use serde::Serialize;
use serde::ser::{SerializeMap, Serializer};

use crate::guard::guard;
use crate::measuring::table::cell::{TableCell, take};
use crate::measuring::table::columns::{FIXED, sheet_column};
use crate::measuring::table::read::{TableKind, kind_of};
use crate::output::Form;
use crate::score::{StartRow, headings};

/// The starts table as CSV.
pub const CSV: Form = Form {
    name: "a starts table",
    is_own: |head| matches!(kind_of(head), Some(TableKind::Csv(_))),
};

/// The starts table as JSON Lines.
pub const JSON_LINES: Form = Form {
    name: "a starts table of JSON Lines",
    is_own: |head| kind_of(head) == Some(TableKind::JsonLines),
};

/// Writes the starts table as CSV (RFC 4180, UTF-8, line ends CR LF), safe to open in a spreadsheet.
///
/// # Errors
/// What writing gives.
pub fn write_csv(rows: &[StartRow], to: impl Write) -> io::Result<()> {
    CsvTable::begin(headings(rows).collect(), to)?.add(rows)
}

/// A starts table as [`write_csv`] writes it, row by row.
pub struct CsvTable<W: Write> {
    csv: ::csv::Writer<W>,
    /// The columns of the sheet.
    headings: BTreeSet<String>,
}

impl<W: Write> CsvTable<W> {
    /// Writes the first line; the sheets of all rows to come have these columns at the most.
    ///
    /// # Errors
    /// What writing gives.
    pub fn begin(headings: BTreeSet<String>, to: W) -> io::Result<CsvTable<W>> {
        let mut csv = ::csv::WriterBuilder::new()
            .terminator(::csv::Terminator::CRLF)
            .from_writer(to);
        let names = FIXED.iter().map(|(name, _)| (*name).to_owned());
        let extra = headings.iter().map(|key| guard(&sheet_column(key)));
        csv.write_record(names.chain(extra)).map_err(as_io)?;
        Ok(CsvTable { csv, headings })
    }

    /// Writes rows, down to where they go.
    ///
    /// # Errors
    /// What writing gives.
    pub fn add(&mut self, rows: &[StartRow]) -> io::Result<()> {
        for row in rows {
            let cells = FIXED.iter().map(|(_, column)| csv_text(take(row, *column)));
            let sheet = self.headings.iter().map(|key| {
                row.sheet
                    .get(key)
                    .map_or(TableCell::Empty, |text| TableCell::of_sheet(text))
            });
            self.csv
                .write_record(cells.chain(sheet.map(csv_text)))
                .map_err(as_io)?;
        }
        self.csv.flush()
    }
}

/// What the system refused, its kind kept: a reader that goes away is told by it.
fn as_io(error: ::csv::Error) -> io::Error {
    match error.into_kind() {
        ::csv::ErrorKind::Io(refused) => refused,
        other => io::Error::other(format!("{other:?}")),
    }
}

fn csv_text(cell: TableCell) -> String {
    match cell {
        TableCell::Empty => String::new(),
        TableCell::Real(number) => number.to_string(),
        TableCell::Count(number) => number.to_string(),
        TableCell::Bool(yes) => yes.to_string(),
        TableCell::Text(text) => guard(&text),
        TableCell::List(names) => names.join(" "),
    }
}

/// Writes the starts table as JSON Lines (UTF-8, one object a line).
///
/// # Errors
/// What writing gives.
pub fn write_jsonl(rows: &[StartRow], mut to: impl Write) -> io::Result<()> {
    for row in rows {
        serde_json::to_writer(&mut to, &JsonLine(row))?;
        to.write_all(b"\n")?;
    }
    to.flush()
}

/// A row as an object with its keys in the order of the table.
struct JsonLine<'a>(&'a StartRow);

impl Serialize for JsonLine<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        for (name, column) in &*FIXED {
            map.serialize_entry(name, &take(self.0, *column))?;
        }
        for (key, text) in &*self.0.sheet {
            map.serialize_entry(&sheet_column(key), &TableCell::of_sheet(text))?;
        }
        map.end()
    }
}

impl Serialize for TableCell<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self {
            TableCell::Empty => serializer.serialize_none(),
            TableCell::Real(number) => serializer.serialize_f64(*number),
            TableCell::Count(number) => serializer.serialize_u64(*number),
            TableCell::Bool(yes) => serializer.serialize_bool(*yes),
            TableCell::Text(text) => serializer.serialize_str(text),
            TableCell::List(names) => names.serialize(serializer),
        }
    }
}
