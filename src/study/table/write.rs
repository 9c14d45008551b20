//! Rows become CSV or JSON Lines.

use std::collections::BTreeSet;
use std::io::{self, Write};

use serde::Serialize;
use serde::ser::{SerializeMap, Serializer};

use super::cell::{Cell, take};
use super::guard::guard;
use super::{columns, sheet_column};
use crate::prep::StartRow;

/// Writes the starts table as CSV (RFC 4180, UTF-8, line ends CR LF), safe to open in a spreadsheet.
///
/// # Errors
/// What writing gives.
pub fn write_csv(rows: &[StartRow], to: impl Write) -> io::Result<()> {
    let fixed = columns();
    let keys: BTreeSet<&String> = rows.iter().flat_map(|row| row.sheet.keys()).collect();
    let mut csv = csv::WriterBuilder::new()
        .terminator(csv::Terminator::CRLF)
        .from_writer(to);
    let names = fixed.iter().map(|name| (*name).to_owned());
    let extra = keys.iter().map(|key| guard(&sheet_column(key)));
    csv.write_record(names.chain(extra)).map_err(as_io)?;
    for row in rows {
        let cells = fixed.iter().map(|column| csv_text(take(row, column)));
        let sheet = keys.iter().map(|key| {
            row.sheet
                .get(*key)
                .map_or(Cell::Empty, |text| Cell::of_sheet(text))
        });
        csv.write_record(cells.chain(sheet.map(csv_text)))
            .map_err(as_io)?;
    }
    csv.flush()
}

/// What the system refused, its kind kept: a reader that goes away is told by it.
fn as_io(error: csv::Error) -> io::Error {
    match error.into_kind() {
        csv::ErrorKind::Io(refused) => refused,
        other => io::Error::other(format!("{other:?}")),
    }
}

fn csv_text(cell: Cell) -> String {
    match cell {
        Cell::Empty => String::new(),
        Cell::Real(number) => number.to_string(),
        Cell::Count(number) => number.to_string(),
        Cell::Bool(yes) => yes.to_string(),
        Cell::Text(text) => guard(&text),
        Cell::List(names) => names.join(" "),
    }
}

/// Writes the starts table as JSON Lines (UTF-8, one object a line).
///
/// # Errors
/// What writing gives.
pub fn write_jsonl(rows: &[StartRow], mut to: impl Write) -> io::Result<()> {
    for row in rows {
        serde_json::to_writer(&mut to, &Line(row))?;
        to.write_all(b"\n")?;
    }
    to.flush()
}

/// A row as an object with its keys in the order of the table.
struct Line<'a>(&'a StartRow);

impl Serialize for Line<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        for column in columns() {
            map.serialize_entry(column, &take(self.0, column))?;
        }
        for (key, text) in &self.0.sheet {
            map.serialize_entry(&sheet_column(key), &Cell::of_sheet(text))?;
        }
        map.end()
    }
}

impl Serialize for Cell {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self {
            Cell::Empty => serializer.serialize_none(),
            Cell::Real(number) => serializer.serialize_f64(*number),
            Cell::Count(number) => serializer.serialize_u64(*number),
            Cell::Bool(yes) => serializer.serialize_bool(*yes),
            Cell::Text(text) => serializer.serialize_str(text),
            Cell::List(names) => names.serialize(serializer),
        }
    }
}
