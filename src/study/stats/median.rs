//! The median with its interval.

use super::Interval;
use super::dist::binomial_cdf;

/// The distribution-free interval of the median from order statistics: the widest ranks k from each end
/// with P(X < k) ≤ (1 − level)/2 for X binomial at ½ (Conover, Practical Nonparametric Statistics, 3.2).
/// `None` where so few values (under 6 at 0.95) bound it nowhere.
pub fn median_interval(values: &[f64], level: f64) -> Option<Interval> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let n = sorted.len() as u64;
    let tail = (1.0 - level) / 2.0;
    let cut = (1..=n / 2)
        .take_while(|k| binomial_cdf(k - 1, n, 0.5) <= tail)
        .last()? as usize;
    Some(Interval {
        lo: sorted[cut - 1],
        hi: sorted[sorted.len() - cut],
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Ranks of the 95 % interval as tabled for the sign test in many textbooks (from memory):
    /// n = 6: 1 and 6; n = 10: 2 and 9; n = 20: 6 and 15; n = 30: 10 and 21.
    #[test]
    fn the_median_is_bounded_by_the_tabled_ranks() {
        for (n, low, high) in [(6, 1, 6), (10, 2, 9), (20, 6, 15), (30, 10, 21)] {
            let values: Vec<f64> = (1..=n).rev().map(f64::from).collect();
            let interval = median_interval(&values, 0.95).unwrap();
            assert_eq!(
                (interval.lo, interval.hi),
                (f64::from(low), f64::from(high)),
                "n = {n}"
            );
        }
        assert_eq!(median_interval(&[1.0, 2.0, 3.0, 4.0, 5.0], 0.95), None);
        assert_eq!(median_interval(&[], 0.95), None);
    }
}
