//! Pieces that the sentences about a comparison share.

use crate::format::{counted, percent, trimmed};
use crate::study::{Comparison, Group, Pair};

/// "3 to 9 more tips"; `None` where that is unknown.
pub(crate) fn more(pair: &Pair) -> Option<String> {
    let range = pair.more_tips?;
    Some(match range.lo == range.hi {
        true => counted(range.hi, "more tip"),
        false => format!("{} to {} more tips", range.lo, range.hi),
    })
}

/// "Rough starts: A 2 of 40; B 0 of 12, which still allows up to 26.5 in 100 (95 % interval, more where tips differ)."
pub(super) fn rough_counts(groups: &[Group], level: f64) -> String {
    let each: Vec<String> = groups
        .iter()
        .map(|group| {
            if group.rough > 0 {
                return format!("{} {} of {}", group.id, group.rough, group.starts);
            }
            // The end of the interval that stands in the table, so that there is one bound and not two.
            format!(
                "{} 0 of {}, which still allows up to {} in 100 ({} interval, more where tips differ)",
                group.id,
                group.starts,
                trimmed(100.0 * group.rough_hi),
                percent(level)
            )
        })
        .collect();
    format!("Rough starts: {}.", each.join("; "))
}

pub(super) fn grinds(comparison: &Comparison) -> &'static str {
    match comparison.by.as_str() {
        "prep" => "grinds",
        _ => "groups",
    }
}

/// Rows of a run sheet, to stand behind a word: " (row 3)", " (rows 2–4, 7)"; nothing where there are none.
pub fn in_rows(rows: &[u64]) -> String {
    match rows {
        [] => String::new(),
        [row] => format!(" (row {row})"),
        rows => format!(" (rows {})", spans(rows)),
    }
}

/// Sorted numbers with runs drawn together: 2–4, 7.
fn spans(rows: &[u64]) -> String {
    let mut spans: Vec<(u64, u64)> = Vec::new();
    for row in rows {
        match spans.last_mut() {
            Some(span) if span.1 + 1 == *row => span.1 = *row,
            _ => spans.push((*row, *row)),
        }
    }
    let words: Vec<String> = spans
        .iter()
        .map(|(from, to)| match from == to {
            true => from.to_string(),
            false => format!("{from}–{to}"),
        })
        .collect();
    words.join(", ")
}
