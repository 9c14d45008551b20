//! One cell of the starts table, whatever the file kind: taken from a row, put into a row.

use std::sync::Arc;

use crate::flag::Flag;
use crate::measure::{Kind, Measure};
use crate::score::{StartRow, Verdict};
use crate::start::Instants;

/// The content of one cell.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum TableCell {
    /// Not measurable, not given.
    Empty,
    /// A real number.
    Real(f64),
    /// A whole number.
    Count(u64),
    /// Yes or no.
    Bool(bool),
    /// Words; in CSV every cell is read as this.
    Text(String),
    /// Several names.
    List(Vec<String>),
}

impl TableCell {
    fn real(value: Option<f64>) -> TableCell {
        value.map_or(TableCell::Empty, TableCell::Real)
    }

    fn words(text: &Option<String>) -> TableCell {
        text.clone().map_or(TableCell::Empty, TableCell::Text)
    }

    fn count(value: f64) -> TableCell {
        match value >= 0.0 && value.fract() == 0.0 && value < 9e15 {
            true => TableCell::Count(value as u64),
            false => TableCell::Real(value),
        }
    }

    /// A sheet's text: as a number where nothing of its writing is lost by that.
    pub(super) fn of_sheet(text: &str) -> TableCell {
        match text.parse::<f64>() {
            Ok(number) if number.is_finite() && number.to_string() == text => {
                match text.parse::<u64>() {
                    Ok(whole) if whole < 9_000_000_000_000_000 => TableCell::Count(whole),
                    _ => TableCell::Real(number),
                }
            }
            _ if text.is_empty() => TableCell::Empty,
            _ => TableCell::Text(text.to_owned()),
        }
    }
}

/// The cell of a fixed column.
pub(super) fn take(row: &StartRow, column: &str) -> TableCell {
    let Instants {
        t_open_s,
        t_first_s,
        t_lit_s,
        t_settled_s,
        t_out_s,
    } = row.instants;
    match column {
        "recording" => TableCell::Text(row.recording.clone()),
        "run" => TableCell::Count(row.run.into()),
        "prep" => TableCell::Text(row.prep.clone()),
        "tip_id" => TableCell::words(&row.tip_id),
        "coupon" => TableCell::words(&row.coupon),
        "cell" => TableCell::words(&row.cell),
        "shift" => TableCell::words(&row.shift),
        "date" => TableCell::words(&row.date),
        "start" => TableCell::Count(row.start.into()),
        "exclude" => TableCell::words(&row.exclude),
        "lit" => TableCell::Bool(row.lit()),
        "t_open_s" => TableCell::real(t_open_s),
        "t_first_s" => TableCell::real(t_first_s),
        "t_lit_s" => TableCell::real(t_lit_s),
        "t_settled_s" => TableCell::real(t_settled_s),
        "t_out_s" => TableCell::real(t_out_s),
        "flags" => TableCell::List(
            row.flags
                .iter()
                .map(|flag| flag.name().to_owned())
                .collect(),
        ),
        "doubt" => row.doubt.clone().map_or(TableCell::Empty, TableCell::Text),
        "score" => TableCell::real(row.score),
        "verdict" => row
            .verdict
            .map_or(TableCell::Empty, |v| TableCell::Text(v.word().to_owned())),
        name => {
            let measure = measure(name);
            match (row.measures.get(measure), measure.kind()) {
                (Some(value), Kind::Count) => TableCell::count(value),
                (value, _) => TableCell::real(value),
            }
        }
    }
}

fn measure(name: &str) -> Measure {
    Measure::named(name).expect("a fixed column that is no other is a measure")
}

/// A row being read, and what its `lit` cell said.
#[derive(Debug)]
pub(super) struct Draft {
    pub(super) row: StartRow,
    lit: Option<bool>,
}

impl Draft {
    pub(super) fn new() -> Draft {
        let row = StartRow::default();
        Draft { row, lit: None }
    }

    /// Puts a cell into its fixed column, or says what is wrong with it.
    pub(super) fn put(&mut self, column: &str, cell: TableCell) -> Result<(), String> {
        let Draft { row, lit } = self;
        let instants = &mut row.instants;
        match column {
            "recording" => row.recording = text(cell)?.ok_or("is empty")?,
            "run" => row.run = number_of(cell)?,
            "prep" => row.prep = text(cell)?.ok_or("is empty")?,
            "tip_id" => row.tip_id = text(cell)?,
            "coupon" => row.coupon = text(cell)?,
            "cell" => row.cell = text(cell)?,
            "shift" => row.shift = text(cell)?,
            "date" => row.date = text(cell)?,
            "start" => row.start = number_of(cell)?,
            "exclude" => row.exclude = text(cell)?,
            "lit" => *lit = yes_or_no(cell)?,
            "t_open_s" => instants.t_open_s = real(cell)?,
            "t_first_s" => instants.t_first_s = real(cell)?,
            "t_lit_s" => instants.t_lit_s = real(cell)?,
            "t_settled_s" => instants.t_settled_s = real(cell)?,
            "t_out_s" => instants.t_out_s = real(cell)?,
            "flags" => row.flags = flags(cell)?,
            "doubt" => row.doubt = text(cell)?,
            "score" => row.score = score(cell)?,
            "verdict" => row.verdict = text(cell)?.map(|word| verdict(&word)).transpose()?,
            name => {
                let measure = measure(name);
                row.measures.set(measure, possible(measure, real(cell)?)?);
            }
        }
        Ok(())
    }

    /// Puts a cell into a column of the sheet.
    pub(super) fn put_sheet(&mut self, key: &str, cell: TableCell) -> Result<(), String> {
        if let Some(text) = text(cell)? {
            Arc::make_mut(&mut self.row.sheet).insert(key.to_owned(), text);
        }
        Ok(())
    }

    /// The row, where its cells go together; else what does not.
    pub(super) fn finish(self) -> Result<StartRow, String> {
        in_order(&self.row.instants)?;
        match self.lit {
            Some(lit) if lit != self.row.lit() => Err(format!(
                "column \"lit\" says {lit} but \"t_lit_s\" is {}",
                if lit { "empty" } else { "given" }
            )),
            _ => Ok(self.row),
        }
    }
}

/// The instants of a start follow each other.
fn in_order(instants: &Instants) -> Result<(), String> {
    let all = [
        ("t_open_s", instants.t_open_s),
        ("t_first_s", instants.t_first_s),
        ("t_lit_s", instants.t_lit_s),
        ("t_settled_s", instants.t_settled_s),
        ("t_out_s", instants.t_out_s),
    ];
    let known: Vec<_> = all
        .into_iter()
        .filter_map(|(name, t)| Some((name, t?)))
        .collect();
    match known.windows(2).find(|pair| pair[0].1 > pair[1].1) {
        Some([(first, t), (next, later)]) => Err(format!(
            "column \"{next}\" is {later}, before \"{first}\" with {t}"
        )),
        _ => Ok(()),
    }
}

/// Measures that may be under 0; of the others that would be no value.
const SIGNED: [Measure; 3] = [Measure::OvershootPct, Measure::DriftV, Measure::DcOffsetA];

/// A value that its measure can have.
fn possible(measure: Measure, value: Option<f64>) -> Result<Option<f64>, String> {
    let Some(number) = value else {
        return Ok(None);
    };
    let expected = match measure {
        _ if measure.kind() == Kind::Count && !(number >= 0.0 && number.fract() == 0.0) => {
            "a whole number from 0"
        }
        Measure::EnSharePct if !(0.0..=100.0).contains(&number) => "0 to 100",
        _ if number < 0.0 && !SIGNED.contains(&measure) => "0 or more",
        _ => return Ok(value),
    };
    Err(format!("is {number}, expected {expected}"))
}

fn text(cell: TableCell) -> Result<Option<String>, String> {
    Ok(match cell {
        TableCell::Empty => None,
        TableCell::Text(text) => Some(text).filter(|text| !text.is_empty()),
        TableCell::Real(number) => Some(number.to_string()),
        TableCell::Count(number) => Some(number.to_string()),
        TableCell::Bool(yes) => Some(yes.to_string()),
        TableCell::List(_) => return Err("is a list, expected text or a number".to_owned()),
    })
}

fn real(cell: TableCell) -> Result<Option<f64>, String> {
    let value = match cell {
        TableCell::Empty => return Ok(None),
        TableCell::Real(number) => number,
        TableCell::Count(number) => number as f64,
        other => {
            let Some(text) = text(other)? else {
                return Ok(None);
            };
            let number = text.trim().parse().ok();
            number.ok_or_else(|| format!("is \"{}\", expected a number", text.escape_debug()))?
        }
    };
    match value.is_finite() {
        true => Ok(Some(value)),
        false => Err(format!("is {value}, expected a number or nothing")),
    }
}

fn number_of(cell: TableCell) -> Result<u32, String> {
    let value = real(cell)?.ok_or("is empty")?;
    match value.fract() == 0.0 && (1.0..=f64::from(u32::MAX)).contains(&value) {
        true => Ok(value as u32),
        false => Err(format!("is {value}, expected a whole number from 1")),
    }
}

fn score(cell: TableCell) -> Result<Option<f64>, String> {
    match real(cell)? {
        Some(score) if !(0.0..=100.0).contains(&score) => {
            Err(format!("is {score}, expected 0 to 100"))
        }
        score => Ok(score),
    }
}

fn yes_or_no(cell: TableCell) -> Result<Option<bool>, String> {
    if let TableCell::Bool(yes) = cell {
        return Ok(Some(yes));
    }
    let Some(text) = text(cell)? else {
        return Ok(None);
    };
    match text.trim().to_ascii_lowercase().as_str() {
        "true" => Ok(Some(true)),
        "false" => Ok(Some(false)),
        _ => Err(format!(
            "is \"{}\", expected true or false",
            text.escape_debug()
        )),
    }
}

fn verdict(word: &str) -> Result<Verdict, String> {
    Verdict::ALL
        .into_iter()
        .find(|verdict| verdict.word() == word)
        .ok_or_else(|| {
            let words = Verdict::ALL.map(Verdict::word).join(", ");
            format!("is \"{}\", expected one of {words}", word.escape_debug())
        })
}

fn flags(cell: TableCell) -> Result<Vec<Flag>, String> {
    let names = match cell {
        TableCell::List(names) => names,
        other => {
            let text = text(other)?.unwrap_or_default();
            text.split_whitespace().map(str::to_owned).collect()
        }
    };
    let mut flags = names
        .iter()
        .map(|name| flag(name))
        .collect::<Result<Vec<_>, _>>()?;
    flags.sort();
    flags.dedup();
    Ok(flags)
}

fn flag(name: &str) -> Result<Flag, String> {
    let found = Flag::ALL.iter().copied().find(|flag| flag.name() == name);
    found.ok_or_else(|| {
        let likeness = |flag: &&Flag| (1e6 * strsim::jaro_winkler(flag.name(), name)) as u32;
        let nearest = Flag::ALL
            .iter()
            .max_by_key(likeness)
            .expect("there are flags")
            .name();
        format!(
            "has no flag \"{}\", the nearest is \"{nearest}\"",
            name.escape_debug()
        )
    })
}
