//! The comparison for those who look after every start: it may be looked at, and stopped, at any time.

use std::collections::BTreeMap;

use crate::format::{counted, quantity, trimmed as number};
use crate::score::StartRow;
use crate::stats::{BettingPairs, Interval, RatesProcess};
use crate::study::Event;

use crate::study::{PairVerdict, WhileStriking};

/// Every two groups, on score and on rough starts, the rows in the order struck. The chance of a
/// false verdict, 1 − level, is shared out evenly over the pairs and the two of them.
pub(super) fn while_striking(
    rows: &[&StartRow],
    ids: &[&str],
    by: &str,
    level: f64,
) -> Vec<WhileStriking> {
    let couples: Vec<[&str; 2]> = (0..ids.len())
        .flat_map(|i| (i + 1..ids.len()).map(move |j| [ids[i], ids[j]]))
        .collect();
    let share = (1.0 - level) / (2 * couples.len()).max(1) as f64;
    let watch = |couple: &[&str; 2]| of_pair(rows, *couple, by, share);
    couples.iter().map(watch).collect()
}

fn of_pair(rows: &[&StartRow], [a, b]: [&str; 2], by: &str, share: f64) -> WhileStriking {
    let mut scores = BettingPairs::new(1.0 - share);
    let mut rough = RatesProcess::default();
    let mut coupons: BTreeMap<&str, usize> = BTreeMap::new();
    for row in rows {
        let Some(sample) = row
            .group(by)
            .and_then(|id| [a, b].iter().position(|&g| g == id))
        else {
            continue;
        };
        let coupon = row
            .coupon
            .as_deref()
            .filter(|_| by != "coupon")
            .unwrap_or_default();
        let next = coupons.len();
        let block = *coupons.entry(coupon).or_insert(next);
        rough.add(block, sample, Event::Rough.happened(row));
        if let Some(score) = row.score {
            scores.add(block, sample, score.clamp(0.0, 100.0) / 100.0);
        }
    }
    let Interval { lo, hi } = scores.interval();
    let mut watch = WhileStriking {
        a: a.into(),
        b: b.into(),
        pairs: rough.pairs(),
        score_lo: 100.0 * lo,
        score_hi: 100.0 * hi,
        rough_e: rough.largest_e(),
        rough_p: rough.p(),
        rough_e_needed: 1.0 / share,
        verdict: PairVerdict::NotEnough,
        says: String::new(),
    };
    watch.verdict = verdict(&watch, rough.first_is_higher());
    watch.says = says(&watch);
    watch
}

/// Clear by score, or by rough starts, and not against each other.
fn verdict(watch: &WhileStriking, a_rougher: bool) -> PairVerdict {
    let mut votes = Vec::new();
    if watch.score_lo > 0.0 || watch.score_hi < 0.0 {
        votes.push(watch.score_lo > 0.0);
    }
    if watch.rough_p * watch.rough_e_needed <= 1.0 {
        votes.push(a_rougher);
    }
    match votes.as_slice() {
        [] | [true, false] | [false, true] => PairVerdict::NotEnough,
        [true, ..] => PairVerdict::BBetter,
        [false, ..] => PairVerdict::ABetter,
    }
}

fn says(watch: &WhileStriking) -> String {
    let WhileStriking { a, b, .. } = watch;
    let pairs = counted(watch.pairs, "pair");
    let range = format!(
        "mean score of {b} less that of {a} lies between {} and {}",
        number(watch.score_lo),
        quantity("score", watch.score_hi)
    );
    let strength = match watch.rough_e {
        huge if huge > 1e6 => "over a million".into(),
        some => number(some),
    };
    let evidence = format!(
        "the rough starts speak {strength} to 1 for a difference ({} are needed)",
        number(watch.rough_e_needed)
    );
    match watch.verdict {
        PairVerdict::ABetter => format!(
            "{a} starts better than {b}, and you may stop: after {pairs} {range}, and {evidence}."
        ),
        PairVerdict::BBetter => format!(
            "{b} starts better than {a}, and you may stop: after {pairs} {range}, and {evidence}."
        ),
        _ => format!("Keep striking: after {pairs} {range}, and {evidence}."),
    }
}
