//! How a zero that swings bends from one rest to the next: a Gaussian process through its knots, about the straight line between the two.
//!
//! Source: C. E. Rasmussen, C. K. I. Williams, Gaussian Processes for Machine Learning, MIT Press 2006: mean and variance by algorithm 2.1,
//! scales by the marginal likelihood of section 5.4 (from memory).

use std::ops::Range;

use crate::stats::cholesky::Cholesky;
use crate::stats::order;

/// Where, s, and the zero there, A.
pub(crate) type Knot = (f64, f64);

/// The zero between two rests.
pub(crate) struct Bend {
    /// On the way.
    pub knots: Vec<Knot>,
    /// Its standard deviation half-way, A.
    pub sd: f64,
}

/// Knots farther apart than this, s, lie in two rests.
const APART_S: f64 = 0.4;
/// A zero that goes no faster than this in its rests, A/s, does not swing …
const LEAST_SPEED: f64 = 0.3;
/// … nor does one that goes no farther in a second than this many standard deviations of a knot.
const OVER_NOISE: f64 = 15.0;
/// What goes faster from rest to rest than in rests by this is a step.
const FASTER: f64 = 1.2;
/// Knots on either side of a gap that tell how it bends: this many, within this many seconds.
const MOST: usize = 12;
const REACH_S: f64 = 4.0;
/// Time scales that are tried, s, and variances of a knot as a part of the process's.
const SCALES_S: [f64; 5] = [0.5, 0.8, 1.3, 2.0, 3.2];
const NUGGETS: [f64; 2] = [0.003, 0.1];
/// The process varies by this at the least, A.
const LEAST_A: f64 = 0.02;
/// A bend is drawn in this many straight pieces.
const PIECES: u32 = 12;

/// For each knot what lies between it and the next: `None` within a rest, and where the zero does not bend but stands, or steps.
pub(crate) fn bends(knots: &[Knot]) -> Vec<Option<Bend>> {
    let mut bends: Vec<Option<Bend>> = knots.iter().map(|_| None).collect();
    let rests = rests(knots);
    let Some(speed) = swings(knots, &rests) else {
        return bends;
    };
    let steps = |pair: &[Range<usize>]| {
        let (a, b) = (knots[pair[0].end - 1], knots[pair[1].start]);
        (b.1 - a.1).abs() > FASTER * speed * (b.0 - a.0)
    };
    let mut from = 0;
    let ends = (0..rests.len()).filter(|&k| k + 1 == rests.len() || steps(&rests[k..k + 2]));
    for end in ends {
        // Knots beyond a step tell of another course.
        let course = &knots[rests[from].start..rests[end].end];
        for rest in &rests[from..end] {
            let last = rest.end - 1;
            bends[last] = bend(course, last - rests[from].start);
        }
        from = end + 1;
    }
    bends
}

/// Knots that follow each other closely.
fn rests(knots: &[Knot]) -> Vec<Range<usize>> {
    let mut at = 0;
    let rows = knots.chunk_by(|a, b| b.0 - a.0 <= APART_S);
    rows.map(|row| {
        at += row.len();
        at - row.len()..at
    })
    .collect()
}

/// How fast the zero goes in the fastest of its rests but one, A/s; `None` where it does not swing: one rest alone may be a clamp's that
/// comes to rest behind its first arc.
fn swings(knots: &[Knot], rests: &[Range<usize>]) -> Option<f64> {
    let fastest = |rest: &Range<usize>| {
        let row = &knots[rest.clone()];
        let half = (row.len() / 2).max(1);
        let pairs = row.iter().zip(row.iter().skip(half));
        let speeds = pairs.map(|(a, b)| ((b.1 - a.1) / (b.0 - a.0)).abs());
        speeds.max_by(f64::total_cmp)
    };
    let mut speeds: Vec<f64> = rests.iter().filter_map(fastest).collect();
    speeds.sort_by(f64::total_cmp);
    let speed = *speeds.len().checked_sub(2).map(|k| &speeds[k])?;
    let within = rests.iter().flat_map(|rest| knots[rest.clone()].windows(3));
    let mut bent: Vec<f64> = within
        .map(|w| (w[0].1 - 2.0 * w[1].1 + w[2].1).abs())
        .collect();
    let noise = 1.4826 / 6f64.sqrt() * order::median_in_place(&mut bent).unwrap_or(0.0);
    (speed >= LEAST_SPEED && speed > OVER_NOISE * noise).then_some(speed)
}

/// The bend behind the knot at `last` of a course.
fn bend(course: &[Knot], last: usize) -> Option<Bend> {
    let ((x0, y0), (x1, y1)) = (course[last], *course.get(last + 1)?);
    let line = |x: f64| y0 + (y1 - y0) * (x - x0) / (x1 - x0);
    let about = &course[(last + 1).saturating_sub(MOST)..(last + 1 + MOST).min(course.len())];
    let near = |knot: &&Knot| knot.0 >= x0 - REACH_S && knot.0 <= x1 + REACH_S;
    let off = about.iter().filter(near).map(|(x, y)| (*x, y - line(*x)));
    let process = Process::of(&off.collect::<Vec<_>>())?;
    let part = (x1 - x0) / f64::from(PIECES);
    let on_the_way = (1..PIECES).map(|k| x0 + f64::from(k) * part);
    let knots = on_the_way.map(|x| (x, line(x) + process.at(x).0));
    Some(Bend {
        knots: knots.collect(),
        sd: process.at(0.5 * (x0 + x1)).1,
    })
}

/// A Gaussian process of mean 0 with a squared-exponential covariance, on what was seen of it.
struct Process {
    at: Vec<f64>,
    scale_s: f64,
    variance: f64,
    factor: Cholesky,
    /// L⁻¹·y.
    seen: Vec<f64>,
}

impl Process {
    /// The likeliest of the scales.
    fn of(seen: &[Knot]) -> Option<Process> {
        let both = SCALES_S.iter().flat_map(|s| NUGGETS.map(|n| (*s, n)));
        let found = both.filter_map(|(scale_s, nugget)| Process::with(seen, scale_s, nugget));
        found
            .max_by(|a, b| a.0.total_cmp(&b.0))
            .map(|(_, process)| process)
    }

    /// With one scale, and its logarithmic likelihood.
    fn with(knots: &[Knot], scale_s: f64, nugget: f64) -> Option<(f64, Process)> {
        let at: Vec<f64> = knots.iter().map(|k| k.0).collect();
        let factor = Cholesky::of(at.len(), |i, j| {
            let own = if i == j { nugget } else { 0.0 };
            alike(at[i] - at[j], scale_s) + own
        })?;
        let values: Vec<f64> = knots.iter().map(|k| k.1).collect();
        let seen = factor.half_solved(&values);
        let count = at.len() as f64;
        let squares = seen.iter().map(|x| x * x).sum::<f64>();
        let variance = (squares / count).max(LEAST_A * LEAST_A);
        let likelihood =
            -0.5 * (squares / variance + count * variance.ln() + factor.ln_determinant());
        let process = Process {
            at,
            scale_s,
            variance,
            factor,
            seen,
        };
        Some((likelihood, process))
    }

    /// Mean and standard deviation at a place.
    fn at(&self, x: f64) -> (f64, f64) {
        let alike = self.at.iter().map(|at| alike(x - at, self.scale_s));
        let half = self.factor.half_solved(&alike.collect::<Vec<_>>());
        let mean = half.iter().zip(&self.seen).map(|(a, b)| a * b).sum();
        let known: f64 = half.iter().map(|a| a * a).sum();
        (mean, (self.variance * (1.0 - known).max(0.0)).sqrt())
    }
}

/// The correlation of two places so far apart.
fn alike(apart_s: f64, scale_s: f64) -> f64 {
    (-0.5 * (apart_s / scale_s).powi(2)).exp()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Knots every 0.125 s in rests of 0.75 s with arcs of 1.25 s between, of a zero given by the seconds.
    fn rested(zero: impl Fn(f64) -> f64) -> Vec<Knot> {
        let begins = (0..4).map(|k| 2.0 * f64::from(k));
        let rest = |on: f64| (0..7).map(move |k| on + 0.125 * f64::from(k));
        begins.flat_map(rest).map(|x| (x, zero(x))).collect()
    }

    /// How far what is drawn half-way through each arc lies from the zero; and whether any bend is.
    fn farthest(zero: impl Fn(f64) -> f64 + Copy) -> (f64, usize) {
        let found = bends(&rested(zero));
        let drawn: Vec<&Bend> = found.iter().flatten().collect();
        let off = drawn.iter().map(|b| {
            let (x, y) = b.knots[b.knots.len() / 2];
            (y - zero(x)).abs()
        });
        (off.fold(0.0, f64::max), drawn.len())
    }

    /// Sine waves of 2 A: half-way through an arc the straight line is off by up to 2·(1 − cos(π·1.25/T)), 0.58 A at 5 s.
    #[test]
    fn a_swing_is_followed_where_the_line_cuts_it_off() {
        for period_s in [4.0, 5.0, 8.0] {
            let swing = |x: f64| 2.0 * (std::f64::consts::TAU * x / period_s).sin();
            let (off, count) = farthest(swing);
            assert_eq!(count, 3);
            assert!(off < 0.1, "{off} at {period_s} s");
        }
    }

    /// The straight line is as good as anything there; and what steps has no course that a bend could follow.
    #[test]
    fn what_stands_or_steps_does_not_bend() {
        assert_eq!(farthest(|_| 0.7).1, 0);
        assert_eq!(farthest(|x| if x < 1.5 { 0.0 } else { 3.0 }).1, 0);
        assert_eq!(farthest(|x| 0.05 * (40.0 * x).sin()).1, 0);
        assert!(bends(&[]).is_empty());
        let slope = |x: f64| 0.4 * x;
        assert!(farthest(slope).0 < 1e-6);
    }

    /// Three places with the scale 1 s and the nugget 0.1, by NumPy's linalg.solve on the same matrices.
    #[test]
    fn mean_and_deviation_are_those_of_the_matrices() {
        let (_, process) = Process::with(&[(0.0, 1.0), (1.0, 0.5), (3.0, -1.0)], 1.0, 0.1).unwrap();
        let (mean, sd) = process.at(2.0);
        assert!((mean - -0.391_418_457_849_892_7).abs() < 1e-9, "{mean}");
        assert!((sd - 0.475_051_576_681_640_8).abs() < 1e-9, "{sd}");
    }
}
