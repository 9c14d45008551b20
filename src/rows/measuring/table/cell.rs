//! One cell of the starts table, whatever the file kind: taken from a row, put into a row.

use std::borrow::Cow;
use std::sync::Arc;

use crate::flag::Flag;
use crate::measure::{Kind, Measure};
use crate::measuring::table::columns::Fixed;
use crate::score::{StartRow, Verdict};
use crate::start::Instants;
use crate::texts::Texts;

/// The content of one cell.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum TableCell<'a> {
    /// Not measurable, not given.
    Empty,
    /// A real number.
    Real(f64),
    /// A whole number.
    Count(u64),
    /// Yes or no.
    Bool(bool),
    /// Words; in CSV every cell is read as this.
    Text(Cow<'a, str>),
    /// Several names.
    List(Vec<Cow<'a, str>>),
}

impl<'a> TableCell<'a> {
    fn real(value: Option<f64>) -> TableCell<'a> {
        value.map_or(TableCell::Empty, TableCell::Real)
    }

    /// Text; empty text is none.
    pub(super) fn text(text: &'a str) -> TableCell<'a> {
        match text.is_empty() {
            true => TableCell::Empty,
            false => TableCell::Text(Cow::Borrowed(text)),
        }
    }

    fn words(text: &'a Option<Arc<str>>) -> TableCell<'a> {
        let text = text.as_deref();
        text.map_or(TableCell::Empty, |text| {
            TableCell::Text(Cow::Borrowed(text))
        })
    }

    fn count(value: f64) -> TableCell<'a> {
        match value >= 0.0 && value.fract() == 0.0 && value < 9e15 {
            true => TableCell::Count(value as u64),
            false => TableCell::Real(value),
        }
    }

    /// A sheet's text: as a number where nothing of its writing is lost by that.
    pub(super) fn of_sheet(text: &'a str) -> TableCell<'a> {
        match text.parse::<f64>() {
            Ok(number) if number.is_finite() && number.to_string() == text => {
                match text.parse::<u64>() {
                    Ok(whole) if whole < 9_000_000_000_000_000 => TableCell::Count(whole),
                    _ => TableCell::Real(number),
                }
            }
            _ => TableCell::text(text),
        }
    }
}

/// The cell of a fixed column.
pub(super) fn take(row: &StartRow, column: Fixed) -> TableCell<'_> {
    let words = |text| TableCell::Text(Cow::Borrowed(text));
    match column {
        Fixed::Recording => words(&row.recording),
        Fixed::Run => TableCell::Count(row.run.into()),
        Fixed::Prep => words(&row.prep),
        Fixed::TipId => TableCell::words(&row.tip_id),
        Fixed::Coupon => TableCell::words(&row.coupon),
        Fixed::Cell => TableCell::words(&row.cell),
        Fixed::Shift => TableCell::words(&row.shift),
        Fixed::Date => TableCell::words(&row.date),
        Fixed::Start => TableCell::Count(row.start.into()),
        Fixed::Exclude => TableCell::words(&row.exclude),
        Fixed::Lit => TableCell::Bool(row.lit()),
        Fixed::OpenS => TableCell::real(row.instants.t_open_s),
        Fixed::FirstS => TableCell::real(row.instants.t_first_s),
        Fixed::LitS => TableCell::real(row.instants.t_lit_s),
        Fixed::SettledS => TableCell::real(row.instants.t_settled_s),
        Fixed::OutS => TableCell::real(row.instants.t_out_s),
        Fixed::Flags => {
            let names = row.flags.iter().map(|flag| flag.name().into());
            TableCell::List(names.collect())
        }
        Fixed::Doubt => TableCell::words(&row.doubt),
        Fixed::Score => TableCell::real(row.score),
        Fixed::Verdict => {
            let word = row.verdict.map(Verdict::word);
            word.map_or(TableCell::Empty, words)
        }
        Fixed::Measure(measure) => match (row.measures.get(measure), measure.kind()) {
            (Some(value), Kind::Count) => TableCell::count(value),
            (value, _) => TableCell::real(value),
        },
    }
}

/// A row without values, whose empty texts are nobody else's: those of a default are counted together by all threads, which then
/// wait for each other at every row.
pub(super) fn empty_row() -> StartRow {
    let text: Arc<str> = "".into();
    StartRow {
        recording: text.clone(),
        prep: text,
        ..StartRow::default()
    }
}

/// A row being read, and what its `lit` cell said.
#[derive(Debug)]
pub(super) struct Draft {
    pub(super) row: StartRow,
    lit: Option<bool>,
}

impl Draft {
    /// Begins as a copy of an empty row.
    pub(super) fn like(empty: &StartRow) -> Draft {
        let row = empty.clone();
        Draft { row, lit: None }
    }

    /// Puts a cell into its fixed column, its text held among `texts`, or says what is wrong with it.
    pub(super) fn put(
        &mut self,
        column: Fixed,
        cell: TableCell,
        texts: &mut Texts,
    ) -> Result<(), String> {
        if matches!(cell, TableCell::Empty) && !column.is_required() {
            return Ok(());
        }
        let Draft { row, lit } = self;
        let mut text = |cell| Ok::<_, String>(words(cell)?.map(|text| texts.shared(&text)));
        let instants = &mut row.instants;
        match column {
            Fixed::Recording => row.recording = text(cell)?.ok_or("is empty")?,
            Fixed::Run => row.run = number_of(cell)?,
            Fixed::Prep => row.prep = text(cell)?.ok_or("is empty")?,
            Fixed::TipId => row.tip_id = text(cell)?,
            Fixed::Coupon => row.coupon = text(cell)?,
            Fixed::Cell => row.cell = text(cell)?,
            Fixed::Shift => row.shift = text(cell)?,
            Fixed::Date => row.date = text(cell)?,
            Fixed::Start => row.start = number_of(cell)?,
            Fixed::Exclude => row.exclude = text(cell)?,
            Fixed::Lit => *lit = yes_or_no(cell)?,
            Fixed::OpenS => instants.t_open_s = real(cell)?,
            Fixed::FirstS => instants.t_first_s = real(cell)?,
            Fixed::LitS => instants.t_lit_s = real(cell)?,
            Fixed::SettledS => instants.t_settled_s = real(cell)?,
            Fixed::OutS => instants.t_out_s = real(cell)?,
            Fixed::Flags => row.flags = flags(cell)?,
            Fixed::Doubt => row.doubt = text(cell)?,
            Fixed::Score => row.score = score(cell)?,
            Fixed::Verdict => row.verdict = words(cell)?.map(|word| verdict(&word)).transpose()?,
            Fixed::Measure(measure) => {
                let value = possible(measure, real(cell)?)?;
                row.measures.set(measure, value);
            }
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
    let mut before: Option<(&str, f64)> = None;
    for (next, later) in all.into_iter().filter_map(|(name, t)| Some((name, t?))) {
        if let Some((first, t)) = before.filter(|(_, t)| *t > later) {
            return Err(format!(
                "column \"{next}\" is {later}, before \"{first}\" with {t}"
            ));
        }
        before = Some((next, later));
    }
    Ok(())
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

pub(super) fn text(cell: TableCell) -> Result<Option<String>, String> {
    Ok(words(cell)?.map(Cow::into_owned))
}

pub(super) fn words(cell: TableCell) -> Result<Option<Cow<str>>, String> {
    Ok(match cell {
        TableCell::Empty => None,
        TableCell::Text(text) => Some(text).filter(|text| !text.is_empty()),
        TableCell::Real(number) => Some(number.to_string().into()),
        TableCell::Count(number) => Some(number.to_string().into()),
        TableCell::Bool(yes) => Some(yes.to_string().into()),
        TableCell::List(_) => return Err("is a list, expected text or a number".to_owned()),
    })
}

fn real(cell: TableCell) -> Result<Option<f64>, String> {
    // As nearly all cells are.
    if let TableCell::Text(Cow::Borrowed(text)) = cell
        && let Ok(value) = fast_float2::parse::<f64, _>(text)
        && value.is_finite()
    {
        return Ok(Some(value));
    }
    let value = match cell {
        TableCell::Empty => return Ok(None),
        TableCell::Real(number) => number,
        TableCell::Count(number) => number as f64,
        TableCell::Text(text) if text.is_empty() => return Ok(None),
        TableCell::Text(text) => number_in(&text)?,
        TableCell::Bool(_) | TableCell::List(_) => number_in(&text(cell)?.unwrap_or_default())?,
    };
    match value.is_finite() {
        true => Ok(Some(value)),
        false => Err(format!("is {value}, expected a number or nothing")),
    }
}

fn number_in(text: &str) -> Result<f64, String> {
    let plain = fast_float2::parse(text).ok();
    let number = plain.or_else(|| text.trim().parse().ok());
    number.ok_or_else(|| format!("is \"{}\", expected a number", text.escape_debug()))
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
    let Some(text) = words(cell)? else {
        return Ok(None);
    };
    match text.trim() {
        word if word.eq_ignore_ascii_case("true") => Ok(Some(true)),
        word if word.eq_ignore_ascii_case("false") => Ok(Some(false)),
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
    let mut flags = match cell {
        TableCell::Empty => return Ok(Vec::new()),
        TableCell::List(names) => names.iter().map(|name| flag(name)).collect(),
        other => {
            let text = words(other)?.unwrap_or_default();
            text.split_whitespace()
                .map(flag)
                .collect::<Result<Vec<_>, _>>()
        }
    }?;
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
