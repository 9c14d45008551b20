//! Trends: Mann–Kendall, Theil–Sen, and Pettitt's change point.
//!
//! All but Pettitt's take several series and compare inside each only (Hirsch, Slack & Smith 1982):
//! what differs between series is then no trend.

use crate::stats::dist::{two_sided_p, two_sided_z};
use crate::stats::order::median_by;
use crate::stats::{Interval, median, rank};

/// Points (x, y) of one series.
pub type Series = Vec<(f64, f64)>;

/// Result of [`mann_kendall`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MannKendall {
    /// Rising pairs less falling ones.
    pub s: f64,
    /// Variance of S where there is no trend, corrected for ties.
    pub variance: f64,
    /// Two-sided p: exact for one untied series of up to `EXACT_LENGTH` points, else normal with
    /// continuity correction.
    pub p: f64,
}

/// Longest series whose p is exact.
const EXACT_LENGTH: usize = 30;

/// Mann (1945) and Kendall's test of a trend, S summed over the series.
pub fn mann_kendall(series: &[Series]) -> MannKendall {
    let s: f64 = series.iter().map(|points| concordance(points)).sum();
    let variance: f64 = series.iter().map(|points| s_variance(points)).sum();
    let exact = match series {
        [only] if only.len() <= EXACT_LENGTH && untied(only) => Some(exact_p(only.len(), s)),
        _ => None,
    };
    let p = exact.unwrap_or_else(|| normal_p(s, variance));
    MannKendall { s, variance, p }
}

/// Two-sided p of S with continuity correction.
pub(super) fn normal_p(s: f64, variance: f64) -> f64 {
    match s {
        0.0 => 1.0,
        _ => two_sided_p((s.abs() - 1.0) / variance.sqrt()),
    }
}

pub(super) fn concordance(points: &[(f64, f64)]) -> f64 {
    let sign = |from: f64, to: f64| i64::from(to > from) - i64::from(to < from);
    let rises = rises(points);
    let mut s = 0;
    for (i, &(x, y)) in points.iter().enumerate() {
        let later = points[i + 1..].iter();
        s += match rises {
            true => later.map(|(_, y2)| sign(y, *y2)).sum::<i64>(),
            false => later.map(|(x2, y2)| sign(x, *x2) * sign(y, *y2)).sum(),
        };
    }
    s as f64
}

/// Whether each x is over the one before: then no pair has to be asked for its x.
fn rises(points: &[(f64, f64)]) -> bool {
    points.windows(2).all(|two| two[0].0 < two[1].0)
}

/// Sizes of the groups of equal values.
fn tie_sizes(mut values: Vec<f64>) -> Vec<f64> {
    values.sort_by(f64::total_cmp);
    values
        .chunk_by(|a, b| a == b)
        .map(|tied| tied.len() as f64)
        .collect()
}

fn untied(points: &[(f64, f64)]) -> bool {
    let xs = tie_sizes(points.iter().map(|p| p.0).collect());
    let ys = tie_sizes(points.iter().map(|p| p.1).collect());
    xs.len() == points.len() && ys.len() == points.len()
}

/// Kendall's (1970) variance of S with ties in both x and y.
pub(super) fn s_variance(points: &[(f64, f64)]) -> f64 {
    let n = points.len() as f64;
    if n < 2.0 {
        return 0.0;
    }
    let xs = tie_sizes(points.iter().map(|p| p.0).collect());
    let ys = tie_sizes(points.iter().map(|p| p.1).collect());
    let sum = |ties: &[f64], term: fn(f64) -> f64| ties.iter().map(|&t| term(t)).sum::<f64>();
    let spread = |t: f64| t * (t - 1.0) * (2.0 * t + 5.0);
    let pairs = |t: f64| t * (t - 1.0);
    let triples = |t: f64| t * (t - 1.0) * (t - 2.0);
    let mut variance = (spread(n) - sum(&xs, spread) - sum(&ys, spread)) / 18.0;
    variance += sum(&xs, pairs) * sum(&ys, pairs) / (2.0 * pairs(n));
    if n > 2.0 {
        variance += sum(&xs, triples) * sum(&ys, triples) / (9.0 * triples(n));
    }
    variance
}

/// P(|S| ≥ |s|) for n untied points: orders counted by how many pairs fall.
fn exact_p(n: usize, s: f64) -> f64 {
    let pairs = n * (n.max(1) - 1) / 2;
    let mut chance = vec![0.0; pairs + 1];
    chance[0] = 1.0;
    for size in 2..=n {
        let before = chance.clone();
        for (falling, slot) in chance.iter_mut().enumerate() {
            let from = falling.saturating_sub(size - 1);
            *slot = before[from..=falling].iter().sum::<f64>() / size as f64;
        }
    }
    // S = pairs − 2 falling: |S| or more on one side is this many falling pairs or fewer.
    let falling = (pairs as f64 - s.abs()) / 2.0;
    let tail: f64 = chance[..=falling as usize].iter().sum();
    (2.0 * tail).min(1.0)
}

/// Result of [`theil_sen`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TheilSen {
    /// Median of the slopes of all pairs inside series.
    pub slope: f64,
    /// Its interval.
    pub interval: Interval,
    /// Median x of all points: the line goes through it …
    pub x_median: f64,
    /// … at the median y.
    pub y_median: f64,
}

impl TheilSen {
    /// Value of the line at x = 0.
    pub fn intercept(&self) -> f64 {
        self.y_median - self.slope * self.x_median
    }
}

/// Theil (1950) and Sen's (1968) slope and its interval (Sen's 2.6, variance as in [`mann_kendall`]),
/// over pairs inside series. `None` where no pair has two different x.
pub fn theil_sen(series: &[Series], level: f64) -> Option<TheilSen> {
    let mut slopes: Vec<f64> = series.iter().flat_map(|points| slopes(points)).collect();
    slopes.sort_by(f64::total_cmp);
    let all = || series.iter().flatten();
    let last = slopes.len().checked_sub(1)?;
    let variance: f64 = series.iter().map(|points| s_variance(points)).sum();
    let half_width = two_sided_z(level) * variance.sqrt();
    let lower = ((slopes.len() as f64 - half_width) / 2.0).round_ties_even() - 1.0;
    let upper = ((slopes.len() as f64 + half_width) / 2.0).round_ties_even();
    Some(TheilSen {
        slope: median(&slopes)?,
        interval: Interval {
            lo: slopes[(lower.max(0.0) as usize).min(last)],
            hi: slopes[(upper.max(0.0) as usize).min(last)],
        },
        x_median: median(&all().map(|p| p.0).collect::<Vec<_>>())?,
        y_median: median(&all().map(|p| p.1).collect::<Vec<_>>())?,
    })
}

/// The slope of [`theil_sen`] of one series, without the interval that costs most of the time.
pub(super) fn sen_slope(points: &[(f64, f64)]) -> Option<f64> {
    median_by(&slopes(points), |slope| slope)
}

/// Slopes of all pairs at different x.
fn slopes(points: &[(f64, f64)]) -> Vec<f64> {
    let mut slopes = Vec::with_capacity(points.len() * points.len().saturating_sub(1) / 2);
    let rises = rises(points);
    for (i, &(x, y)) in points.iter().enumerate() {
        let later = &points[i + 1..];
        match rises {
            // Without a branch a pair.
            true => slopes.extend(later.iter().map(|(x2, y2)| (y2 - y) / (x2 - x))),
            false => {
                let later = later.iter().filter(|(x2, _)| *x2 != x);
                slopes.extend(later.map(|(x2, y2)| (y2 - y) / (x2 - x)));
            }
        }
    }
    slopes
}

/// Result of [`pettitt`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pettitt {
    /// How many values come before the change.
    pub before: usize,
    /// Approximate two-sided p, 2 exp(−6K² / (n³ + n²)), for values that do not depend on each other.
    pub p: f64,
    /// The same where neighbours may resemble each other as they do about the two levels: n (1 − ρ)/(1 + ρ)
    /// independent values' worth of evidence. This project's own, held by simulation (docs/statistics.md).
    pub p_resembling: f64,
}

/// Parameters that a change point takes from the resemblance of neighbours: two levels, and two for the
/// search (this project's, by simulation).
const CHANGE_FITTED: f64 = 4.0;

/// Pettitt's (1979) change point of values in order; `None` with fewer than two.
pub fn pettitt(values: &[f64]) -> Option<Pettitt> {
    let n = values.len() as f64;
    let ranks = rank(values).ranks;
    let mut sum = 0.0;
    let (before, k) = (1..values.len())
        .map(|t| {
            sum += ranks[t - 1];
            (t, (2.0 * sum - t as f64 * (n + 1.0)).abs())
        })
        .reduce(|best, next| if next.1 > best.1 { next } else { best })?;
    let evidence = 6.0 * k * k / (n.powi(3) + n * n);
    let p = |evidence: f64| (2.0 * (-evidence).exp()).min(1.0);
    let rho = resemblance(&about_levels(values, before), n, CHANGE_FITTED);
    Some(Pettitt {
        before,
        p: p(evidence),
        p_resembling: p(evidence * (1.0 - rho) / (1.0 + rho)),
    })
}

/// The values before and after a change, each less its mean.
fn about_levels(values: &[f64], before: usize) -> Vec<f64> {
    let (before, after) = values.split_at(before);
    let about = |part: &[f64]| {
        let mean = part.iter().sum::<f64>() / part.len() as f64;
        part.iter().map(|v| v - mean).collect::<Vec<_>>()
    };
    [about(before), about(after)].concat()
}

/// Lag-one correlation of residuals, 0 to 0.95, freed of the bias that fitting gives it: about
/// −(`fitted` + (2 + `fitted`) ρ)/n (Marriott & Pope 1954 for the mean). 0 where nothing is left.
fn resemblance(left: &[f64], n: f64, fitted: f64) -> f64 {
    let lagged: f64 = left.windows(2).map(|w| w[0] * w[1]).sum();
    let squares: f64 = left.iter().map(|r| r * r).sum();
    unbiased_lag_one(lagged, squares, n, fitted)
}

/// The same from the sums of products and of squares.
pub(super) fn unbiased_lag_one(lagged: f64, squares: f64, n: f64, fitted: f64) -> f64 {
    match squares > 0.0 && n > fitted + 2.0 {
        true => ((n * lagged / squares + fitted) / (n - fitted - 2.0)).clamp(0.0, 0.95),
        false => 0.0,
    }
}
