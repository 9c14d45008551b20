//! The starts that count, in their groups: each with its group, tip and coupon by number.

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::sync::Arc;

use rayon::prelude::*;

use crate::error::{Error, ErrorKind, Place, Result};
use crate::flag::Flag;
use crate::job::PREP_COLUMNS;
use crate::score::{StartRow, Verdict};
use crate::study::tips;

/// A start that counts, with its group, tip and coupon by number; a tip struck in two groups counts as one in each.
#[derive(Debug, Clone, Copy)]
pub(super) struct Judged<'a> {
    pub row: &'a StartRow,
    pub group: usize,
    pub tip: usize,
    pub coupon: usize,
}

/// Groups by name, each with its starts in the order given.
pub(super) type Groups<'a> = BTreeMap<&'a str, Vec<&'a StartRow>>;

/// Whether a start is part of a verdict: neither set aside nor doubtful.
pub(crate) fn counts(row: &StartRow) -> bool {
    row.exclude.is_none()
        && row.verdict != Some(Verdict::Doubtful)
        && !row.flags.contains(&Flag::Doubtful)
}

/// The starts that count and belong to a group, by numbers.
pub(super) fn judged<'a>(rows: &[&'a StartRow], groups: &Groups, by: &str) -> Vec<Judged<'a>> {
    let place: HashMap<&str, usize> = groups.keys().copied().zip(0..).collect();
    let mut tips: HashMap<(usize, usize), usize> = HashMap::new();
    let mut coupons: HashMap<Option<&str>, usize> = HashMap::new();
    let mut numbered: Vec<_> = rows
        .iter()
        .zip(tips::numbers(rows))
        .zip(by_name(rows))
        .collect();
    // Sums come out the same to the last digit, however the rows are ordered.
    numbered.par_sort_by(|((a, _), of_a), ((b, _), of_b)| {
        let place = |row: &StartRow| (row.run, row.start);
        let first = |row: &StartRow| row.instants.t_first_s.unwrap_or(0.0);
        let name = of_a.cmp(of_b);
        name.then(first(a).total_cmp(&first(b)))
            .then(place(a).cmp(&place(b)))
    });
    numbered
        .into_iter()
        .filter_map(|((&row, tip), _)| {
            let group = place[row.group(by)?];
            let (next_tip, next_coupon) = (tips.len(), coupons.len());
            let coupon = row.coupon.as_deref().filter(|_| by != "coupon");
            Some(Judged {
                row,
                group,
                tip: *tips.entry((group, tip)).or_insert(next_tip),
                coupon: *coupons.entry(coupon).or_insert(next_coupon),
            })
        })
        .collect()
}

/// The place of each start's recording among all recordings by name.
fn by_name(rows: &[&StartRow]) -> Vec<usize> {
    let runs = || rows.chunk_by(|a, b| a.recording == b.recording);
    let names: BTreeSet<&str> = runs().map(|run| &*run[0].recording).collect();
    let place: HashMap<&str, usize> = names.into_iter().zip(0..).collect();
    let places = runs().flat_map(|run| std::iter::repeat_n(place[&*run[0].recording], run.len()));
    places.collect()
}

/// # Errors
/// A prep name that means two preps, as in tables of two jobs.
pub(super) fn one_prep_a_name(rows: &[&StartRow], by: &str) -> Result<()> {
    if by != "prep" {
        return Ok(());
    }
    let mut first: HashMap<&str, &StartRow> = HashMap::new();
    let same = |a: &&StartRow, b: &&StartRow| a.prep == b.prep && Arc::ptr_eq(&a.sheet, &b.sheet);
    for row in rows.chunk_by(same).map(|alike| alike[0]) {
        let before = *first.entry(&row.prep).or_insert(row);
        if Arc::ptr_eq(&before.sheet, &row.sheet) {
            continue;
        }
        let unlike = PREP_COLUMNS.into_iter().find(|key| {
            let (one, other) = (before.sheet.get(*key), row.sheet.get(*key));
            one.is_some() && other.is_some() && one != other
        });
        if let Some(key) = unlike {
            let problem = format!(
                "means two preps: {key} is {} in {} and {} in {}",
                before.sheet[key], before.recording, row.sheet[key], row.recording
            );
            return Err(Error::new(
                ErrorKind::AmbiguousPrep,
                format!("prep {}", row.prep),
                problem,
            )
            .hint("Rename one of them, or group by what tells them apart, such as class"));
        }
    }
    Ok(())
}

pub(super) fn grouped<'a>(rows: &[&'a StartRow], by: &str) -> Result<Groups<'a>> {
    let mut groups = Groups::new();
    for &row in rows {
        if let Some(id) = row.group(by) {
            groups.entry(id).or_default().push(row);
        }
    }
    if groups.is_empty() {
        let known: BTreeSet<&str> = rows
            .iter()
            .flat_map(|r| r.sheet.keys().map(String::as_str))
            .chain(StartRow::GROUPS)
            .collect();
        let known: Vec<&str> = known.into_iter().collect();
        return Err(Error::new(
            ErrorKind::UnknownColumn,
            Place::parameter("by").value(by),
            format!("none of {} starts has it", rows.len()),
        )
        .hint(format!("They can be grouped by {}", known.join(", "))));
    }
    Ok(groups)
}
