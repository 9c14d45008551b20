//! Two samples, alone or in blocks: Mann–Whitney, van Elteren and Cliff's delta; also Holm's correction.

use crate::parallel;
use crate::stats::blocks::{Blocks, SampleBlock};
use crate::stats::dist::two_sided_p;
use crate::stats::exact::u_distribution;
use crate::stats::ranks::rank_sorted;
use crate::stats::{Ranked, brunner_munzel, exact, rank};

impl Blocks {
    /// p of "no difference", two-sided: Mann–Whitney in one block, van Elteren in more (exact where the blocks are
    /// small).
    pub fn p(&self) -> f64 {
        match self.as_slice() {
            [SampleBlock { a, b }] => by_ranks([a.len(), b.len()], &rank_sorted(a, b)).p,
            _ => match exact::centred_sum(self) {
                Some(distribution) => exact::two_sided(&distribution, centred_sum(self).0),
                None => two_sided_p(van_elteren(self)),
            },
        }
    }

    /// As [`Blocks::p`], and sure where the samples differ in spread: the larger of it and Brunner–Munzel's. Each keeps
    /// the level where the other may not: the one with few values, the other with unequal spread.
    pub fn p_unequal(&self) -> f64 {
        let (p, unequal) = parallel::both(|| self.p(), || brunner_munzel(self));
        p.max(unequal.unwrap_or(0.0))
    }
}

/// Result of [`mann_whitney`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MannWhitney {
    /// Number of pairs in which a is larger; ties count half.
    pub u_a: f64,
    /// Two-sided p.
    pub p: f64,
    /// Whether p is exact.
    pub exact: bool,
}

/// Mann & Whitney (1947), two-sided: exact where there are no ties and one sample has eight values
/// or fewer, else normal with tie and continuity correction (SciPy's default choice).
///
/// # Panics
/// On an empty sample.
pub fn mann_whitney(a: &[f64], b: &[f64]) -> MannWhitney {
    assert!(
        !a.is_empty() && !b.is_empty(),
        "both samples must have values"
    );
    by_ranks([a.len(), b.len()], &rank(&[a, b].concat()))
}

/// [`mann_whitney`] of this many values of a and of b, ranked in that order.
fn by_ranks(sizes: [usize; 2], ranked: &Ranked) -> MannWhitney {
    let [n, m] = sizes.map(|size| size as f64);
    let u_a = ranked.ranks[..sizes[0]].iter().sum::<f64>() - n * (n + 1.0) / 2.0;
    let exact = ranked.tie_term == 0.0 && sizes[0].min(sizes[1]) <= 8;
    let p = if exact {
        let smaller = u_a.min(n * m - u_a) as usize;
        2.0 * u_distribution(sizes[0], sizes[1], smaller)
            .iter()
            .sum::<f64>()
    } else {
        let total = n + m;
        let ties = ranked.tie_term / (total * (total - 1.0));
        let sd = (n * m / 12.0 * (total + 1.0 - ties)).sqrt();
        let distance = (u_a - n * m / 2.0).abs() - 0.5;
        if distance <= 0.0 {
            1.0
        } else {
            two_sided_p(distance / sd)
        }
    };
    MannWhitney {
        u_a,
        p: p.min(1.0),
        exact,
    }
}

/// van Elteren's (1960) z of b against a over the blocks, tie-corrected, without continuity
/// correction; positive where b is larger. 0 where every block is all ties.
pub fn van_elteren(blocks: &Blocks) -> f64 {
    let (sum, variance) = centred_sum(blocks);
    if variance > 0.0 {
        sum / variance.sqrt()
    } else {
        0.0
    }
}

/// Σ w (U_b − mean) over the blocks, and its variance given the ties.
fn centred_sum(blocks: &Blocks) -> (f64, f64) {
    let (mut sum, mut variance) = (0.0, 0.0);
    for block in blocks.iter() {
        let weight = blocks.weight(block);
        let (n, m) = (block.a.len() as f64, block.b.len() as f64);
        let total = n + m;
        let ranked = rank_sorted(&block.b, &block.a);
        let u_b = ranked.ranks[..block.b.len()].iter().sum::<f64>() - m * (m + 1.0) / 2.0;
        let ties = ranked.tie_term / (total * (total - 1.0));
        sum += weight * (u_b - n * m / 2.0);
        variance += weight * weight * n * m / 12.0 * (total + 1.0 - ties);
    }
    (sum, variance)
}

/// Cliff's (1993) delta of b against a: P(b > a) − P(b < a), within blocks.
pub fn cliffs_delta(blocks: &Blocks) -> f64 {
    let (mut difference, mut pairs) = (0.0, 0.0);
    for block in blocks.iter() {
        let SampleBlock { a, b } = block;
        let (mut below, mut not_above, mut sum) = (0, 0, 0.0);
        for &y in b {
            while below < a.len() && a[below] < y {
                below += 1;
            }
            while not_above < a.len() && a[not_above] <= y {
                not_above += 1;
            }
            sum += below as f64 - (a.len() - not_above) as f64;
        }
        let weight = blocks.weight(block);
        difference += weight * sum;
        pairs += weight * (a.len() * b.len()) as f64;
    }
    difference / pairs
}

/// Holm's (1979) step-down adjusted p-values, in the given order.
pub fn holm(p: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..p.len()).collect();
    order.sort_by(|&i, &j| p[i].total_cmp(&p[j]));
    let mut adjusted = vec![0.0; p.len()];
    let mut running = 0.0_f64;
    for (step, &i) in order.iter().enumerate() {
        running = running.max((p.len() - step) as f64 * p[i]).min(1.0);
        adjusted[i] = running;
    }
    adjusted
}
