//! A control chart without a distribution: a cumulative sum (CUSUM) of the normal scores of ranks.
//!
//! The rank of a value among the values before it needs no transform, no σ and no shape. The sum is
//! Page's (1954), with the reference value 1 that suits a shift of two standard deviations
//! (NIST/SEMATECH e-Handbook 6.3.2.3); sequential ranks with a growing reference follow McDonald (1990),
//! from memory. The limits are this project's own, found by simulation: `tests/study_charts.rs`
//! holds them to their promise, `docs/statistics.md` says what that is.

use std::collections::VecDeque;

use crate::stats::normal_quantile;

/// What an ordinary value takes off the sum: half of the shift that the chart is made for, in σ.
const ALLOWANCE: f64 = 1.0;

/// The newest values, which are no part of the reference yet: a shift is not measured by itself.
const LAG: usize = 8;

/// A sum that went out is held at this much over its limit, so that it comes back when the values do.
const HELD: f64 = 1.0;

/// Limits by the values that all charts of a batch hold: where neighbours are alike in little (groups
/// that differ by a tenth of the variance), and where much (serial correlation 0.5).
const LIMITS: [(f64, f64, f64); 7] = [
    (30.0, 2.8, 4.5),
    (60.0, 3.5, 5.6),
    (120.0, 4.4, 6.8),
    (240.0, 5.0, 7.5),
    (480.0, 6.0, 8.7),
    (1200.0, 7.3, 10.0),
    (4800.0, 9.8, 12.2),
];

/// Serial correlation, as it may be by a baseline of this size, at which the limit begins to rise and
/// at which it is that of neighbours much alike; beyond it goes on rising until `MOST_ALIKE` times as far.
const CORRELATED: (f64, f64) = (0.1, 0.3);
const MOST_ALIKE: f64 = 1.5;

/// The limit of a sum in a batch whose charts hold `values` values together. `baseline` is what the
/// chart starts from, in order: how much neighbours in it are alike decides where between the two limits it lies, or past them.
pub fn rank_limit(values: usize, baseline: &[f64]) -> f64 {
    let (few, many) = limits(values);
    let correlation = serial_correlation(baseline) + 4.0 / baseline.len().max(1) as f64;
    let (from, to) = CORRELATED;
    few + (many - few) * ((correlation - from) / (to - from)).clamp(0.0, MOST_ALIKE)
}

/// Between the sizes of the table in proportion to their logarithms, beyond its end likewise.
fn limits(values: usize) -> (f64, f64) {
    let size = (values as f64).max(LIMITS[0].0);
    let above = LIMITS.iter().position(|row| row.0 >= size);
    let above = above.unwrap_or(LIMITS.len() - 1).max(1);
    let (a, b) = (LIMITS[above - 1], LIMITS[above]);
    let part = (size / a.0).ln() / (b.0 / a.0).ln();
    (a.1 + part * (b.1 - a.1), a.2 + part * (b.2 - a.2))
}

/// Correlation of each value's normal score with the next one's; 0 where all are alike.
fn serial_correlation(values: &[f64]) -> f64 {
    let mut reference = Reference::of(values);
    let scores: Vec<f64> = values.iter().map(|&v| reference.score(v)).collect();
    let mean = scores.iter().sum::<f64>() / scores.len().max(1) as f64;
    let square: f64 = scores.iter().map(|z| (z - mean).powi(2)).sum();
    let products = scores.windows(2).map(|w| (w[0] - mean) * (w[1] - mean));
    match square > 0.0 {
        true => products.sum::<f64>() / square,
        false => 0.0,
    }
}

/// Values that others are ranked among. The newest are put in order many at a time, and only where a rank is asked for: few charts ask
/// for every one.
#[derive(Debug, Clone)]
struct Reference {
    sorted: Vec<f64>,
    newest: Vec<f64>,
}

/// From this many new values on, they are sorted in before the next rank is given.
const WAITING: usize = 2048;

impl Reference {
    fn of(values: &[f64]) -> Reference {
        let mut sorted = values.to_vec();
        sorted.sort_by(f64::total_cmp);
        Reference {
            sorted,
            newest: Vec::new(),
        }
    }

    fn add(&mut self, value: f64) {
        self.newest.push(value);
    }

    /// Puts the newest among the others, the largest first.
    fn sort_in(&mut self) {
        self.newest.sort_unstable_by(f64::total_cmp);
        let mut left = self.sorted.len();
        self.sorted.resize(left + self.newest.len(), 0.0);
        while let Some(value) = self.newest.pop() {
            while left > 0 && self.sorted[left - 1] > value {
                left -= 1;
                self.sorted[left + self.newest.len() + 1] = self.sorted[left];
            }
            self.sorted[left + self.newest.len()] = value;
        }
    }

    /// The normal score of a value's rank: Φ⁻¹((less + ½ equal + ½) / (n + 1)).
    fn score(&mut self, value: f64) -> f64 {
        if self.newest.len() >= WAITING {
            self.sort_in();
        }
        let mut less = self.sorted.partition_point(|x| *x < value);
        let mut equal = self.sorted[less..].partition_point(|x| *x <= value);
        for x in &self.newest {
            less += usize::from(*x < value);
            equal += usize::from(*x == value);
        }
        let rank = less as f64 + 0.5 * equal as f64 + 0.5;
        let count = self.sorted.len() + self.newest.len();
        normal_quantile(rank / (count as f64 + 1.0))
    }
}

/// What the chart says of one value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RankStep {
    /// The sum after it.
    pub sum: f64,
    /// The sum has passed its limit and has not been back at zero since.
    pub out: bool,
    /// Values since the sum was last zero, this one included: a shift began about this many ago.
    pub since: usize,
}

/// The running sum of one chart. Larger values are worse.
#[derive(Debug, Clone)]
pub struct RankCusum {
    reference: Reference,
    newest: VecDeque<f64>,
    limit: f64,
    step: RankStep,
}

impl RankCusum {
    /// Starts from values of a process in control.
    pub fn new(baseline: &[f64], limit: f64) -> RankCusum {
        RankCusum {
            reference: Reference::of(baseline),
            newest: VecDeque::new(),
            limit,
            step: RankStep {
                sum: 0.0,
                out: false,
                since: 0,
            },
        }
    }

    /// Takes the next value. One that is `harmless` in itself may lower the sum and does not raise it.
    pub fn push(&mut self, value: f64, harmless: bool) -> RankStep {
        let rise = match harmless {
            // From zero it cannot fall, so its rank is not asked for.
            true if self.step.sum == 0.0 => 0.0,
            true => (self.reference.score(value) - ALLOWANCE).min(0.0),
            false => self.reference.score(value) - ALLOWANCE,
        };
        let sum = (self.step.sum + rise).max(0.0);
        let out = sum > self.limit || (self.step.out && sum > 0.0);
        let since = if sum > 0.0 { self.step.since + 1 } else { 0 };
        let sum = sum.min(self.limit + HELD);
        self.step = RankStep { sum, out, since };
        self.newest.push_back(value);
        if self.newest.len() > LAG {
            self.reference.add(self.newest[0]);
            self.newest.pop_front();
        }
        self.step
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: among 1 … 9 the value 9.5 has rank (9 + ½)/10, whose normal score is 1.6449 (any table).
    #[test]
    fn a_value_past_all_others_adds_its_normal_score_less_one() {
        let baseline: Vec<f64> = (1..10).map(f64::from).collect();
        let mut chart = RankCusum::new(&baseline, 1.5);
        let first = chart.push(9.5, false);
        assert!((first.sum - 0.6449).abs() < 1e-4 && !first.out);
        let second = chart.push(9.5, false);
        assert!((second.sum - 1.2897).abs() < 1e-4, "{second:?}");
        assert!(!second.out && chart.push(9.5, true).sum == second.sum);
        let out = chart.push(9.5, false);
        assert!(out.out && out.since == 4, "{out:?}");
    }

    #[test]
    fn a_sum_that_went_out_comes_back_when_the_values_do_and_may_go_out_again() {
        let baseline: Vec<f64> = (0..40).map(f64::from).collect();
        let mut chart = RankCusum::new(&baseline, 4.4);
        let bad: Vec<RankStep> = (0..30).map(|_| chart.push(100.0, false)).collect();
        assert!(bad[29].out && bad[29].sum <= 5.4);
        let good: Vec<RankStep> = (0..12).map(|k| chart.push(f64::from(k), false)).collect();
        assert!(!good[11].out && good[11].sum == 0.0);
    }

    #[test]
    fn a_rank_among_many_is_that_of_all_in_order() {
        let mut chance = tipstrike_demo::Chance::new(4, 0);
        let mut value = || (20.0 * chance.normals().0).round();
        let mut all: Vec<f64> = (0..40).map(|_| value()).collect();
        let mut reference = Reference::of(&all);
        for k in 0..3 * WAITING {
            let next = value();
            if k % 97 == 0 {
                let part =
                    |so: fn(&f64, &f64) -> bool| all.iter().filter(|x| so(x, &next)).count() as f64;
                let rank = part(|x, next| x < next) + 0.5 * part(|x, next| x == next) + 0.5;
                let expected = normal_quantile(rank / (all.len() as f64 + 1.0));
                assert_eq!(reference.score(next), expected, "{k}");
            }
            reference.add(next);
            all.push(next);
        }
    }

    #[test]
    fn equal_values_share_their_rank_and_raise_nothing() {
        let mut chart = RankCusum::new(&[100.0; 40], 4.4);
        assert!((0..200).all(|_| chart.push(100.0, false).sum == 0.0));
    }

    #[test]
    fn a_limit_rises_with_the_values_and_with_the_likeness_of_neighbours() {
        let mixed: Vec<f64> = (0..40).map(|k| f64::from(k * 17 % 40)).collect();
        let sorted: Vec<f64> = (0..40).map(f64::from).collect();
        assert_eq!(rank_limit(120, &mixed), 4.4);
        // One and a half times from 4.4 to 6.8.
        assert!((rank_limit(120, &sorted) - 8.0).abs() < 1e-12);
        let halfway = rank_limit(170, &mixed);
        assert!(halfway > 4.65 && halfway < 4.75, "{halfway}");
        assert!(rank_limit(10_000, &mixed) > 9.8);
        assert_eq!(rank_limit(1, &mixed), 2.8);
    }
}
