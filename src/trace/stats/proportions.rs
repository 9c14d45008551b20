//! Rates: intervals of a single rate, and comparison of two.

use crate::stats::Interval;
use crate::stats::dist::{beta_quantile, ln_hypergeometric, two_sided_z};

/// Clopper & Pearson's (1934) exact interval for `k` of `n`; 0 to 1 if `n` is 0.
pub fn clopper_pearson(k: u64, n: u64, level: f64) -> Interval {
    assert!(k <= n, "no more events than trials");
    let tail = (1.0 - level) / 2.0;
    let (hits, misses) = (k as f64, (n - k) as f64);
    Interval {
        lo: if k == 0 {
            0.0
        } else {
            beta_quantile(tail, hits, misses + 1.0)
        },
        hi: if k == n {
            1.0
        } else {
            beta_quantile(1.0 - tail, hits + 1.0, misses)
        },
    }
}

/// Wilson's (1927) score interval for `k` of `n` (Newcombe 1998a, method 3).
pub fn wilson(k: u64, n: u64, level: f64) -> Interval {
    assert!(k <= n, "no more events than trials");
    if n == 0 {
        return Interval { lo: 0.0, hi: 1.0 };
    }
    let (n, p) = (n as f64, k as f64 / n as f64);
    let z = two_sided_z(level);
    let z2 = z * z;
    let centre = p + z2 / (2.0 * n);
    let half = z * (p * (1.0 - p) / n + z2 / (4.0 * n * n)).sqrt();
    let scale = 1.0 + z2 / n;
    Interval {
        lo: if p == 0.0 {
            0.0
        } else {
            (centre - half) / scale
        },
        hi: if p == 1.0 {
            1.0
        } else {
            (centre + half) / scale
        },
    }
}

/// Newcombe's (1998b, method 10) interval for the second rate minus the first.
pub fn newcombe(first: (u64, u64), second: (u64, u64), level: f64) -> Interval {
    let rate = |(k, n): (u64, u64)| if n == 0 { 0.5 } else { k as f64 / n as f64 };
    let (p1, p2) = (rate(first), rate(second));
    let (w1, w2) = (
        wilson(first.0, first.1, level),
        wilson(second.0, second.1, level),
    );
    let difference = p2 - p1;
    Interval {
        lo: difference - libm::hypot(p2 - w2.lo, w1.hi - p1),
        hi: difference + libm::hypot(w2.hi - p2, p1 - w1.lo),
    }
}

/// Exact one-sided upper bound of a rate after no event in `n`: 1 − (1 − level)^(1/n). At 95 % this is slightly below
/// 3/n, the rule of three (Hanley & Lippman-Hand 1983). 1 if `n` is 0.
pub fn zero_events_upper(n: u64, level: f64) -> f64 {
    if n == 0 {
        return 1.0;
    }
    1.0 - libm::pow(1.0 - level, 1.0 / n as f64)
}

/// Which tables count as at least as extreme as the observed one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tail {
    /// Tables that are no more likely.
    Both,
    /// Tables with no more events in the first row.
    Less,
    /// Tables with no fewer events in the first row.
    Greater,
}

/// p of Fisher's exact test of two rates, each given as (events, trials), with fixed margins.
pub fn fisher(first: (u64, u64), second: (u64, u64), tail: Tail) -> f64 {
    assert!(
        first.0 <= first.1 && second.0 <= second.1,
        "no more events than trials"
    );
    let events = first.0 + second.0;
    let total = first.1 + second.1;
    let least = events.saturating_sub(second.1);
    let most = events.min(first.1);
    let chance = |k: u64| libm::exp(ln_hypergeometric(k, total, events, first.1));
    // Equal probabilities differ in their last digits: a margin of 1e-7 is common practice.
    let seen = chance(first.0) * (1.0 + 1e-7);
    let p: f64 = (least..=most)
        .filter(|&k| match tail {
            Tail::Both => true,
            Tail::Less => k <= first.0,
            Tail::Greater => k >= first.0,
        })
        .map(chance)
        .filter(|&p| tail != Tail::Both || p <= seen)
        .sum();
    p.min(1.0)
}
