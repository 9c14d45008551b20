//! A straight line through series that each have a level and a slope of their own: the tips.
//!
//! From three tips on the unit is the tip: each gives its own line, and their spread carries what
//! tips differ by and what values within a tip depend on each other (summary measures: Matthews et
//! al. 1990, from memory). With one or two tips the line is about these tips, and the errors come
//! from within them, values next to each other being allowed to resemble each other.

use crate::stats::dist::{t_quantile, two_sided_t};
use crate::stats::trend::{concordance, normal_p, s_variance, sen_slope, unbiased_lag_one};
use crate::stats::{Interval, Series, median};

/// Fewest points of a tip that gives a line.
pub const TIP_POINTS: usize = 5;

/// Fewest tips whose spread speaks for tips not seen.
pub const SPREAD_TIPS: usize = 3;

/// The line of the usual tip.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TipLine {
    /// Tips that gave a line.
    pub tips: usize,
    /// Mean over tips of the line's value at 0.
    pub intercept: f64,
    /// Mean over tips of the slope.
    pub slope: f64,
    /// Mean over tips of Kendall's tau, −1 to 1: which way the values go.
    pub tau: f64,
    /// Two-sided p of "no trend".
    pub p: f64,
    /// Resemblance of neighbours within a tip (lag-one correlation about the line, 0 to 0.95).
    pub correlation: f64,
    /// Variances of intercept and slope, and their covariance.
    errors: Errors,
    df: f64,
}

#[derive(Debug, Clone, Copy, PartialEq, Default)]
struct Errors {
    intercept: f64,
    both: f64,
    slope: f64,
}

/// Where the line meets a value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Meeting {
    /// x of the line itself.
    pub at: f64,
    /// Its interval; `None` where the slope may be 0 or of the other sign, so that it has no end.
    pub interval: Option<Interval>,
}

/// One tip's line (Theil 1950, Sen 1968; the level is the median of what the slope leaves).
struct Own<'a> {
    points: &'a Series,
    intercept: f64,
    slope: f64,
    /// Rising pairs less falling ones.
    s: f64,
    tau: f64,
}

/// A number of one tip's line.
type Of = fn(&Own) -> f64;

impl Own<'_> {
    fn of(points: &Series) -> Option<Own<'_>> {
        if points.len() < TIP_POINTS {
            return None;
        }
        // Its own interval is not asked for: the tips' spread gives the errors.
        let slope = sen_slope(points)?;
        let levels: Vec<f64> = points.iter().map(|(x, y)| y - slope * x).collect();
        let pairs = (points.len() * (points.len() - 1) / 2) as f64;
        let s = concordance(points);
        Some(Own {
            points,
            intercept: median(&levels)?,
            slope,
            s,
            tau: s / pairs,
        })
    }

    fn residuals(&self) -> impl Iterator<Item = f64> {
        let line = |(x, y): &(f64, f64)| y - self.intercept - self.slope * x;
        self.points.iter().map(line)
    }
}

/// The line of the usual tip, each tip counting alike whatever its length: one that is worn out
/// sooner gives fewer points and must not count less for it.
///
/// `None` where no tip has [`TIP_POINTS`] points at different x.
pub fn tip_line(series: &[Series]) -> Option<TipLine> {
    let own: Vec<Own> = series.iter().filter_map(Own::of).collect();
    if own.is_empty() {
        return None;
    }
    let mean = |of: Of| own.iter().map(of).sum::<f64>() / own.len() as f64;
    let mut line = TipLine {
        tips: own.len(),
        intercept: mean(|tip| tip.intercept),
        slope: mean(|tip| tip.slope),
        tau: mean(|tip| tip.tau),
        p: 1.0,
        correlation: resemblance(&own),
        errors: Errors::default(),
        df: own.len() as f64 - 1.0,
    };
    if own.len() >= SPREAD_TIPS {
        line.between(&own);
    } else {
        line.within(&own);
    }
    Some(line)
}

impl TipLine {
    /// Errors from the spread of the tips. The trend has to show both in how the tips agree (t over
    /// their taus) and within them (Mann–Kendall): a few short tips agree by chance.
    fn between(&mut self, own: &[Own]) {
        let n = own.len() as f64;
        let spread = |one: Of, two: Of, m1: f64, m2: f64| {
            let sum: f64 = own.iter().map(|t| (one(t) - m1) * (two(t) - m2)).sum();
            sum / (n - 1.0) / n
        };
        let (level, slope): (Of, Of) = (|t| t.intercept, |t| t.slope);
        self.errors = Errors {
            intercept: spread(level, level, self.intercept, self.intercept),
            both: spread(level, slope, self.intercept, self.slope),
            slope: spread(slope, slope, self.slope, self.slope),
        };
        let error = spread(|t| t.tau, |t| t.tau, self.tau, self.tau).sqrt();
        let agree = match (self.tau, error) {
            (0.0, _) => 1.0,
            (tau, error) => two_sided_t(tau / error, self.df),
        };
        let s = own.iter().map(|tip| tip.s).sum();
        let variance = own.iter().map(|tip| s_variance(tip.points)).sum();
        self.p = agree.max(normal_p(s, variance));
    }

    /// Errors from within the tips, neighbours resembling each other as an autoregression of order
    /// one: the covariance of least squares under it (the variance of Mann and Kendall's S grows as
    /// that of the slope does, after Yue & Wang 2002), on as many degrees of freedom as the values
    /// are worth when independent.
    fn within(&mut self, own: &[Own]) {
        let n: usize = own.iter().map(|tip| tip.points.len()).sum();
        let tips = own.len() as f64;
        let fits: Vec<Fit> = own
            .iter()
            .map(|tip| Fit::of(tip.points, self.correlation))
            .collect();
        let sum = |of: fn(&Fit) -> f64| fits.iter().map(of).sum::<f64>();
        let variance = sum(|fit| fit.squares) / sum(|fit| fit.free) / (tips * tips);
        self.errors = Errors {
            intercept: variance * sum(|fit| fit.errors.intercept),
            both: variance * sum(|fit| fit.errors.both),
            slope: variance * sum(|fit| fit.errors.slope),
        };
        let worth = n as f64 * (1.0 - self.correlation) / (1.0 + self.correlation);
        self.df = (worth - 2.0 * tips).max(1.0);
        let s: f64 = own.iter().map(|tip| concordance(tip.points)).sum();
        let spread = |(tip, fit): (&Own, &Fit)| fit.inflation * s_variance(tip.points);
        let s_variance: f64 = own.iter().zip(&fits).map(spread).sum();
        self.p = if s == 0.0 {
            1.0
        } else {
            two_sided_t((s.abs() - 1.0) / s_variance.sqrt(), self.df)
        };
    }

    /// Interval of the slope.
    pub fn slope_interval(&self, level: f64) -> Interval {
        let half = t_quantile(level, self.df) * self.errors.slope.sqrt();
        Interval {
            lo: self.slope - half,
            hi: self.slope + half,
        }
    }

    /// Where the line meets `value`, with Fieller's (1954) interval: all x at which the line could,
    /// by its errors, have that value. `None` for a level line.
    pub fn meets(&self, value: f64, level: f64) -> Option<Meeting> {
        if self.slope == 0.0 {
            return None;
        }
        let t2 = t_quantile(level, self.df).powi(2);
        let gap = self.intercept - value;
        // (gap + slope x)² ≤ t² Var(intercept + slope x), as a x² + 2 b x + c ≤ 0.
        let a = self.slope * self.slope - t2 * self.errors.slope;
        let b = gap * self.slope - t2 * self.errors.both;
        let c = gap * gap - t2 * self.errors.intercept;
        let root = (b * b - a * c).max(0.0).sqrt();
        Some(Meeting {
            at: -gap / self.slope,
            interval: (a > 0.0).then(|| Interval {
                lo: (-b - root) / a,
                hi: (-b + root) / a,
            }),
        })
    }
}

/// Squares left of a straight line that are nothing but rounding, as part of the squares of the values.
const ROUNDING: f64 = 1e-24;

/// Parameters that a line takes from the resemblance of neighbours (this project's, by simulation).
const LINE_FITTED: f64 = 2.0;

/// Lag-one correlation of what the lines leave, over all tips, freed of the bias that fitting a line gives it.
fn resemblance(own: &[Own]) -> f64 {
    let (mut lagged, mut squares, mut n) = (0.0, 0.0, 0.0);
    for tip in own {
        let left: Vec<f64> = tip.residuals().collect();
        let mean = left.iter().sum::<f64>() / left.len() as f64;
        squares += left.iter().map(|r| (r - mean).powi(2)).sum::<f64>();
        let next = left.windows(2).map(|w| (w[0] - mean) * (w[1] - mean));
        lagged += next.sum::<f64>();
        n += left.len() as f64;
    }
    let n = n / own.len() as f64;
    let values = own.iter().flat_map(|tip| tip.points);
    let all: f64 = values.map(|(_, y)| y * y).sum();
    if squares <= ROUNDING * all {
        return 0.0;
    }
    unbiased_lag_one(lagged, squares, n, LINE_FITTED)
}

/// Least squares of one tip, and what correlated neighbours do to its errors.
struct Fit {
    /// Squares left.
    squares: f64,
    /// What they are expected to be, in variances.
    free: f64,
    /// Covariance, in variances.
    errors: Errors,
    /// Variance of the slope over what it would be with independent values.
    inflation: f64,
}

impl Fit {
    fn of(points: &Series, correlation: f64) -> Fit {
        let n = points.len() as f64;
        let mean_of = |of: fn(&(f64, f64)) -> f64| points.iter().map(of).sum::<f64>() / n;
        let (mx, my) = (mean_of(|p| p.0), mean_of(|p| p.1));
        let sxx: f64 = points.iter().map(|p| (p.0 - mx).powi(2)).sum();
        let slope = points.iter().map(|p| (p.0 - mx) * (p.1 - my)).sum::<f64>() / sxx;
        let left = |p: &(f64, f64)| (p.1 - my - slope * (p.0 - mx)).powi(2);
        // 1'R1, 1'Rx and x'Rx of the correlations R between values, x about its mean.
        let (mut ones, mut mixed, mut squared) = (0.0, 0.0, 0.0);
        for (i, p) in points.iter().enumerate() {
            for (j, q) in points.iter().enumerate() {
                let r = correlation.powi(i.abs_diff(j) as i32);
                ones += r;
                mixed += r * (q.0 - mx);
                squared += r * (p.0 - mx) * (q.0 - mx);
            }
        }
        let (mean, both, steep) = (ones / (n * n), mixed / (n * sxx), squared / (sxx * sxx));
        Fit {
            squares: points.iter().map(left).sum(),
            free: n - ones / n - squared / sxx,
            errors: Errors {
                intercept: mean - 2.0 * mx * both + mx * mx * steep,
                both: both - mx * steep,
                slope: steep,
            },
            inflation: squared / sxx,
        }
    }
}
