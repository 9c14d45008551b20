//! Where the zero of a trace lies, by its idle stretches.

use crate::recording::bend::{Bend, bends};
use crate::recording::idle::{CellSample, rows};
use crate::stats::order::median_in_place;

/// A zero's course before or after a stretch is read over this part of its length at least.
const COURSE_PART: f64 = 0.5;

/// A zero that bends is held to be known within this many standard deviations.
const SURE: f64 = 2.5;

/// Where the zero of a trace lies: straight lines between knots (frame, value), level outside them.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Baseline {
    knots: Vec<(f64, f64)>,
    /// Those that rests showed.
    rests: Vec<(f64, f64)>,
    /// Standard deviation of the zero half-way from each of them to the next, where it bends there.
    sds: Vec<Option<f64>>,
}

impl Baseline {
    /// The same zero throughout.
    pub fn level(value: f64) -> Baseline {
        Baseline::through(vec![(0.0, value)])
    }

    /// Through what rests showed.
    fn through(rests: Vec<(f64, f64)>) -> Baseline {
        Baseline {
            knots: rests.clone(),
            sds: vec![None; rests.len()],
            rests,
        }
    }

    /// Bent where it swings from one rest to the next.
    pub fn bent(self, rate_hz: f64) -> Baseline {
        let seconds = |knot: &(f64, f64)| (knot.0 / rate_hz, knot.1);
        let bends = bends(&self.rests.iter().map(seconds).collect::<Vec<_>>());
        let mut knots = Vec::with_capacity(self.knots.len());
        for (rest, bend) in self.rests.iter().zip(&bends) {
            knots.push(*rest);
            let drawn = bend.iter().flat_map(|bend| &bend.knots);
            knots.extend(drawn.map(|(x, y)| (x * rate_hz, *y)));
        }
        let sd = |bend: &Option<Bend>| bend.as_ref().map(|bend| bend.sd);
        Baseline {
            knots,
            sds: bends.iter().map(sd).collect(),
            rests: self.rests,
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
    /// between is not known. Where it bends, [`SURE`] of its standard deviations.
    /// `None` where no rest lies to one side.
    pub fn step_across(&self, first: f64, last: f64) -> Option<(f64, f64)> {
        let a = self
            .rests
            .partition_point(|k| k.0 <= first)
            .checked_sub(1)?;
        let b = self.rests.partition_point(|k| k.0 < last);
        let (x0, y0) = self.rests[a];
        let (x1, y1) = *self.rests.get(b)?;
        if let Some(sd) = self.sds[a].filter(|_| b == a + 1) {
            return Some(((y1 - y0).abs(), SURE * sd));
        }
        let chord = |from: usize, to: usize| {
            let (p, q) = (self.rests[from], self.rests[to]);
            (q.1 - p.1) / (q.0 - p.0)
        };
        // Its own course shows over no shorter a time.
        let long = COURSE_PART * (x1 - x0);
        let early = self.rests.partition_point(|k| k.0 <= x0 - long);
        let before = early.checked_sub(1).map(|k| chord(k, a));
        let late = self.rests.partition_point(|k| k.0 < x1 + long);
        let after = (late < self.rests.len()).then(|| chord(b, late));
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

    /// Smallest and largest zero that rests showed.
    pub fn range(&self) -> Option<(f64, f64)> {
        let values = || self.rests.iter().map(|k| k.1);
        (!self.rests.is_empty()).then(|| {
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
    Baseline::through(knots.into_iter().map(|(x, y, _)| (x, y)).collect())
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
            Baseline::through(knots).step_across(2.5, 3.5).unwrap()
        };
        assert_eq!(across(&|t| if t < 3.0 { 0.0 } else { 2.0 }), (2.0, 2.0));
        assert_eq!(across(&|t| 0.5 * t), (1.0, 0.0));
        assert_eq!(across(&|t| t * t), (12.0, 1.5));
        // Known to one side only: that one goes on.
        let knots = vec![(0.0, 0.0), (2.0, 1.0), (4.0, 2.5)];
        assert_eq!(
            Baseline::through(knots).step_across(2.5, 3.5),
            Some((1.5, 0.5))
        );
    }

    #[test]
    fn a_zero_is_farthest_at_an_end_or_at_a_knot_between() {
        let knots = vec![(10.0, 1.0), (20.5, 3.0), (30.0, 2.0), (40.0, 0.0)];
        let zero = Baseline::through(knots);
        let range = |first: u64, last: u64| zero.range_within(first, last);
        assert_eq!(range(0, 5), (1.0, 1.0));
        assert_eq!(range(10, 31), (1.0, 3.0));
        assert_eq!(range(25, 99), (0.0, zero.at(25)));
        assert_eq!(range(35, 35), (1.0, 1.0));
        assert_eq!(Baseline::default().range_within(3, 9), (0.0, 0.0));
    }
}
