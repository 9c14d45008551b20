//! Idle cells: the trace is still in them, at the level nearest 0 at which it rests.

use crate::recording::source::Stat;
use crate::stats::order::median_in_place;

/// A cell as idle stretches are looked for in: its place and one calibrated trace.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct CellSample {
    pub first: u64,
    pub frames: u32,
    pub stat: Stat,
}

/// What a zero is looked for by.
pub(crate) struct Looks {
    /// A level further from 0 than this is no zero.
    pub farthest: f64,
    /// Spread of a cell under which it counts as still, whatever the rest of the recording does.
    pub still: f64,
}

/// A cell is still when its spread is at most this part of the recording's.
const STILL_PART: f64 = 0.1;
/// Of two levels at which the trace rests, the one nearer 0 is the zero if it has at least this part of the cells.
const FEW: f64 = 0.2;
/// Spread allowed in an idle cell, in multiples of the usual one.
const SPREAD_TIMES: f64 = 3.0;

/// Which places are idle: still, and at the level nearest 0 at which the trace rests.
///
/// The level is followed from place to place, so a slow drift is no obstacle.
pub(crate) fn idle(places: &[CellSample], looks: &Looks) -> Vec<usize> {
    let bottom = places
        .iter()
        .map(|p| p.stat.min)
        .fold(f64::INFINITY, f64::min);
    let top = places
        .iter()
        .map(|p| p.stat.max)
        .fold(f64::NEG_INFINITY, f64::max);
    let limit = looks.still.max(STILL_PART * (top - bottom));
    let still: Vec<usize> = (0..places.len())
        .filter(|&k| {
            places[k].stat.spread() <= limit && places[k].stat.mean.abs() <= looks.farthest
        })
        .collect();
    let Some((seed, usual)) = resting_level(places, &still, looks) else {
        return Vec::new();
    };
    let spread = (SPREAD_TIMES * usual).max(0.2 * looks.still);
    let step = usual.max(looks.still);
    let fits = |k: usize, level: f64| {
        let stat = &places[k].stat;
        stat.spread() <= spread && (stat.mean - level).abs() <= step
    };
    let at = still.partition_point(|&k| k < seed);
    let mut found = Vec::new();
    let mut level = places[seed].stat.mean;
    for &k in still[..at]
        .iter()
        .rev()
        .filter(|&&k| places[k].stat.spread() <= spread)
    {
        if fits(k, level) {
            level += 0.2 * (places[k].stat.mean - level);
            found.push(k);
        }
    }
    found.reverse();
    level = places[seed].stat.mean;
    for &k in &still[at..] {
        if fits(k, level) {
            level += 0.2 * (places[k].stat.mean - level);
            found.push(k);
        }
    }
    found
}

/// A cell that rests at the zero, and the usual spread there; the same ones with every sign turned over.
fn resting_level(places: &[CellSample], still: &[usize], looks: &Looks) -> Option<(usize, f64)> {
    // Mean and place, by the mean (no zero with a sign), then by the place.
    type Rest = (f64, usize);
    let rest = |&k: &usize| (places[k].stat.mean + 0.0, k);
    let mut rests: Vec<Rest> = still.iter().map(rest).collect();
    rests.sort_by(|a, b| a.0.total_cmp(&b.0));
    let nearer = |a: &Rest, b: &Rest| a.0.abs().total_cmp(&b.0.abs()).then(a.1.cmp(&b.1));
    // Each cell's company: those that rest within half a `still` of it.
    let reach = 0.5 * looks.still;
    let company = |&(mean, _): &Rest| {
        let from = rests.partition_point(|r| mean - r.0 > reach);
        &rests[from..rests.partition_point(|r| r.0 - mean <= reach)]
    };
    let companies: Vec<&[Rest]> = rests.iter().map(company).collect();
    // The first cell at the median level; between two levels, at the one nearer 0.
    let centre = |company: &[Rest]| {
        let first_at = |level: f64| company[company.partition_point(|r| r.0 < level)];
        let middle = [(company.len() - 1) / 2, company.len() / 2];
        let [lower, upper] = middle.map(|k| first_at(company[k].0));
        std::cmp::min_by(lower, upper, nearer)
    };
    let most = companies.iter().map(|c| c.len()).max()?;
    let large = rests
        .iter()
        .zip(&companies)
        .filter(|(_, c)| c.len() as f64 >= FEW * most as f64);
    let (seed, company, _) = large.map(|(own, c)| (centre(c), c, own)).min_by(|a, b| {
        let by_size = b.1.len().cmp(&a.1.len());
        nearer(&a.0, &b.0).then(by_size).then(nearer(a.2, b.2))
    })?;
    let mut spreads: Vec<f64> = company.iter().map(|r| places[r.1].stat.spread()).collect();
    Some((seed.1, median_in_place(&mut spreads)?))
}

/// Leaves out the first and the last cell of every row of four or more: what begins or ends there may reach into them.
pub(crate) fn drop_ends(idle: &mut Vec<usize>) {
    let rows = rows(idle, |_, _| true);
    let inner = |row: &std::ops::Range<usize>| match row.len() {
        0..4 => idle[row.clone()].to_vec(),
        n => idle[row.start + 1..row.start + n - 1].to_vec(),
    };
    *idle = rows.iter().flat_map(inner).collect();
}

/// How far the mean of each of these cells lies from the median of those within `reach` frames of it.
pub(crate) fn strays(places: &[CellSample], cells: &[usize], reach: u64) -> Vec<f64> {
    let (mut from, mut to) = (0, 0);
    let mut centre: Option<(usize, usize, f64)> = None;
    let mut apart = Vec::with_capacity(cells.len());
    for &k in cells {
        let at = places[k].first;
        while places[cells[from]].first + reach < at {
            from += 1;
        }
        while to < cells.len() && places[cells[to]].first <= at + reach {
            to += 1;
        }
        // The median moves slowly: once in a while is often enough.
        let stale =
            centre.is_none_or(|(a, b, _)| from.abs_diff(a) + to.abs_diff(b) > (to - from) / 8);
        if stale {
            let mut means: Vec<f64> = cells[from..to]
                .iter()
                .map(|&k| places[k].stat.mean)
                .collect();
            centre = median_in_place(&mut means).map(|m| (from, to, m));
        }
        let level = centre.map_or(0.0, |c| c.2);
        apart.push((places[k].stat.mean - level).abs());
    }
    apart
}

/// Rows of cells that follow each other, cut where `fits(first, cell)` says so: ranges into `idle`.
pub(crate) fn rows(
    idle: &[usize],
    fits: impl Fn(usize, usize) -> bool,
) -> Vec<std::ops::Range<usize>> {
    let mut rows = Vec::new();
    let mut k = 0;
    while k < idle.len() {
        let mut end = k + 1;
        while end < idle.len() && idle[end] == idle[end - 1] + 1 && fits(idle[k], idle[end]) {
            end += 1;
        }
        rows.push(k..end);
        k = end;
    }
    rows
}
