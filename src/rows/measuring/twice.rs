//! Starts that stand among others twice.

use std::collections::HashSet;
use std::hash::{DefaultHasher, Hash, Hasher};

use rayon::prelude::*;

use crate::parallel;
use crate::score::StartRow;

/// Starts that are looked at together, side by side with others.
const PART: usize = 1 << 12;

/// Pairs of places of the same start: of one recording and with the same key, which has its run and number in it. It takes
/// two words a row, however long the names are.
pub(super) fn repeats<K: Hash + Eq>(
    rows: &[StartRow],
    key: impl Fn(&StartRow) -> K + Sync,
) -> Vec<(usize, usize)> {
    if are_in_order(rows) {
        return Vec::new();
    }
    let hash = |row: &StartRow| {
        let mut hasher = DefaultHasher::new();
        (&row.recording, key(row)).hash(&mut hasher);
        hasher.finish()
    };
    let parts: Vec<&[StartRow]> = rows.chunks(PART).collect();
    let hashes = parallel::each(&parts, |rows| -> Vec<u64> {
        rows.iter().map(hash).collect()
    });
    let mut hashes: Vec<(u64, usize)> = hashes.into_iter().flatten().zip(0..).collect();
    hashes.par_sort_unstable();
    let same = |a: &StartRow, b: &StartRow| a.recording == b.recording && key(a) == key(b);
    let alike = hashes
        .chunk_by(|a, b| a.0 == b.0)
        .filter(|alike| alike.len() > 1);
    let pairs = alike.flat_map(|alike| {
        let pair = |k: usize| {
            let again = alike[k].1;
            let first = alike[..k].iter().map(|(_, place)| *place);
            let first = first
                .rev()
                .find(|first| same(&rows[*first], &rows[again]))?;
            Some((first, again))
        };
        (1..alike.len()).filter_map(pair)
    });
    pairs.collect()
}

/// Whether recordings come one after the other, each with its starts in order: as `measure` writes them, and none twice.
fn are_in_order<'a>(rows: &'a [StartRow]) -> bool {
    let place = |row: &StartRow| (row.run, row.start);
    // The name of a recording where it begins; none where a start is out of its order.
    let begins = |two: &'a [StartRow]| {
        let same = two[0].recording == two[1].recording;
        match same {
            true => (place(&two[0]) < place(&two[1])).then_some(None),
            false => Some(Some(&*two[1].recording)),
        }
    };
    // Each with the first of the next.
    let parts = (0..rows.len()).step_by(PART);
    let parts: Vec<&[StartRow]> = parts
        .map(|from| &rows[from..rows.len().min(from + PART + 1)])
        .collect();
    let begun = parallel::each(&parts, |rows| -> Option<Vec<Option<&str>>> {
        let begun = rows.windows(2).map(begins);
        begun.filter(|begun| *begun != Some(None)).collect()
    });
    let first = rows.first().map(|row| &*row.recording);
    let mut seen: HashSet<&str> = first.into_iter().collect();
    begun.into_iter().all(|begun| {
        begun.is_some_and(|begun| begun.into_iter().flatten().all(|name| seen.insert(name)))
    })
}
