//! Starts that stand among others twice.

use std::collections::HashSet;
use std::hash::{DefaultHasher, Hash, Hasher};

use rayon::prelude::*;

use crate::score::StartRow;

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
    let hashes = rows.par_iter().enumerate();
    let mut hashes: Vec<(u64, usize)> = hashes.map(|(k, row)| (hash(row), k)).collect();
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
fn are_in_order(rows: &[StartRow]) -> bool {
    let mut seen = HashSet::new();
    let place = |row: &StartRow| (row.run, row.start);
    rows.chunk_by(|a, b| a.recording == b.recording).all(|own| {
        seen.insert(&*own[0].recording) && own.windows(2).all(|two| place(&two[0]) < place(&two[1]))
    })
}
