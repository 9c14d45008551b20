//! The starts of each group, and what a measure says of them: for what is drawn.

use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet};

use crate::measure::Quantity;
use crate::score::StartRow;
use crate::study::groups::by_group;
use crate::study::screen::id_of;

/// The starts of each group by these columns, in their order; without a value in a single column a start is in none.
pub fn starts_by<'a>(
    rows: &'a [StartRow],
    by: &[String],
) -> BTreeMap<Cow<'a, str>, Vec<&'a StartRow>> {
    by_group(rows.iter(), |row| match by {
        [column] => row.group(column).map(Cow::Borrowed),
        columns => Some(id_of(row, columns)),
    })
}

/// The starts of each group by these columns and of each prep in it, in their order.
pub fn starts_by_prep<'a>(
    rows: &'a [StartRow],
    by: &[String],
) -> BTreeMap<(Cow<'a, str>, &'a str), Vec<&'a StartRow>> {
    by_group(rows.iter(), |row| Some((id_of(row, by), &*row.prep)))
}

/// What a measure says of the starts that have it.
pub fn measure_values(starts: &[&StartRow], measure: &str) -> Vec<f64> {
    let quantity = Quantity::named(measure);
    starts
        .iter()
        .filter_map(|row| row.value_of(&quantity))
        .collect()
}

/// The preps in the order of their names, so that each keeps its colour and mark.
pub fn prep_names(rows: &[StartRow]) -> Vec<&str> {
    let alike = rows.chunk_by(|a, b| a.prep == b.prep);
    let names: BTreeSet<&str> = alike.map(|rows| &*rows[0].prep).collect();
    names.into_iter().collect()
}

/// Places of the starts, in order: of all, or of this many of the worst.
pub fn worst_starts(rows: &[StartRow], most: usize) -> Vec<usize> {
    if rows.len() <= most {
        return (0..rows.len()).collect();
    }
    // What is compared, side by side.
    let all = rows.iter().enumerate();
    let mut all: Vec<_> = all
        .map(|(k, row)| (row.verdict, row.score.unwrap_or(0.0), k))
        .collect();
    all.select_nth_unstable_by(most, |a, b| {
        let worse = b.0.cmp(&a.0);
        worse.then(a.1.total_cmp(&b.1)).then(a.2.cmp(&b.2))
    });
    let mut places: Vec<usize> = all[..most].iter().map(|(_, _, k)| *k).collect();
    places.sort_unstable();
    places
}
