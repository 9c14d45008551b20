//! Which starts were struck on one tip.

use std::collections::HashMap;

use crate::score::StartRow;

/// What tells one tip from another.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
enum TipKey<'a> {
    /// The sheet names it.
    Named(&'a str, &'a str),
    /// The number of the grinding that the counts since the regrind show of a prep in a cell and hand.
    Counted(Place<'a>, usize),
    /// Nothing is known: all of a prep.
    Unknown(&'a str),
}

/// Prep, cell and operator: tips used in turn by several hands are told apart.
type Place<'a> = (&'a str, Option<&'a str>, Option<&'a str>);

/// The tip of each start, numbered from 0 in the order met. A `tip_id` names it; else, of rows in the order struck, a
/// count since the regrind that does not rise begins a new one (per prep, cell and operator), and a start without a count
/// belongs to the tip before it; else all starts of a prep are one tip's.
pub(super) fn numbers(rows: &[&StartRow]) -> Vec<usize> {
    let mut known: HashMap<TipKey, usize> = HashMap::new();
    let mut counts: HashMap<Place, (usize, f64)> = HashMap::new();
    let mut last = None;
    rows.iter()
        .map(|row| {
            let key = key(row, &mut counts);
            // Starts on a tip follow each other.
            if let Some((_, number)) = last.filter(|(tip, _)| *tip == key) {
                return number;
            }
            let next = known.len();
            let number = *known.entry(key).or_insert(next);
            last = Some((key, number));
            number
        })
        .collect()
}

fn key<'a>(row: &'a StartRow, counts: &mut HashMap<Place<'a>, (usize, f64)>) -> TipKey<'a> {
    if let Some(id) = &row.tip_id {
        return TipKey::Named(&row.prep, id);
    }
    let operator = row.sheet.get("operator").map(String::as_str);
    let place = (&*row.prep, row.cell.as_deref(), operator);
    match (counts.get_mut(&place), row.measures.since_regrind()) {
        (None, None) => TipKey::Unknown(&row.prep),
        (None, Some(since)) => {
            counts.insert(place, (0, since));
            TipKey::Counted(place, 0)
        }
        (Some((tip, last)), since) => {
            *tip += usize::from(since.is_some_and(|since| since <= *last));
            *last = since.unwrap_or(*last);
            TipKey::Counted(place, *tip)
        }
    }
}

/// How many tips some starts were struck on.
pub(super) fn count(rows: &[&StartRow]) -> usize {
    numbers(rows).into_iter().max().map_or(0, |most| most + 1)
}

/// Starts in the order struck, tip by tip.
pub(super) fn split<'a>(rows: &[&'a StartRow]) -> Vec<Vec<&'a StartRow>> {
    let numbers = numbers(rows);
    let mut tips = vec![Vec::new(); numbers.iter().max().map_or(0, |most| most + 1)];
    for (&row, number) in rows.iter().zip(numbers) {
        tips[number].push(row);
    }
    tips
}
