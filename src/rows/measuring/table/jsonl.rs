//! JSON Lines become rows, one line after the other.

use std::collections::{BTreeMap, HashSet};
use std::fmt;
use std::fs::File;
use std::io::{self, BufRead, BufReader};
use std::path::Path;
use std::sync::Arc;

use serde::de::{Deserialize, Deserializer, MapAccess, Visitor};

use crate::error::{Error, ErrorKind, Place, Result};
use crate::measuring::table::cell::{Draft, TableCell, text};
use crate::measuring::table::columns::{Column, REQUIRED};
use crate::measuring::table::csv::{not_utf8, too_long};
use crate::measuring::table::room;
use crate::measuring::table::room::Lines;
use crate::score::{Sheets, StartRow};
use crate::texts::Texts;

/// Reads the rows, and the line of each.
///
/// # Errors
/// File, line and column, what was found and what was expected.
pub(super) fn read(path: &Path) -> Result<(Vec<StartRow>, Vec<u64>)> {
    let refused = |e: io::Error| match e.kind() {
        io::ErrorKind::InvalidData => too_long(path),
        _ => Error::io(path, "read", e),
    };
    let mut file = BufReader::new(Lines::new(File::open(path).map_err(refused)?));
    let (mut rows, mut lines) = (Vec::new(), Vec::new());
    let (mut sheets, mut texts) = (Sheets::default(), Texts::default());
    let mut bytes = Vec::new();
    for number in 1.. {
        bytes.clear();
        if file.read_until(b'\n', &mut bytes).map_err(refused)? == 0 {
            break;
        }
        let line = std::str::from_utf8(&bytes).map_err(|_| not_utf8(path, number))?;
        let line = line.trim_start_matches('\u{feff}');
        if !line.trim().is_empty() {
            let mut row = json_row(path, number, line, &mut texts)?;
            sheets.share(&mut row);
            room::add(&mut rows, row, path)?;
            lines.push(number);
        }
    }
    Ok((rows, lines))
}

fn at(path: &Path, line: u64) -> Place {
    Place::file(path).line(line)
}

fn json_row(path: &Path, line: u64, object: &str, texts: &mut Texts) -> Result<StartRow> {
    let Pairs(object) = serde_json::from_str(object).map_err(|e| {
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
    let mut draft = Draft::like(&StartRow::default());
    let (mut seen, mut sheet) = (HashSet::new(), BTreeMap::new());
    for (key, value) in object {
        // As the head of a CSV table is read.
        let name = key.trim();
        if !seen.insert(name.to_owned()) {
            let problem = format!("column \"{}\" stands there twice", name.escape_debug());
            return Err(Error::new(ErrorKind::StartsTable, at(path, line), problem));
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
        let done = match Column::named(name) {
            Column::Fixed(column) => draft.put(column, cell, texts),
            Column::Sheet(key) => text(cell).map(|text| sheet.extend(text.map(|text| (key, text)))),
        };
        done.map_err(|problem| {
            let problem = format!("column \"{}\" {problem}", name.escape_debug());
            Error::new(ErrorKind::StartsValue, at(path, line), problem)
        })?;
    }
    draft.row.sheet = Arc::new(sheet);
    let row = draft.finish();
    row.map_err(|problem| Error::new(ErrorKind::StartsValue, at(path, line), problem))
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

fn json_cell(value: serde_json::Value) -> Option<TableCell<'static>> {
    use serde_json::Value;
    Some(match value {
        Value::Null => TableCell::Empty,
        Value::Bool(yes) => TableCell::Bool(yes),
        Value::Number(number) => match number.as_u64() {
            Some(whole) => TableCell::Count(whole),
            None => TableCell::Real(number.as_f64()?),
        },
        Value::String(text) => TableCell::Text(text.into()),
        Value::Array(names) => {
            let names = names
                .into_iter()
                .map(|name| name.as_str().map(|name| name.to_owned().into()));
            TableCell::List(names.collect::<Option<_>>()?)
        }
        Value::Object(_) => return None,
    })
}
