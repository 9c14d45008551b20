//! Evidence that two groups of tips differ, valid however often one looks.

use std::collections::BTreeMap;

use crate::stats::{Interval, TipValue};

/// What the tips of two groups say so far.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TipEvidence {
    /// Mean of b less mean of a, inside blocks.
    pub shift: f64,
    /// Tips of a and of b.
    pub tips: [usize; 2],
    /// How many pairs' worth: Σ nₐ n_b / (nₐ + n_b) over blocks.
    pub pairs: f64,
    /// Variance of tips about their group and block.
    pub variance: f64,
    /// Its degrees of freedom.
    pub df: f64,
}

/// Least squares of the tip values on group and block, blocks that only one group has giving spread
/// alone. `least` is the smallest variance that the values can have, such as that of counting.
///
/// `None` where no block has both groups, or no tip is left over to show the spread.
pub fn tip_evidence(tips: &[TipValue], a: usize, b: usize, least: f64) -> Option<TipEvidence> {
    // Of each block and side: n, sum, sum of squares.
    let mut blocks: BTreeMap<usize, [[f64; 3]; 2]> = BTreeMap::new();
    for tip in tips {
        if let Some(side) = [a, b].iter().position(|&g| g == tip.group) {
            let cell = &mut blocks.entry(tip.block).or_default()[side];
            let add = [1.0, tip.value, tip.value * tip.value];
            cell.iter_mut().zip(add).for_each(|(sum, x)| *sum += x);
        }
    }
    let count = |side: usize| blocks.values().map(|two| two[side][0]).sum::<f64>();
    let counts = [count(0), count(1)];
    let (mut pairs, mut sum, mut squares) = (0.0, 0.0, 0.0);
    for [one, two] in blocks.values() {
        for [n, sum, square] in [one, two] {
            squares += if *n > 0.0 {
                square - sum * sum / n
            } else {
                0.0
            };
        }
        if one[0] > 0.0 && two[0] > 0.0 {
            let (weight, d) = (
                one[0] * two[0] / (one[0] + two[0]),
                two[1] / two[0] - one[1] / one[0],
            );
            pairs += weight;
            sum += weight * d;
            squares += weight * d * d;
        }
    }
    let df = counts[0] + counts[1] - blocks.len() as f64 - 1.0;
    if pairs == 0.0 || df < 1.0 {
        return None;
    }
    let shift = sum / pairs;
    let left = (squares - pairs * shift * shift).max(0.0);
    Some(TipEvidence {
        shift,
        tips: counts.map(|n| n as usize),
        pairs,
        variance: (left / df).max(least),
        df,
    })
}

impl TipEvidence {
    /// e-value against equal means, 1 being none: the t test's Bayes factor with a standard normal
    /// effect in tip deviations, whose mean is 1 at every look where there is no difference (Lai
    /// 1976; Pérez-Ortiz, Lardy, de Heide & Grünwald 2024, both from memory). 1 where the tips show
    /// no spread at all.
    pub fn e(&self) -> f64 {
        let (n, nu) = (self.pairs, self.df);
        if self.variance <= 0.0 {
            return 1.0;
        }
        let t2 = n * self.shift * self.shift / self.variance;
        let ratio = (1.0 + t2 / nu) / (1.0 + t2 / ((1.0 + n) * nu));
        (0.5 * (nu + 1.0) * ratio.ln() - 0.5 * (1.0 + n).ln())
            .exp()
            .min(f64::MAX)
    }

    /// How many more tips in each group make the e-value `needed`, if shift and spread stay as they are; 0 where it is that
    /// already, `None` where `most` do not. A projection, not a promise: shift and spread are estimates.
    pub fn tips_to_go(&self, needed: f64, most: usize) -> Option<usize> {
        (0..=most).find(|more| {
            let k = *more as f64;
            let projected = TipEvidence {
                // Of balanced groups each two tips are half a pair's worth.
                pairs: self.pairs + 0.5 * k,
                df: self.df + 2.0 * k,
                ..*self
            };
            projected.e() >= needed
        })
    }

    /// All differences of means against which the e-value is under `needed`: holds at every look with
    /// chance 1 − 1/`needed`. `None` where the tips are too few to rule out any.
    pub fn interval(&self, needed: f64) -> Option<Interval> {
        let (n, nu) = (self.pairs, self.df);
        let most = (2.0 / (nu + 1.0) * (needed.ln() + 0.5 * (1.0 + n).ln())).exp();
        if most >= 1.0 + n || self.variance <= 0.0 {
            return None;
        }
        let t2 = nu * (most - 1.0) / (1.0 - most / (1.0 + n));
        let half = (t2 * self.variance / n).sqrt();
        Some(Interval {
            lo: self.shift - half,
            hi: self.shift + half,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tips(a: &[f64], b: &[f64]) -> Vec<TipValue> {
        let of = |group: usize| {
            move |value: &f64| TipValue {
                tip: 0,
                group,
                block: 0,
                value: *value,
                starts: 1,
            }
        };
        a.iter().map(of(0)).chain(b.iter().map(of(1))).collect()
    }

    /// Student's (1908) sleep data as two samples: pooled t = −1.8608 on 18 degrees of freedom (SciPy's ttest_ind).
    /// The e-value is the mean over a standard normal effect δ of SciPy's nct.pdf(t, 18, δ √5) over t.pdf(t, 18),
    /// 1.60924 by quadrature (SciPy 1.17.1).
    #[test]
    fn the_evidence_of_the_sleep_data() {
        let one = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0];
        let two = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4];
        let found = tip_evidence(&tips(&one, &two), 0, 1, 0.0).unwrap();
        let t = found.shift / (found.variance / found.pairs).sqrt();
        assert_eq!((found.pairs, found.df, found.tips), (5.0, 18.0, [10, 10]));
        assert!((t - 1.860_813_467_486_852_6).abs() < 1e-12, "{t}");
        assert!((found.e() - SLEEP_E).abs() < 1e-9, "{}", found.e());
        // At the interval's ends the evidence is what was asked for.
        let ends = found.interval(20.0).unwrap();
        for end in [ends.lo, ends.hi] {
            let against = TipEvidence {
                shift: found.shift - end,
                ..found
            };
            assert!((against.e() - 20.0).abs() < 1e-6, "{}", against.e());
        }
    }

    const SLEEP_E: f64 = 1.609_238_631_893_47;

    #[test]
    fn one_tip_of_each_or_no_spread_is_no_evidence() {
        assert_eq!(tip_evidence(&tips(&[1.0], &[9.0]), 0, 1, 0.0), None);
        let flat = tip_evidence(&tips(&[1.0, 1.0], &[9.0, 9.0]), 0, 1, 0.0).unwrap();
        assert_eq!((flat.e(), flat.interval(20.0)), (1.0, None));
        let counted = tip_evidence(&tips(&[0.0, 0.0], &[0.2, 0.2]), 0, 1, 0.03).unwrap();
        assert!(counted.e() < 2.0, "{counted:?}");
    }

    /// The slow way: the same tips again and again, k of each group more, until the evidence is there.
    #[test]
    fn tips_to_go_are_those_after_which_the_same_shift_and_spread_decide() {
        let found =
            tip_evidence(&tips(&[80.0, 90.0, 85.0], &[60.0, 70.0, 65.0]), 0, 1, 0.0).unwrap();
        let more = found.tips_to_go(80.0, 50).unwrap();
        let after = |k: f64| {
            let n = (3.0 + k) / 2.0;
            TipEvidence {
                pairs: n,
                df: 4.0 + 2.0 * k,
                ..found
            }
        };
        let k = more as f64;
        assert!(after(k).e() >= 80.0 && after(k - 1.0).e() < 80.0, "{more}");
        let alike = tip_evidence(&tips(&[80.0, 90.0], &[85.0, 85.0]), 0, 1, 0.0).unwrap();
        assert_eq!(alike.tips_to_go(80.0, 50), None);
    }

    #[test]
    fn a_block_is_no_difference_of_the_groups() {
        let mut all = tips(&[1.0, 2.0, 3.0], &[2.0, 3.0, 4.0]);
        let plain = tip_evidence(&all, 0, 1, 0.0).unwrap();
        let other: Vec<TipValue> = tips(&[51.0, 52.0, 53.0], &[52.0, 53.0, 54.0])
            .into_iter()
            .map(|tip| TipValue { block: 1, ..tip })
            .collect();
        all.extend(other);
        let both = tip_evidence(&all, 0, 1, 0.0).unwrap();
        assert_eq!((plain.shift, both.shift), (1.0, 1.0));
        assert_eq!((plain.df, both.df, both.pairs), (4.0, 9.0, 3.0));
        assert!((both.variance - 8.0 / 9.0).abs() < 1e-12, "{both:?}");
    }
}
