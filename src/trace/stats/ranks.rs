//! Ranks with ties, and the rank test for several groups.

use crate::stats::dist::chi_squared_upper;

/// Midranks of a list and its tie term.
#[derive(Debug, Clone, PartialEq)]
pub struct Ranked {
    /// Midrank of each value, in the given order, from 1.
    pub ranks: Vec<f64>,
    /// Σ (t³ − t) over the groups of t equal values; 0 without ties.
    pub tie_term: f64,
}

/// Ranks values; equal values share the mean of their ranks.
pub fn rank(values: &[f64]) -> Ranked {
    let mut order: Vec<usize> = (0..values.len()).collect();
    order.sort_by(|&i, &j| values[i].total_cmp(&values[j]));
    of_order(values, &order)
}

/// [`rank`] of two sorted samples, one behind the other.
pub(super) fn rank_sorted(a: &[f64], b: &[f64]) -> Ranked {
    let values = [a, b].concat();
    let (mut in_a, mut in_b) = (0, a.len());
    let order: Vec<usize> = (0..values.len())
        .map(|_| {
            let from_b = in_a == a.len()
                || in_b < values.len() && values[in_b].total_cmp(&values[in_a]).is_lt();
            let next = if from_b { &mut in_b } else { &mut in_a };
            *next += 1;
            *next - 1
        })
        .collect();
    of_order(&values, &order)
}

/// Ranks of values whose places by size are known.
fn of_order(values: &[f64], order: &[usize]) -> Ranked {
    let mut ranks = vec![0.0; values.len()];
    let (mut before, mut tie_term) = (0.0, 0.0);
    for tied in order.chunk_by(|&i, &j| values[i] == values[j]) {
        let t = tied.len() as f64;
        for &i in tied {
            ranks[i] = before + (t + 1.0) / 2.0;
        }
        before += t;
        tie_term += t * t * t - t;
    }
    Ranked { ranks, tie_term }
}

/// Kruskal–Wallis H, corrected for ties, and its p from χ² (Kruskal & Wallis 1952).
///
/// `None` with fewer than two groups, an empty group, or equal values only.
pub fn kruskal_wallis(groups: &[&[f64]]) -> Option<(f64, f64)> {
    if groups.len() < 2 || groups.iter().any(|g| g.is_empty()) {
        return None;
    }
    let all = groups.concat();
    let n = all.len() as f64;
    let Ranked { ranks, tie_term } = rank(&all);
    let correction = 1.0 - tie_term / (n * n * n - n);
    if correction <= 0.0 {
        return None;
    }
    let mut rest = ranks.as_slice();
    let mut sum = 0.0;
    for group in groups {
        let (these, others) = rest.split_at(group.len());
        sum += these.iter().sum::<f64>().powi(2) / group.len() as f64;
        rest = others;
    }
    let h = (12.0 / (n * (n + 1.0)) * sum - 3.0 * (n + 1.0)) / correction;
    Some((h, chi_squared_upper(h, groups.len() as f64 - 1.0)))
}
