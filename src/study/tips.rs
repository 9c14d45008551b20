//! One prep's starts, tip by tip: from one regrind to the next.

use crate::score::StartRow;

/// Cuts starts, in the order struck, where the count since the regrind falls back: each piece is
/// one tip's. A start whose count is not known belongs to the tip before it.
pub(super) fn split<'a>(rows: &[&'a StartRow]) -> Vec<Vec<&'a StartRow>> {
    let mut tips: Vec<Vec<&StartRow>> = Vec::new();
    let mut last = f64::INFINITY;
    for &row in rows {
        let since = row.measures.since_regrind.unwrap_or(last);
        match tips.last_mut() {
            Some(tip) if since > last || row.measures.since_regrind.is_none() => tip.push(row),
            _ => tips.push(vec![row]),
        }
        last = since;
    }
    tips
}
