//! Idle stretches, the zero that they show, and the noise in them.

use crate::recording::source::Stat;
use crate::stats::order::median_in_place;

/// A zero's course before or after a stretch is told over this part of its length at least.
const COURSE_PART: f64 = 0.5;

/// Where the zero of a trace lies: straight lines between knots (frame, value), level outside them.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Baseline {
    knots: Vec<(f64, f64)>,
}

impl Baseline {
    /// The same zero throughout.
    pub fn level(value: f64) -> Baseline {
        Baseline {
            knots: vec![(0.0, value)],
        }
    }

    /// The zero at a frame.
    pub fn at(&self, frame: u64) -> f64 {
        let x = frame as f64;
        self.line(self.knots.partition_point(|k| k.0 <= x)).at(x)
    }

    /// The zero where `after` knots lie before.
    fn line(&self, after: usize) -> ZeroLine {
        let before = after.checked_sub(1).map(|k| self.knots[k]);
        match (before, self.knots.get(after)) {
            (Some((x0, y0)), Some(&(x1, y1))) => ZeroLine {
                x0,
                y0,
                slope: (y1 - y0) / (x1 - x0),
            },
            (Some((x0, y0)), None) | (None, Some(&(x0, y0))) => ZeroLine { x0, y0, slope: 0.0 },
            (None, None) => ZeroLine::default(),
        }
    }

    /// Takes the zero away from consecutive frames; the result does not depend on where `first` lies.
    pub fn subtract(&self, first: u64, values: &mut [f64]) {
        match self.knots[..] {
            [] => {}
            [(_, y)] => values.iter_mut().for_each(|v| *v -= y),
            _ => {
                let mut rest = values;
                let mut at = first;
                while !rest.is_empty() {
                    let after = self.knots.partition_point(|k| k.0 <= at as f64);
                    let next = self.knots.get(after).map_or(f64::INFINITY, |k| k.0);
                    let count = ((next - at as f64).ceil() as usize).min(rest.len());
                    let (piece, behind) = rest.split_at_mut(count);
                    self.line(after).subtract(at, piece);
                    (at, rest) = (at + count as u64, behind);
                }
            }
        }
    }

    /// Smallest and largest zero from one frame to another, both included: at an end or at a knot between them.
    pub fn range_within(&self, first: u64, last: u64) -> (f64, f64) {
        let from = self.knots.partition_point(|k| k.0 <= first as f64);
        let to = self.knots.partition_point(|k| k.0 < last as f64).max(from);
        let between = self.knots[from..to].iter().map(|k| k.1);
        let (a, b) = (self.at(first), self.at(last));
        between.fold((a.min(b), a.max(b)), |(low, high), y| {
            (low.min(y), high.max(y))
        })
    }

    /// How far the zero steps across a stretch, and how far that is from what its course before and after makes of it: what is
    /// between is not known.
    /// `None` where no knot lies to one side.
    pub fn step_across(&self, first: f64, last: f64) -> Option<(f64, f64)> {
        let a = self
            .knots
            .partition_point(|k| k.0 <= first)
            .checked_sub(1)?;
        let b = self.knots.partition_point(|k| k.0 < last);
        let (x0, y0) = self.knots[a];
        let (x1, y1) = *self.knots.get(b)?;
        let chord = |from: usize, to: usize| {
            let (p, q) = (self.knots[from], self.knots[to]);
            (q.1 - p.1) / (q.0 - p.0)
        };
        // Its own course shows over no shorter a time.
        let long = COURSE_PART * (x1 - x0);
        let early = self.knots.partition_point(|k| k.0 <= x0 - long);
        let before = early.checked_sub(1).map(|k| chord(k, a));
        let late = self.knots.partition_point(|k| k.0 < x1 + long);
        let after = (late < self.knots.len()).then(|| chord(b, late));
        let (step, long) = (y1 - y0, x1 - x0);
        let beyond = match (before, after) {
            // A bend in one piece: what both courses make together, and how far it strays from the straight line between.
            (Some(a), Some(b)) => {
                let together = (step - 0.5 * (a + b) * long).abs();
                together.max((a - b).abs() * long / 8.0)
            }
            (Some(slope), None) | (None, Some(slope)) => (step - slope * long).abs(),
            (None, None) => step.abs(),
        };
        Some((step.abs(), beyond))
    }

    /// Smallest and largest zero.
    pub fn range(&self) -> Option<(f64, f64)> {
        let values = || self.knots.iter().map(|k| k.1);
        (!self.knots.is_empty()).then(|| {
            (
                values().fold(f64::INFINITY, f64::min),
                values().fold(f64::NEG_INFINITY, f64::max),
            )
        })
    }
}

/// A straight piece of a zero.
#[derive(Default)]
struct ZeroLine {
    x0: f64,
    y0: f64,
    slope: f64,
}

impl ZeroLine {
    fn at(&self, x: f64) -> f64 {
        self.y0 + self.slope * (x - self.x0)
    }

    fn subtract(&self, first: u64, values: &mut [f64]) {
        for (k, value) in values.iter_mut().enumerate() {
            // Blocks are short of 2³¹ samples, and 32 bits become a float in lanes.
            *value -= self.at(first as f64 + f64::from(k as i32));
        }
    }
}

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
fn rows(idle: &[usize], fits: impl Fn(usize, usize) -> bool) -> Vec<std::ops::Range<usize>> {
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

/// A zero that moves less within a rest, A or V, has one knot there.
const MOVES: f64 = 0.1;

/// Knots of a zero, one for each idle stretch (long ones are cut at `longest` frames); where it moves within a stretch and
/// `fine` frames are given, one for each of these.
pub(crate) fn baseline(
    places: &[CellSample],
    idle: &[usize],
    longest: u64,
    fine: Option<u64>,
) -> Baseline {
    let apart = |a: usize, b: usize| places[b].first - places[a].first;
    let by_mean = fine.is_some();
    let mut knots = Vec::new();
    for row in rows(idle, |first, cell| apart(first, cell) < longest) {
        let row = &idle[row];
        let fine = fine.filter(|fine| moves(places, row, *fine));
        let pieces = rows(row, |first, cell| {
            fine.is_none_or(|fine| apart(first, cell) < fine)
        });
        for piece in pieces {
            let short = piece.len() < 3 && piece.len() < row.len();
            if !short {
                knots.push(knot(places, &row[piece], by_mean));
            }
        }
    }
    // A stretch of a single cell has its edges in it; it only counts where there is no better one.
    if knots.iter().any(|k| k.2 > 2) {
        knots.retain(|k| k.2 > 2);
    }
    Baseline {
        knots: knots.into_iter().map(|(x, y, _)| (x, y)).collect(),
    }
}

/// Whether the means of pieces of a row lie apart.
fn moves(places: &[CellSample], row: &[usize], fine: u64) -> bool {
    let pieces = rows(row, |a, b| places[b].first - places[a].first < fine);
    let whole = pieces.iter().filter(|p| p.len() >= 3);
    let means = whole.map(|p| knot(places, &row[p.clone()], true).1);
    let (low, high) = means.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), y| {
        (low.min(y), high.max(y))
    });
    high - low > MOVES
}

/// Centre, level and number of cells of a row: their median, or where hum goes through them, their mean.
fn knot(places: &[CellSample], row: &[usize], mean: bool) -> (f64, f64, usize) {
    let (first, last) = (&places[row[0]], &places[row[row.len() - 1]]);
    let centre = 0.5 * (first.first + last.first + u64::from(last.frames)) as f64;
    let mut means: Vec<f64> = row.iter().map(|&k| places[k].stat.mean).collect();
    let level = match mean {
        true => means.iter().sum::<f64>() / means.len() as f64,
        false => median_in_place(&mut means).expect("at least one value"),
    };
    (centre, level, row.len())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Knots every half second up to 2 s and from 4 s on: a step, a drift, a bend (y = t², whose chords before and after have the
    /// slopes 3 and 9), all told across the gap. Of the bend the line between strays by 9 − 10; by its chords, by (9 − 3)·2/8.
    #[test]
    fn a_step_of_the_zero_is_what_its_course_does_not_make() {
        let across = |zero: &dyn Fn(f64) -> f64| {
            let at = (0..=4).chain(8..=12).map(|k| 0.5 * f64::from(k));
            let knots = at.map(|t| (t, zero(t))).collect();
            Baseline { knots }.step_across(2.5, 3.5).unwrap()
        };
        assert_eq!(across(&|t| if t < 3.0 { 0.0 } else { 2.0 }), (2.0, 2.0));
        assert_eq!(across(&|t| 0.5 * t), (1.0, 0.0));
        assert_eq!(across(&|t| t * t), (12.0, 1.5));
        // Known to one side only: that one goes on.
        let knots = vec![(0.0, 0.0), (2.0, 1.0), (4.0, 2.5)];
        assert_eq!(Baseline { knots }.step_across(2.5, 3.5), Some((1.5, 0.5)));
    }

    #[test]
    fn a_zero_is_farthest_at_an_end_or_at_a_knot_between() {
        let zero = Baseline {
            knots: vec![(10.0, 1.0), (20.5, 3.0), (30.0, 2.0), (40.0, 0.0)],
        };
        let range = |first: u64, last: u64| zero.range_within(first, last);
        assert_eq!(range(0, 5), (1.0, 1.0));
        assert_eq!(range(10, 31), (1.0, 3.0));
        assert_eq!(range(25, 99), (0.0, zero.at(25)));
        assert_eq!(range(35, 35), (1.0, 1.0));
        assert_eq!(Baseline::default().range_within(3, 9), (0.0, 0.0));
    }
}
