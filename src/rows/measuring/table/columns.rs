//! The columns of the starts table: their order, their types, and which of them are wanted.

use std::collections::BTreeSet;
use std::sync::LazyLock;

use crate::measure::Measure;

/// A fixed column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Fixed {
    Recording,
    Run,
    Prep,
    TipId,
    Coupon,
    Cell,
    Shift,
    Date,
    Start,
    Exclude,
    Lit,
    OpenS,
    FirstS,
    LitS,
    SettledS,
    OutS,
    Measure(Measure),
    Flags,
    Doubt,
    Score,
    Verdict,
}

/// Columns before the measures.
const FIRST: [(&str, Fixed); 16] = [
    ("recording", Fixed::Recording),
    ("run", Fixed::Run),
    ("prep", Fixed::Prep),
    ("tip_id", Fixed::TipId),
    ("coupon", Fixed::Coupon),
    ("cell", Fixed::Cell),
    ("shift", Fixed::Shift),
    ("date", Fixed::Date),
    ("start", Fixed::Start),
    ("exclude", Fixed::Exclude),
    ("lit", Fixed::Lit),
    ("t_open_s", Fixed::OpenS),
    ("t_first_s", Fixed::FirstS),
    ("t_lit_s", Fixed::LitS),
    ("t_settled_s", Fixed::SettledS),
    ("t_out_s", Fixed::OutS),
];

/// Columns behind the measures.
const THEN: [(&str, Fixed); 4] = [
    ("flags", Fixed::Flags),
    ("doubt", Fixed::Doubt),
    ("score", Fixed::Score),
    ("verdict", Fixed::Verdict),
];

/// The last measure before flags, score and verdict; the uncertainties stand after them.
const LAST_MEASURE: Measure = Measure::SinceRegrind;

/// What a table must have; every other column may be missing.
pub(super) const REQUIRED: [&str; 4] = ["recording", "run", "prep", "start"];

/// What the names of the folders of a partitioned table tell, and its files do not.
pub(super) const PARTED_BY: [&str; 2] = ["day", "cell"];

/// Put before the name of a sheet column that is also a fixed column.
const SHEET_PREFIX: &str = "sheet_";

/// The fixed columns with their names, in the order they are written.
pub(super) static FIXED: LazyLock<Vec<(&'static str, Fixed)>> = LazyLock::new(|| {
    let last = Measure::ALL.iter().position(|m| *m == LAST_MEASURE);
    let last = last.expect("the list of measures has the one that the table splits at");
    let (before, behind) = Measure::ALL.split_at(last + 1);
    let measure = |m: &Measure| (m.name(), Fixed::Measure(*m));
    let measures = before.iter().map(measure);
    let uncertainties = behind.iter().map(measure);
    FIRST
        .into_iter()
        .chain(measures)
        .chain(THEN)
        .chain(uncertainties)
        .collect()
});

/// The names of the fixed columns, in the order they are written.
pub fn columns() -> Vec<&'static str> {
    FIXED.iter().map(|(name, _)| *name).collect()
}

impl Fixed {
    /// Whether every row has it.
    pub(super) fn is_required(self) -> bool {
        use Fixed::{Prep, Recording, Run, Start};
        matches!(self, Recording | Run | Prep | Start)
    }

    fn name(self) -> &'static str {
        let own = FIXED.iter().find(|(_, column)| *column == self);
        own.expect("every fixed column has its name").0
    }

    fn named(name: &str) -> Option<Fixed> {
        let found = FIXED.iter().find(|(known, _)| *known == name);
        found.map(|(_, column)| *column)
    }
}

/// A column of a table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Column {
    Fixed(Fixed),
    /// Of the run sheet, by its heading there.
    Sheet(String),
}

impl Column {
    /// The column that a written name means.
    pub(super) fn named(name: &str) -> Column {
        let bare = name.trim_start_matches(SHEET_PREFIX);
        match (Fixed::named(bare), name.strip_prefix(SHEET_PREFIX)) {
            (Some(_), Some(key)) => Column::Sheet(key.to_owned()),
            (Some(fixed), None) => Column::Fixed(fixed),
            (None, _) => Column::Sheet(name.to_owned()),
        }
    }

    /// Whether every row has it.
    #[cfg(feature = "parquet")]
    pub(super) fn is_required(&self) -> bool {
        matches!(self, Column::Fixed(column) if column.is_required())
    }
}

/// The name a sheet column is written under.
pub(super) fn sheet_column(key: &str) -> String {
    match Fixed::named(key.trim_start_matches(SHEET_PREFIX)) {
        Some(_) => format!("{SHEET_PREFIX}{key}"),
        None => key.to_owned(),
    }
}

/// Which columns of a table are wanted.
#[derive(Debug, Clone, Copy, Default)]
pub enum Wanted<'a> {
    /// All of them.
    #[default]
    All,
    /// Of the measures these, and all other columns: they tell starts apart and group them.
    Measures(&'a BTreeSet<Measure>),
    /// These, by the names of fixed columns and the headings of the sheet. Starts are not told apart by them.
    Columns(&'a BTreeSet<String>),
}

impl Wanted<'_> {
    /// Whether a column is taken.
    pub(super) fn takes(self, column: &Column) -> bool {
        match (self, column) {
            (Wanted::Measures(some), Column::Fixed(Fixed::Measure(measure))) => {
                some.contains(measure)
            }
            (Wanted::Columns(some), Column::Fixed(fixed)) => some.contains(fixed.name()),
            (Wanted::Columns(some), Column::Sheet(heading)) => some.contains(heading),
            _ => true,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_required_columns_are_those_that_must_be_there() {
        let required = FIXED.iter().filter(|(_, column)| column.is_required());
        assert!(required.map(|(name, _)| *name).eq(REQUIRED));
    }
}
