//! Sequential comparison by tips: it stays valid however often one looks, and whenever one stops.

use std::collections::BTreeMap;

use crate::score::StartRow;
use crate::stats;
use crate::stats::{TipEvidence, TipStart};
use crate::study::comparison::{Event, PairVerdict, WhileStriking};
use crate::study::tips;

/// Every two groups, on score and on rough starts. The chance of a false verdict, 1 − level, is
/// shared out evenly over the pairs and the two of them.
pub(super) fn while_striking(
    rows: &[&StartRow],
    ids: &[&str],
    by: &str,
    level: f64,
) -> Vec<WhileStriking> {
    let couples: Vec<[&str; 2]> = (0..ids.len())
        .flat_map(|i| (i + 1..ids.len()).map(move |j| [ids[i], ids[j]]))
        .collect();
    let needed = (2 * couples.len()).max(1) as f64 / (1.0 - level);
    let watch = |couple: &[&str; 2]| of_pair(rows, *couple, by, needed);
    couples.iter().map(watch).collect()
}

fn of_pair(rows: &[&StartRow], ids: [&str; 2], by: &str, needed: f64) -> WhileStriking {
    let struck = Struck::of(rows, ids, by);
    let score = struck.evidence(|row| row.score, |_, _| 0.0);
    let rough = struck.evidence(
        |row| Some(f64::from(u8::from(Event::Rough.happened(row)))),
        counting,
    );
    let interval = score.and_then(|found| found.interval(needed));
    let e = |found: &Option<TipEvidence>| found.map_or(1.0, |found| found.e());
    let mut watch = WhileStriking {
        a: ids[0].into(),
        b: ids[1].into(),
        tips_a: struck.tips[0],
        tips_b: struck.tips[1],
        score_diff: score.map(|found| found.shift),
        score_lo: interval.map(|i| i.lo),
        score_hi: interval.map(|i| i.hi),
        score_e: e(&score),
        rough_diff: rough.map(|found| found.shift),
        rough_e: e(&rough),
        e_needed: needed,
        more_tips: [score, rough]
            .into_iter()
            .flatten()
            .filter_map(|found| found.tips_to_go(needed, WhileStriking::MOST_TIPS))
            .min(),
        verdict: PairVerdict::NotEnough,
    };
    watch.verdict = verdict(&watch);
    watch
}

/// The starts of two groups, with the numbers of their tips and coupons.
struct Struck<'a> {
    starts: Vec<(&'a StartRow, TipStart)>,
    tips: [usize; 2],
}

impl<'a> Struck<'a> {
    fn of(rows: &[&'a StartRow], ids: [&str; 2], by: &str) -> Struck<'a> {
        let mut struck = Struck {
            starts: Vec::new(),
            tips: [0, 0],
        };
        let mut coupons: BTreeMap<&str, usize> = BTreeMap::new();
        for (group, id) in ids.into_iter().enumerate() {
            let of_group: Vec<&StartRow> = rows
                .iter()
                .copied()
                .filter(|row| row.group(by) == Some(id))
                .collect();
            for rows in tips::split(&of_group) {
                let tip = struck.tips[0] + struck.tips[1];
                struck.tips[group] += 1;
                for row in rows {
                    let coupon = row.coupon.as_deref().filter(|_| by != "coupon");
                    let next = coupons.len();
                    let coupon = *coupons.entry(coupon.unwrap_or_default()).or_insert(next);
                    let place = TipStart {
                        group,
                        tip,
                        coupon,
                        value: 0.0,
                    };
                    struck.starts.push((row, place));
                }
            }
        }
        struck
    }

    /// Evidence of one value a start; `least` gives the smallest variance that tips can have, from
    /// the mean of all starts and the starts a tip.
    fn evidence(
        &self,
        value: impl Fn(&StartRow) -> Option<f64>,
        least: fn(f64, f64) -> f64,
    ) -> Option<TipEvidence> {
        let values: Vec<TipStart> = self
            .starts
            .iter()
            .filter_map(|(row, place)| {
                Some(TipStart {
                    value: value(row)?,
                    ..*place
                })
            })
            .collect();
        if values.is_empty() {
            return None;
        }
        let n = values.len() as f64;
        let mean = values.iter().map(|start| start.value).sum::<f64>() / n;
        let tips = stats::tip_values(&values).tips;
        stats::tip_evidence(&tips, 0, 1, least(mean, n / tips.len() as f64))
    }
}

/// Variance of a share among this many starts by chance alone, at a rate with half an event added.
fn counting(rate: f64, starts: f64) -> f64 {
    let rate = (rate * starts + 0.5) / (starts + 1.0);
    rate * (1.0 - rate) / starts
}

/// Clear by score, or by rough starts, and not against each other.
fn verdict(watch: &WhileStriking) -> PairVerdict {
    let b_better = |better: Option<f64>, e: f64| {
        let clear = better.filter(|_| e >= watch.e_needed);
        clear.map(|difference| difference > 0.0)
    };
    let by_score = b_better(watch.score_diff, watch.score_e);
    let by_rough = b_better(watch.rough_diff.map(|d| -d), watch.rough_e);
    match (by_score, by_rough) {
        (Some(true), Some(true) | None) | (None, Some(true)) => PairVerdict::BBetter,
        (Some(false), Some(false) | None) | (None, Some(false)) => PairVerdict::ABetter,
        _ => PairVerdict::NotEnough,
    }
}
