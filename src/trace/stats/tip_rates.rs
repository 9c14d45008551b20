//! Two rates compared where the trials come in tips.

use std::collections::BTreeMap;

use crate::stats::Interval;
use crate::stats::dist::{bisect, t_quantile, two_sided_t};

/// One tip: how often something happened in this many starts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TipTrial {
    /// Group.
    pub group: usize,
    /// Block.
    pub block: usize,
    /// Events.
    pub events: usize,
    /// Starts, one at least.
    pub starts: usize,
}

/// The rates of two groups, and how far apart they lie.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TipRates {
    /// Rate in a, averaged over the blocks.
    pub rate_a: f64,
    /// Rate in b, likewise.
    pub rate_b: f64,
    /// Interval of the second less the first.
    pub interval: Interval,
    /// Two-sided p of "no difference": the level at which the interval touches 0.
    pub p: f64,
    /// The share of variance between tips that was allowed for.
    pub share: f64,
}

/// A share of variance between tips to lean on where the data hardly tell it, and how many tips it weighs as:
/// this project's own, found by simulation (docs/statistics.md).
const USUAL_SHARE: f64 = 0.15;
const USUAL_WEIGHT: f64 = 4.0;

/// Wilson's intervals at effective sample sizes (design effect: Rao & Scott 1992), their difference by Newcombe
/// (1998b, method 10), Student's t for the normal.
///
/// `None` where a group has no tip.
pub fn tip_rates(trials: &[TipTrial], a: usize, b: usize, level: f64) -> Option<TipRates> {
    let mut cells = cells(trials, a, b);
    let has = |side: usize| cells.values().any(|two| two[side].n > 0.0);
    if !has(0) || !has(1) {
        return None;
    }
    if cells.values().all(|two| weight(two) == 0.0) {
        cells = BTreeMap::from([(0, together(&cells))]);
    }
    let (share, free) = leaning_share(cells.values().flatten());
    let total: f64 = cells.values().map(weight).sum();
    let side = |side: usize| {
        Side::new(
            cells.values().map(|two| (weight(two) / total, &two[side])),
            share,
        )
    };
    let (first, second) = (side(0), side(1));
    let df = free + USUAL_WEIGHT;
    let interval = |t: f64| difference(&first, &second, t);
    let far = |t: f64| {
        let Interval { lo, hi } = interval(t);
        lo > 0.0 || hi < 0.0
    };
    // No rate is further from another than this many standard errors.
    let touches = bisect(0.0, 1e3, far);
    Some(TipRates {
        rate_a: first.rate,
        rate_b: second.rate,
        interval: interval(t_quantile(level, df)),
        p: two_sided_t(touches, df),
        share,
    })
}

/// The starts of one group in one block.
#[derive(Debug, Clone, Copy, Default)]
struct RateCell {
    tips: f64,
    n: f64,
    events: f64,
    /// Σ n_i².
    n_squared: f64,
    /// Σ n_i p_i².
    p_squared: f64,
}

impl RateCell {
    fn joined(self, other: RateCell) -> RateCell {
        RateCell {
            tips: self.tips + other.tips,
            n: self.n + other.n,
            events: self.events + other.events,
            n_squared: self.n_squared + other.n_squared,
            p_squared: self.p_squared + other.p_squared,
        }
    }
}

fn cells(trials: &[TipTrial], a: usize, b: usize) -> BTreeMap<usize, [RateCell; 2]> {
    let mut cells: BTreeMap<usize, [RateCell; 2]> = BTreeMap::new();
    for trial in trials {
        let Some(side) = [a, b].iter().position(|&g| g == trial.group) else {
            continue;
        };
        let (n, events) = (trial.starts as f64, trial.events as f64);
        let cell = &mut cells.entry(trial.block).or_default()[side];
        *cell = cell.joined(RateCell {
            tips: 1.0,
            n,
            events,
            n_squared: n * n,
            p_squared: events * events / n,
        });
    }
    cells
}

fn together(cells: &BTreeMap<usize, [RateCell; 2]>) -> [RateCell; 2] {
    [0, 1].map(|side| {
        let cells = cells.values().map(|two| two[side]);
        cells.fold(RateCell::default(), RateCell::joined)
    })
}

fn weight(two: &[RateCell; 2]) -> f64 {
    two[0].n * two[1].n / (two[0].n + two[1].n)
}

/// The intraclass correlation of the events, leaning on [`USUAL_SHARE`], and the tips it rests on.
fn leaning_share<'a>(cells: impl Iterator<Item = &'a RateCell>) -> (f64, f64) {
    let (mut free, mut starts, mut tips) = (0.0, 0.0, 0.0);
    let (mut between, mut within, mut size) = (0.0, 0.0, 0.0);
    for cell in cells.filter(|cell| cell.n > 0.0) {
        free += cell.tips - 1.0;
        tips += cell.tips;
        starts += cell.n;
        between += cell.p_squared - cell.events * cell.events / cell.n;
        within += cell.events - cell.p_squared;
        size += cell.n - cell.n_squared / cell.n;
    }
    let mut told = 0.0;
    if free > 0.0 && starts > tips {
        let (between, within, size) = (between / free, within / (starts - tips), size / free);
        let all = between + (size - 1.0) * within;
        if all > 0.0 {
            told = free * (between - within) / all;
        }
    }
    let share = (told + USUAL_WEIGHT * USUAL_SHARE) / (free + USUAL_WEIGHT);
    (share.clamp(0.0, 1.0), free)
}

/// One group over the blocks: its rate and how many independent starts it is worth.
struct Side {
    rate: f64,
    n: f64,
}

impl Side {
    fn new<'a>(cells: impl Iterator<Item = (f64, &'a RateCell)>, share: f64) -> Side {
        let (mut rate, mut steady, mut variance) = (0.0, 0.0, 0.0);
        for (weight, cell) in cells.filter(|(weight, _)| *weight > 0.0) {
            let effect = 1.0 + (cell.n_squared / cell.n - 1.0) * share;
            let p = (cell.events + 0.5) / (cell.n + 1.0);
            rate += weight * cell.events / cell.n;
            steady += weight * p;
            variance += weight * weight * p * (1.0 - p) * effect / cell.n;
        }
        Side {
            rate: rate.clamp(0.0, 1.0),
            n: steady * (1.0 - steady) / variance,
        }
    }

    /// Wilson's interval, t for z.
    fn interval(&self, t: f64) -> Interval {
        let Side { rate, n } = self;
        let t2 = t * t;
        let centre = rate + t2 / (2.0 * n);
        let half = t * (rate * (1.0 - rate) / n + t2 / (4.0 * n * n)).sqrt();
        let scale = 1.0 + t2 / n;
        Interval {
            lo: ((centre - half) / scale).clamp(0.0, *rate),
            hi: ((centre + half) / scale).clamp(*rate, 1.0),
        }
    }
}

fn difference(first: &Side, second: &Side, t: f64) -> Interval {
    let (one, two) = (first.interval(t), second.interval(t));
    let d = second.rate - first.rate;
    Interval {
        lo: d - libm::hypot(second.rate - two.lo, one.hi - first.rate),
        hi: d + libm::hypot(two.hi - second.rate, first.rate - one.lo),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn trial(group: usize, block: usize, events: usize, starts: usize) -> TipTrial {
        TipTrial {
            group,
            block,
            events,
            starts,
        }
    }

    /// One start a tip is no clustering: Newcombe (1998b), Table II, 56/70 − 48/80: 0.0524 to 0.3339 with z. Here t at
    /// 148 + 4 degrees of freedom and the effective size of p̃ make it a little wider.
    #[test]
    fn without_clustering_the_interval_is_newcombes() {
        let starts =
            |group, events, n| (0..n).map(move |k| trial(group, 0, usize::from(k < events), 1));
        let trials: Vec<_> = starts(0, 48, 80).chain(starts(1, 56, 70)).collect();
        let found = tip_rates(&trials, 0, 1, 0.95).unwrap();
        assert!((found.rate_b - found.rate_a - 0.2).abs() < 1e-12);
        assert!((found.interval.lo - 0.0524).abs() < 0.004, "{found:?}");
        assert!((found.interval.hi - 0.3339).abs() < 0.004, "{found:?}");
        assert!((0.001..0.05).contains(&found.p));
    }

    #[test]
    fn tips_that_differ_widen_the_interval_and_equal_ones_do_not() {
        let uneven = [8, 0, 1, 0].map(|k| trial(0, 0, k, 10));
        let even = [2, 2, 3, 2].map(|k| trial(0, 0, k, 10));
        let other = [0, 1, 0, 0].map(|k| trial(1, 0, k, 10));
        let width = |first: [TipTrial; 4]| {
            let found = tip_rates(&[first, other].concat(), 0, 1, 0.95).unwrap();
            (found.interval.hi - found.interval.lo, found.share)
        };
        let (wide, narrow) = (width(uneven), width(even));
        assert!(wide.0 > 1.5 * narrow.0, "{wide:?} {narrow:?}");
        assert!(wide.1 > 0.4 && narrow.1 < 0.1, "{wide:?} {narrow:?}");
    }

    #[test]
    fn the_p_stands_at_the_level_where_the_interval_touches_zero() {
        let trials = [
            trial(0, 0, 5, 10),
            trial(0, 1, 4, 9),
            trial(1, 0, 1, 8),
            trial(1, 1, 0, 10),
        ];
        let p = tip_rates(&trials, 0, 1, 0.95).unwrap().p;
        let end = tip_rates(&trials, 0, 1, 1.0 - p).unwrap().interval.hi;
        assert!(end.abs() < 1e-9, "{end}");
        let equal = [trial(0, 0, 0, 9), trial(1, 0, 0, 9)];
        let found = tip_rates(&equal, 0, 1, 0.95).unwrap();
        assert!(found.p > 0.999, "{found:?}");
        assert_eq!(tip_rates(&equal[..1], 0, 1, 0.95), None);
    }
}
