//! Rank tests that stand unequal spread, and ranks of many groups inside blocks.

use crate::stats::blocks::{Blocks, SampleBlock};
use crate::stats::dist::{chi_squared_upper, two_sided_t};
use crate::stats::rank;
use crate::stats::ranks::rank_sorted;

/// Brunner & Munzel's (2000) two-sided p of P(b > a) + ½ P(b = a) = ½, by Student's t; in blocks the estimates are
/// averaged with weight nm/(n + m) and their variances with the squares of these.
///
/// `None` where a block has fewer than two values on a side, or all values of one side lie on one side of the other
/// (the estimated variance is 0).
pub fn brunner_munzel(blocks: &Blocks) -> Option<f64> {
    let (mut excess, mut variance, mut free) = (0.0, 0.0, 0.0);
    for block in blocks.iter() {
        let SampleBlock { a, b } = block;
        let (n, m) = (a.len() as f64, b.len() as f64);
        if n.min(m) < 2.0 {
            return None;
        }
        let all = rank_sorted(a, b).ranks;
        let (in_a, in_b) = all.split_at(a.len());
        let (mean_a, spread_a) = placements(in_a, a);
        let (mean_b, spread_b) = placements(in_b, b);
        let weight = n * m / (n + m);
        excess += weight * (mean_b - mean_a) / (n + m);
        let (part_a, part_b) = (spread_a / (n * m * m), spread_b / (m * n * n));
        let squared = weight * weight;
        variance += squared * (part_a + part_b);
        free += squared * squared * (part_a * part_a / (n - 1.0) + part_b * part_b / (m - 1.0));
    }
    (variance > 0.0).then(|| two_sided_t(excess / variance.sqrt(), variance * variance / free))
}

/// Mean rank, and variance of the ranks in all less those in the own sample (sorted).
fn placements(overall: &[f64], own: &[f64]) -> (f64, f64) {
    let n = overall.len() as f64;
    let mean = overall.iter().sum::<f64>() / n;
    let own = rank_sorted(own, &[]).ranks;
    let own_mean = (n + 1.0) / 2.0;
    let squares = overall
        .iter()
        .zip(own)
        .map(|(r, o)| (r - o - mean + own_mean).powi(2));
    (mean, squares.sum::<f64>() / (n - 1.0))
}

/// Kruskal & Wallis (1952) inside blocks (Mack & Skillings 1980, each block weighted 1/(N + 1) as van Elteren's test
/// does): the statistic and its χ² p. One block gives Kruskal–Wallis with the correction for ties. `blocks` holds the
/// values of every group in every block.
///
/// `None` with fewer than two groups, or where the blocks cannot tell all groups apart.
pub fn kruskal_wallis_blocks(blocks: &[Vec<Vec<f64>>]) -> Option<(f64, f64)> {
    let free = blocks.first()?.len().checked_sub(1).filter(|k| *k > 0)?;
    let mut sums = vec![0.0; free];
    let mut covariance = vec![vec![0.0; free]; free];
    for block in blocks {
        let all = block.concat();
        let n = all.len() as f64;
        if n < 2.0 {
            continue;
        }
        let ranks = rank(&all).ranks;
        let mean = (n + 1.0) / 2.0;
        let spread = ranks.iter().map(|r| (r - mean).powi(2)).sum::<f64>() / (n - 1.0);
        let weight = 1.0 / (n + 1.0);
        let mut rest = ranks.as_slice();
        for (g, group) in block.iter().take(free).enumerate() {
            let (own, others) = rest.split_at(group.len());
            rest = others;
            sums[g] += weight * own.iter().map(|r| r - mean).sum::<f64>();
            for (h, other) in block.iter().take(free).enumerate() {
                let same = f64::from(u8::from(g == h));
                covariance[g][h] +=
                    weight * weight * spread * group.len() as f64 * (same - other.len() as f64 / n);
            }
        }
    }
    let solved = solve(covariance, sums.clone())?;
    let q: f64 = sums.iter().zip(solved).map(|(s, x)| s * x).sum();
    Some((q, chi_squared_upper(q, free as f64)))
}

/// Gaussian elimination with pivots; `None` where the matrix is singular.
fn solve(mut matrix: Vec<Vec<f64>>, mut right: Vec<f64>) -> Option<Vec<f64>> {
    let n = right.len();
    let scale = (0..n).map(|k| matrix[k][k].abs()).fold(0.0, f64::max);
    for k in 0..n {
        let best = (k..n).max_by(|&i, &j| matrix[i][k].abs().total_cmp(&matrix[j][k].abs()))?;
        matrix.swap(k, best);
        right.swap(k, best);
        if matrix[k][k].abs() <= 1e-12 * scale {
            return None;
        }
        for i in k + 1..n {
            let factor = matrix[i][k] / matrix[k][k];
            let pivot = matrix[k].clone();
            matrix[i]
                .iter_mut()
                .zip(pivot)
                .skip(k)
                .for_each(|(x, p)| *x -= factor * p);
            right[i] -= factor * right[k];
        }
    }
    for k in (0..n).rev() {
        let known: f64 = (k + 1..n).map(|j| matrix[k][j] * right[j]).sum();
        right[k] = (right[k] - known) / matrix[k][k];
    }
    Some(right)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::hodges_lehmann;

    const T: [f64; 10] = [10.0, 10.0, 20.0, 20.0, 20.0, 30.0, 30.0, 30.0, 40.0, 50.0];
    const C: [f64; 6] = [10.0, 20.0, 30.0, 40.0, 40.0, 50.0];

    /// SciPy 1.17.1, `brunnermunzel`: p = 0.4530194041633658.
    #[test]
    fn brunner_munzel_agrees_with_scipy() {
        let p = brunner_munzel(&Blocks::single(&T, &C).unwrap()).unwrap();
        assert!((p - 0.453_019_404_163_365_8).abs() < 1e-12, "{p}");
        let apart = Blocks::single(&[1.0, 2.0], &[3.0, 4.0]).unwrap();
        assert_eq!(brunner_munzel(&apart), None);
    }

    /// SciPy 1.17.1, `kruskal`: H = 1.3069306930693032, p = 0.5202398381463844.
    #[test]
    fn one_block_of_many_groups_is_kruskal_wallis() {
        let block = vec![T.to_vec(), C.to_vec(), vec![5.0, 6.0, 70.0]];
        let (h, p) = kruskal_wallis_blocks(&[block]).unwrap();
        assert!((h - 1.306_930_693_069_303_2).abs() < 1e-12, "{h}");
        assert!((p - 0.520_239_838_146_384_4).abs() < 1e-12, "{p}");
    }

    /// Four blocks of one against one, all of one sign: 2/2⁴ on paper, and no end to the interval. Two tied blocks: every
    /// choice of ranks counted in Python, p = 0.03428571428571429.
    #[test]
    fn van_elteren_is_exact_inside_small_blocks() {
        let pairs = [1.0, 2.0, 3.0, 4.0].map(|x| (vec![x], vec![x + 10.0]));
        let pairs = Blocks::new(pairs).unwrap();
        assert!((pairs.p() - 0.125).abs() < 1e-12, "{}", pairs.p());
        let shift = hodges_lehmann(&pairs, 0.95);
        assert_eq!((shift.lo, shift.hi), (None, None));
        let tied = Blocks::new([
            (vec![1.0, 2.0, 2.0, 5.0], vec![2.0, 6.0, 7.0]),
            (vec![3.0, 4.0], vec![4.0, 9.0, 9.0]),
        ]);
        let p = tied.unwrap().p();
        assert!((p - 0.034_285_714_285_714_29).abs() < 1e-12, "{p}");
    }
}
