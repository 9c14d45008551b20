//! Exact distributions of rank statistics, in one sample pair and inside small blocks.

use crate::stats::blocks::{Blocks, SampleBlock};
use crate::stats::rank;

/// Values of one block up to which its distribution is counted out.
const LARGEST_BLOCK: usize = 40;
/// Different values of the sum up to which it is worth carrying along.
const LARGEST_SUPPORT: usize = 20_000;

/// A distribution over ascending values.
pub(super) type Distribution = Vec<(f64, f64)>;

/// Distribution, given the ties seen, of Σ w (U_b − mean) over the blocks; `None` where a block or the
/// sum is too large, and the normal approximation serves.
pub(super) fn centred_sum(blocks: &Blocks) -> Option<Distribution> {
    convolved(blocks, |block| {
        let ranked = rank(&[block.b.as_slice(), &block.a].concat());
        let doubled: Vec<usize> = ranked.ranks.iter().map(|r| (2.0 * r) as usize).collect();
        let mean = block.b.len() as f64 * (doubled.len() + 1) as f64 / 2.0;
        let sums = subset_sums(&doubled, block.b.len());
        let places = sums.into_iter().enumerate().filter(|(_, p)| *p > 0.0);
        places
            .map(|(sum, p)| (sum as f64 / 2.0 - mean, p))
            .collect()
    })
}

/// Distribution without ties of Σ w U over the blocks, which bounds the shift.
pub(super) fn untied_sum(blocks: &Blocks) -> Option<Distribution> {
    convolved(blocks, |block| {
        let (n, m) = (block.a.len(), block.b.len());
        // The lower half counts up without cancellation; the upper is its mirror image.
        let lower = u_distribution(n, m, n * m / 2);
        (0..=n * m)
            .map(|u| (u as f64, lower[u.min(n * m - u)]))
            .collect()
    })
}

fn convolved(blocks: &Blocks, of: impl Fn(&SampleBlock) -> Distribution) -> Option<Distribution> {
    let mut all = vec![(0.0, 1.0)];
    for block in blocks.iter() {
        if block.a.len() + block.b.len() > LARGEST_BLOCK {
            return None;
        }
        let weight = blocks.weight(block);
        let own = of(block);
        if all.len() * own.len() > 40 * LARGEST_SUPPORT {
            return None;
        }
        let sums = all
            .iter()
            .flat_map(|(x, p)| own.iter().map(move |(y, q)| (x + weight * y, p * q)));
        all = merged(sums.collect());
        if all.len() > LARGEST_SUPPORT {
            return None;
        }
    }
    Some(all)
}

/// Values that differ by rounding only are one.
const ROUNDING: f64 = 1e-9;

fn merged(mut sums: Distribution) -> Distribution {
    sums.sort_by(|x, y| x.0.total_cmp(&y.0));
    let mut out: Distribution = Vec::new();
    for (value, p) in sums {
        match out.last_mut() {
            Some(last) if value - last.0 < ROUNDING => last.1 += p,
            _ => out.push((value, p)),
        }
    }
    out
}

/// Two-sided p: the chance of a sum as far from its mean as the one seen.
pub(super) fn two_sided(distribution: &Distribution, seen: f64) -> f64 {
    let far = distribution
        .iter()
        .filter(|(x, _)| x.abs() >= seen.abs() - ROUNDING);
    far.map(|(_, p)| p).sum::<f64>().min(1.0)
}

/// P(sum of `take` of these numbers = s), each choice alike.
fn subset_sums(numbers: &[usize], take: usize) -> Vec<f64> {
    let total: usize = numbers.iter().sum();
    let mut ways = vec![vec![0.0; total + 1]; take + 1];
    ways[0][0] = 1.0;
    for (seen, &number) in numbers.iter().enumerate() {
        for k in (1..=take.min(seen + 1)).rev() {
            for sum in (number..=total).rev() {
                ways[k][sum] += ways[k - 1][sum - number];
            }
        }
    }
    let all: f64 = ways[take].iter().sum();
    ways[take].iter().map(|w| w / all).collect()
}

/// P(U = 0), …, P(U = `up_to`) without ties, `up_to` ≤ nm/2.
///
/// The counts are the coefficients of the Gaussian binomial ∏ (1 − q^(m+i)) / (1 − q^i), built one
/// factor a step; the lower half keeps clear of the cancellation that the upper half would see.
pub(super) fn u_distribution(n: usize, m: usize, up_to: usize) -> Vec<f64> {
    let (n, m) = (n.min(m), n.max(m));
    let mut counts = vec![0.0; up_to + 1];
    counts[0] = 1.0;
    let mut ways = 1.0;
    for i in 1..=n {
        for u in i..=up_to {
            counts[u] += counts[u - i];
        }
        for u in (m + i..=up_to).rev() {
            counts[u] -= counts[u - m - i];
        }
        ways *= (m + i) as f64 / i as f64;
    }
    counts.iter().map(|c| c / ways).collect()
}
