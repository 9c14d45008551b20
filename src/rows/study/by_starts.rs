//! Two groups compared start by start, and all groups at once.

use std::collections::BTreeMap;

use crate::measure::Quantity;
use crate::parallel;
use crate::stats;
use crate::stats::{Blocks, TipStart};
use crate::study::comparison::{About, Overall, StartLevel};
use crate::study::groups::Judged;

/// The tests by starts and Cliff's delta of (side, coupon, value), inside coupons where two or more are shared out; `None`
/// where a side is empty.
pub(super) fn level(
    values: impl Iterator<Item = (usize, usize, f64)> + Clone,
    level: f64,
) -> Option<(StartLevel, f64)> {
    let mut coupons = values.clone().map(|(_, coupon, _)| coupon);
    let first = coupons.next()?;
    let several = coupons.any(|coupon| coupon != first);
    let by_coupon = several.then(|| in_coupons(values.clone())).flatten();
    let apart = by_coupon.as_ref().map_or(0, Blocks::count);
    let blocks = by_coupon.or_else(|| {
        let (mut a, mut b) = (Vec::new(), Vec::new());
        for (side, _, value) in values {
            if side == 0 { &mut a } else { &mut b }.push(value);
        }
        Blocks::new([(a, b)])
    })?;
    let (shift, p) = parallel::both(
        || stats::hodges_lehmann(&blocks, level),
        || blocks.p_unequal(),
    );
    let found = StartLevel {
        shift: shift.estimate,
        lo: shift.lo,
        hi: shift.hi,
        p,
        blocks: apart,
    };
    Some((found, stats::cliffs_delta(&blocks)))
}

fn in_coupons(values: impl Iterator<Item = (usize, usize, f64)>) -> Option<Blocks> {
    let mut coupons: BTreeMap<usize, [Vec<f64>; 2]> = BTreeMap::new();
    for (side, coupon, value) in values {
        coupons.entry(coupon).or_default()[side].push(value);
    }
    Blocks::new(coupons.into_values().map(|[a, b]| (a, b)))
}

/// Are all groups alike? Ranks of tips inside coupons where every group has two tips or more, else of starts.
pub(super) fn overall(judged: &[Judged], groups: usize, measure: &str) -> Option<Overall> {
    let quantity = Quantity::named(measure);
    let starts: Vec<TipStart> = judged
        .iter()
        .filter_map(|start| {
            Some(TipStart {
                group: start.group,
                tip: start.tip,
                coupon: start.coupon,
                value: start.row.value_of(&quantity)?,
            })
        })
        .collect();
    let tips = stats::tip_values(&starts).tips;
    let several = (0..groups).all(|group| tips.iter().filter(|t| t.group == group).count() > 1);
    let mut blocks: BTreeMap<usize, Vec<Vec<f64>>> = BTreeMap::new();
    let mut add = |block: usize, group: usize, value: f64| {
        blocks
            .entry(block)
            .or_insert_with(|| vec![Vec::new(); groups])[group]
            .push(value);
    };
    match several {
        true => tips.iter().for_each(|t| add(t.block, t.group, t.value)),
        false => starts.iter().for_each(|s| add(s.coupon, s.group, s.value)),
    }
    let blocks: Vec<Vec<Vec<f64>>> = blocks.into_values().collect();
    let (h, p) = stats::kruskal_wallis_blocks(&blocks)?;
    Some(Overall {
        measure: measure.into(),
        about: if several { About::Prep } else { About::Tips },
        h,
        p,
    })
}
