//! The starts table, written and read: CSV that a spreadsheet may open, and JSON Lines; one start a row.
//!
//! The columns stand in one fixed order (see [`columns`]), then the other columns of the run sheet, sorted.
//! What is not measurable is empty in CSV and `null` in JSON. Numbers carry all their digits, so a table
//! written and read again gives the same rows. An empty sheet cell is the same as none.
//! A sheet column that bears the name of a fixed column is written with `sheet_` before its name.

mod cell;
mod read;
mod write;

use crate::measure::Measure;
pub use read::{is_table, read};
pub use write::{CSV, JSON_LINES, write_csv, write_jsonl};

/// Columns before the measures.
const FIRST: [&str; 16] = [
    "recording",
    "run",
    "prep",
    "tip_id",
    "coupon",
    "cell",
    "shift",
    "date",
    "start",
    "exclude",
    "lit",
    "t_open_s",
    "t_first_s",
    "t_lit_s",
    "t_settled_s",
    "t_out_s",
];

/// The last measure before flags, score and verdict; the uncertainties stand after them.
const LAST_MEASURE: &str = "since_regrind";

/// What a table must have; every other column may be missing.
const REQUIRED: [&str; 4] = ["recording", "run", "prep", "start"];

/// Put before the name of a sheet column that is also a fixed column.
const SHEET_PREFIX: &str = "sheet_";

/// The fixed columns, in the order they are written.
pub fn columns() -> Vec<&'static str> {
    let names: Vec<_> = Measure::ALL.iter().map(|m| m.name()).collect();
    let split = 1 + names
        .iter()
        .position(|name| *name == LAST_MEASURE)
        .expect("the list of measures has the measure that the table splits at");
    let mut columns = FIRST.to_vec();
    columns.extend(&names[..split]);
    columns.extend(["flags", "doubt", "score", "verdict"]);
    columns.extend(&names[split..]);
    columns
}

/// The name a sheet column is written under.
fn sheet_column(key: &str) -> String {
    let bare = key.trim_start_matches(SHEET_PREFIX);
    if columns().contains(&bare) {
        format!("{SHEET_PREFIX}{key}")
    } else {
        key.to_owned()
    }
}

/// The sheet column that a written name means; `None` where it is a fixed column.
fn sheet_key(column: &str) -> Option<&str> {
    let bare = column.trim_start_matches(SHEET_PREFIX);
    match columns().contains(&bare) {
        true => column.strip_prefix(SHEET_PREFIX),
        false => Some(column),
    }
}

#[cfg(test)]
mod tests;
