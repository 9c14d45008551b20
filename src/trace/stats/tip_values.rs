//! Starts become one value a tip, freed of the coupons they were struck on.

/// One start: its group, its tip and coupon (both numbered from 0, a tip belonging to one group), its value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TipStart {
    /// Group.
    pub group: usize,
    /// Tip.
    pub tip: usize,
    /// Coupon.
    pub coupon: usize,
    /// Value.
    pub value: f64,
}

/// One tip.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TipValue {
    /// Group.
    pub group: usize,
    /// Tip.
    pub tip: usize,
    /// Coupons that share tips make one block, numbered from 0 in the order met.
    pub block: usize,
    /// Mean of its starts, or its effect where tips of the block were struck on several coupons.
    pub value: f64,
    /// Starts it rests on.
    pub starts: usize,
}

/// The tips, and what scatters within them.
#[derive(Debug, Clone, PartialEq)]
pub struct TipValues {
    /// Tips that have starts, in the order of their numbers.
    pub tips: Vec<TipValue>,
    /// Sum of squares of the starts about their tip (and coupon).
    pub within_ss: f64,
    /// Degrees of freedom of that sum.
    pub within_df: usize,
}

/// Least squares of the value on tip and coupon. Where each tip was struck on one coupon its value is
/// the mean of its starts and the coupon is left to the comparison; where tips link coupons, the
/// coupons' effects (zero in the mean over the block's starts) are taken off first.
pub fn tip_values(starts: &[TipStart]) -> TipValues {
    let tips = 1 + starts.iter().map(|s| s.tip).max().unwrap_or(0);
    let coupons = 1 + starts.iter().map(|s| s.coupon).max().unwrap_or(0);
    let block_of = blocks(starts, coupons, tips);
    let effects = coupon_effects(starts, tips, coupons, &block_of);
    let mut sums: Vec<Option<TipValue>> = vec![None; tips];
    for s in starts {
        let sum = sums[s.tip].get_or_insert(TipValue {
            group: s.group,
            tip: s.tip,
            block: block_of[s.coupon],
            value: 0.0,
            starts: 0,
        });
        sum.value += s.value - effects[s.coupon];
        sum.starts += 1;
    }
    for tip in sums.iter_mut().flatten() {
        tip.value /= tip.starts as f64;
    }
    let residual = |s: &TipStart| {
        let level = sums[s.tip]
            .expect("every tip with a start has its value")
            .value;
        s.value - effects[s.coupon] - level
    };
    let within_ss = starts.iter().map(|s| residual(s).powi(2)).sum();
    let tips: Vec<TipValue> = sums.iter().flatten().copied().collect();
    // In each block one coupon effect less than coupons is estimated.
    let mut used: Vec<usize> = starts.iter().map(|s| s.coupon).collect();
    used.sort_unstable();
    used.dedup();
    let blocks = 1 + tips.iter().map(|t| t.block).max().unwrap_or(0);
    let fitted = tips.len() + used.len() - blocks.min(used.len());
    TipValues {
        tips,
        within_ss,
        within_df: starts.len().saturating_sub(fitted),
    }
}

/// Block of each coupon: coupons linked by a tip share one.
fn blocks(starts: &[TipStart], coupons: usize, tips: usize) -> Vec<usize> {
    let mut parent: Vec<usize> = (0..coupons).collect();
    let mut first: Vec<Option<usize>> = vec![None; tips];
    for s in starts {
        let home = *first[s.tip].get_or_insert(s.coupon);
        let (a, b) = (root(&mut parent, home), root(&mut parent, s.coupon));
        parent[a.max(b)] = a.min(b);
    }
    let mut number = vec![None; coupons];
    let mut next = 0;
    let mut block_of = vec![0; coupons];
    for s in starts {
        let top = root(&mut parent, s.coupon);
        block_of[s.coupon] = *number[top].get_or_insert_with(|| {
            next += 1;
            next - 1
        });
    }
    block_of
}

fn root(parent: &mut [usize], mut at: usize) -> usize {
    while parent[at] != at {
        parent[at] = parent[parent[at]];
        at = parent[at];
    }
    at
}

/// Residual, as part of the first one, at which the solver stops.
const SOLVED: f64 = 1e-13;

/// Effects of the coupons in the two-way fit, by conjugate gradients on the normal equations with the
/// tips eliminated (Hestenes & Stiefel 1952): symmetric, consistent, and never written down.
fn coupon_effects(
    starts: &[TipStart],
    tips: usize,
    coupons: usize,
    block_of: &[usize],
) -> Vec<f64> {
    let mut effects = vec![0.0; coupons];
    let values: Vec<f64> = starts.iter().map(|s| s.value).collect();
    let mut residual = about_tips(starts, &values, tips, coupons);
    let mut direction = residual.clone();
    let mut left = dot(&residual, &residual);
    let enough = left * SOLVED * SOLVED;
    for _ in 0..2 * coupons {
        if left <= enough || left == 0.0 {
            break;
        }
        let along: Vec<f64> = starts.iter().map(|s| direction[s.coupon]).collect();
        let image = about_tips(starts, &along, tips, coupons);
        let bend = dot(&direction, &image);
        // Coupons that no tip links have no equation: nothing is to be taken off.
        if bend <= 0.0 {
            break;
        }
        let step = left / bend;
        for k in 0..coupons {
            effects[k] += step * direction[k];
            residual[k] -= step * image[k];
        }
        let now = dot(&residual, &residual);
        for k in 0..coupons {
            direction[k] = residual[k] + now / left * direction[k];
        }
        left = now;
    }
    centred(starts, effects, block_of)
}

/// For each coupon the sum of its starts' values, each less the mean of its tip.
fn about_tips(starts: &[TipStart], values: &[f64], tips: usize, coupons: usize) -> Vec<f64> {
    let mut means = vec![(0.0, 0.0); tips];
    for (s, value) in starts.iter().zip(values) {
        means[s.tip].0 += value;
        means[s.tip].1 += 1.0;
    }
    let mut sums = vec![0.0; coupons];
    for (s, value) in starts.iter().zip(values) {
        let (sum, n) = means[s.tip];
        sums[s.coupon] += value - sum / n;
    }
    sums
}

/// The effects with mean zero over the starts of each block.
fn centred(starts: &[TipStart], mut effects: Vec<f64>, block_of: &[usize]) -> Vec<f64> {
    let blocks = 1 + block_of.iter().max().copied().unwrap_or(0);
    let mut means = vec![(0.0, 0.0); blocks];
    for s in starts {
        let mean = &mut means[block_of[s.coupon]];
        mean.0 += effects[s.coupon];
        mean.1 += 1.0;
    }
    for (effect, &block) in effects.iter_mut().zip(block_of) {
        let (sum, n) = means[block];
        *effect -= sum / f64::max(n, 1.0);
    }
    effects
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn start(group: usize, tip: usize, coupon: usize, value: f64) -> TipStart {
        TipStart {
            group,
            tip,
            coupon,
            value,
        }
    }

    #[test]
    fn tips_on_one_coupon_each_are_their_means_and_the_coupons_stay_apart() {
        let found = tip_values(&[
            start(0, 0, 0, 1.0),
            start(0, 0, 0, 3.0),
            start(1, 1, 1, 7.0),
            start(1, 2, 1, 9.0),
        ]);
        let seen: Vec<_> = found
            .tips
            .iter()
            .map(|t| (t.block, t.value, t.starts))
            .collect();
        assert_eq!(seen, [(0, 2.0, 2), (1, 7.0, 1), (1, 9.0, 1)]);
        assert_eq!((found.within_ss, found.within_df), (2.0, 1));
    }

    /// Tip effects 0, 1, 5 and coupon effects −2, 3, 10 in an unbalanced table without noise: the
    /// differences between tips come back (exact by construction), and nothing is left within.
    #[test]
    fn coupons_linked_by_tips_are_taken_off() {
        let (tip, coupon) = ([0.0, 1.0, 5.0], [-2.0, 3.0, 10.0]);
        let places = [
            (0, 0),
            (0, 1),
            (1, 1),
            (1, 1),
            (1, 2),
            (2, 2),
            (2, 0),
            (2, 0),
        ];
        let starts: Vec<_> = places
            .iter()
            .map(|&(t, c)| start(t % 2, t, c, tip[t] + coupon[c]))
            .collect();
        let found = tip_values(&starts);
        let level = found.tips[0].value;
        for (seen, truth) in found.tips.iter().zip(tip) {
            assert!((seen.value - level - truth).abs() < 1e-12, "{seen:?}");
            assert_eq!(seen.block, 0);
        }
        assert!(found.within_ss < 1e-20);
        // Eight starts, three tips, three coupons of which two are free.
        assert_eq!(found.within_df, 3);
    }
}
