//! The starts that count, in their groups: each with its group, tip and coupon by number.

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::sync::Arc;

use crate::error::{Error, ErrorKind, Place, Result};
use crate::flag::Flag;
use crate::job::PREP_COLUMNS;
use crate::parallel;
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
    let numbers = tips::numbers(rows);
    let mut numbered = Vec::with_capacity(rows.len());
    let mut last = None;
    for own in by_recording(rows) {
        for at in own {
            let row = rows[at];
            let Some(group) = row.group(by) else {
                continue;
            };
            let coupon = row.coupon.as_deref().filter(|_| by != "coupon");
            let key = (group, numbers[at], coupon);
            // Starts on a tip follow each other.
            let known = last.filter(|(before, _)| *before == key);
            let (group, tip, coupon) = known.map_or_else(
                || {
                    let group = place[group];
                    let (next_tip, next_coupon) = (tips.len(), coupons.len());
                    let tip = *tips.entry((group, numbers[at])).or_insert(next_tip);
                    let coupon = *coupons.entry(coupon).or_insert(next_coupon);
                    (group, tip, coupon)
                },
                |(_, same)| same,
            );
            last = Some((key, (group, tip, coupon)));
            numbered.push(Judged {
                row,
                group,
                tip,
                coupon,
            });
        }
    }
    numbered
}

/// Places of the starts of each recording in their order, the recordings by name: sums come out the same to the last digit,
/// however the rows are ordered.
fn by_recording(rows: &[&StartRow]) -> Vec<Vec<usize>> {
    let mut recordings: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
    let mut from = 0;
    for run in rows.chunk_by(|a, b| a.recording == b.recording) {
        let places = recordings.entry(&run[0].recording).or_default();
        places.extend(from..from + run.len());
        from += run.len();
    }
    let order = |a: &usize, b: &usize| {
        let (a, b) = (rows[*a], rows[*b]);
        let place = |row: &StartRow| (row.run, row.start);
        let first = |row: &StartRow| row.instants.t_first_s.unwrap_or(0.0);
        first(a).total_cmp(&first(b)).then(place(a).cmp(&place(b)))
    };
    let mut recordings: Vec<Vec<usize>> = recordings.into_values().collect();
    parallel::each_mut(&mut recordings, |own| own.sort_by(order));
    recordings
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
    let groups = by_group(rows.iter().copied(), |row| row.group(by));
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

/// The rows of each group that `of` tells, in their order.
pub(super) fn by_group<'a, K: Ord + Clone>(
    rows: impl Iterator<Item = &'a StartRow>,
    of: impl Fn(&'a StartRow) -> Option<K>,
) -> BTreeMap<K, Vec<&'a StartRow>> {
    let mut groups: BTreeMap<K, Vec<&StartRow>> = BTreeMap::new();
    let mut placed = rows.filter_map(|row| Some((of(row)?, row))).peekable();
    while let Some((group, first)) = placed.next() {
        let known = groups.entry(group.clone()).or_default();
        known.push(first);
        // Starts of a group follow each other.
        let own = std::iter::from_fn(|| placed.next_if(|(next, _)| *next == group));
        known.extend(own.map(|(_, row)| row));
    }
    groups
}
