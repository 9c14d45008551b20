//! Exact distributions of rank statistics, in one sample pair and inside small blocks.

use crate::stats::blocks::{Blocks, SampleBlock};
use crate::stats::rank;

/// Values of one block up to which its distribution is counted out.
const LARGEST_BLOCK: usize = 40;
/// Steps of the sum's grid up to which it is worth counting out.
const LARGEST_GRID: usize = 50_000;

/// A distribution over ascending values.
pub(super) type Distribution = Vec<(f64, f64)>;

/// Distribution, given the ties seen, of Σ w (U_b − mean) over the blocks; `None` where a block or the
/// sum is too large, and the normal approximation serves.
pub(super) fn centred_sum(blocks: &Blocks) -> Option<Distribution> {
    let pairs = |block: &SampleBlock| block.a.len() * block.b.len();
    let grid = Grid::of(blocks, |block| {
        let ranked = rank(&[block.b.as_slice(), &block.a].concat());
        let doubled: Vec<usize> = ranked.ranks.iter().map(|r| (2.0 * r) as usize).collect();
        let take = block.b.len();
        // Twice the rank sum is at least that of the lowest ranks, where U is 0.
        subset_sums(&doubled, take).split_off(take * (take + 1))
    })?;
    let weighted = |block| blocks.weight(block) * pairs(block) as f64;
    let middle = blocks.iter().map(weighted).sum::<f64>() / 2.0;
    Some(grid.values(|sum| sum / 2.0 - middle))
}

/// Distribution without ties of Σ w U over the blocks, which bounds the shift.
pub(super) fn untied_sum(blocks: &Blocks) -> Option<Distribution> {
    let grid = Grid::of(blocks, |block| {
        let (n, m) = (block.a.len(), block.b.len());
        // The lower half counts up without cancellation; the upper is its mirror image.
        let lower = u_distribution(n, m, n * m / 2);
        (0..=n * m).map(|u| lower[u.min(n * m - u)]).collect()
    })?;
    Some(grid.values(|sum| sum))
}

/// The distribution of a sum of whole numbers, each over the N + 1 of its block: all its values are
/// whole multiples of one over the least common multiple of these.
struct Grid {
    /// The least common multiple.
    common: usize,
    /// Chance of each number of steps.
    chances: Vec<f64>,
}

impl Grid {
    /// `of` gives the chances of 0, 1, 2, … in a block.
    fn of(blocks: &Blocks, of: impl Fn(&SampleBlock) -> Vec<f64>) -> Option<Grid> {
        let divisor = |block: &SampleBlock| block.a.len() + block.b.len() + 1;
        let mut common = 1;
        for block in blocks.iter() {
            common *= divisor(block) / greatest_divisor(common, divisor(block));
            if divisor(block) > LARGEST_BLOCK + 1 || common > LARGEST_GRID {
                return None;
            }
        }
        let mut chances = vec![1.0];
        for block in blocks.iter() {
            let (own, step) = (of(block), common / divisor(block));
            let before = std::mem::take(&mut chances);
            chances = vec![0.0; before.len() + (own.len() - 1) * step];
            if chances.len() > LARGEST_GRID {
                return None;
            }
            for (k, p) in before.iter().enumerate().filter(|(_, p)| **p > 0.0) {
                for (u, q) in own.iter().enumerate() {
                    chances[k + u * step] += p * q;
                }
            }
        }
        Some(Grid { common, chances })
    }

    fn values(&self, value: impl Fn(f64) -> f64) -> Distribution {
        let each = self.chances.iter().enumerate().filter(|(_, p)| **p > 0.0);
        each.map(|(k, p)| (value(k as f64 / self.common as f64), *p))
            .collect()
    }
}

fn greatest_divisor(a: usize, b: usize) -> usize {
    if b == 0 {
        a
    } else {
        greatest_divisor(b, a % b)
    }
}

/// Values that differ by rounding only are one.
const ROUNDING: f64 = 1e-9;

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
    let mut reach = 0;
    for (seen, &number) in numbers.iter().enumerate() {
        reach += number;
        let left = numbers.len() - seen - 1;
        for k in (take.saturating_sub(left).max(1)..=take.min(seen + 1)).rev() {
            let (fewer, more) = ways.split_at_mut(k);
            let targets = more[0][number..=reach].iter_mut();
            targets
                .zip(&fewer[k - 1])
                .for_each(|(target, source)| *target += source);
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
