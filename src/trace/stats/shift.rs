//! Hodges–Lehmann shift with its distribution-free interval, for one block or several.

use crate::parallel;
use crate::stats::blocks::{Blocks, SampleBlock};
use crate::stats::dist::two_sided_z;
use crate::stats::exact;
use crate::stats::exact::u_distribution;
use crate::stats::order::{ordered, unordered};

/// Shift of b against a.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shift {
    /// Median of the differences b − a.
    pub estimate: f64,
    /// Lower end of the interval; `None` with too few values for this level.
    pub lo: Option<f64>,
    /// Upper end of the interval; `None` with too few values for this level.
    pub hi: Option<f64>,
}

/// Maximum number of pairs for which the interval comes from the exact distribution of U.
const EXACT_PAIRS: usize = 2500;

/// Hodges & Lehmann (1963): the median of all differences b − a inside blocks, each weighted as
/// van Elteren's test weighs its block, with the interval that inverts that test
/// (Hollander & Wolfe 1973, ch. 4; exact in one small block, else normal).
///
/// The differences are never written down: the mass at or under a value is counted by two pointers
/// over the sorted samples, and the value is found by bisection over the ordered floating numbers.
pub fn hodges_lehmann(blocks: &Blocks, level: f64) -> Shift {
    let differences = Differences::of(blocks);
    let half = differences.total / 2.0;
    // Weights are fractions, so "half" holds up to rounding; a single block counts whole pairs.
    let slack = if blocks.count() == 1 {
        0.0
    } else {
        half * 1e-12
    };
    let estimate = || {
        let (lower, upper) = parallel::both(
            || differences.at(half - slack),
            || differences.over(half + slack),
        );
        lower + (upper - lower) / 2.0
    };
    let ends = || {
        let cut = differences.cut(level);
        let bounded = cut > 0.0;
        let upper = differences.total - cut + slack;
        parallel::both(
            || bounded.then(|| differences.at(cut - slack)),
            || bounded.then(|| differences.over(upper)),
        )
    };
    let (estimate, (lo, hi)) = parallel::both(estimate, ends);
    Shift { estimate, lo, hi }
}

struct Differences<'a> {
    blocks: &'a Blocks,
    total: f64,
    least: f64,
    most: f64,
}

impl<'a> Differences<'a> {
    fn of(blocks: &'a Blocks) -> Self {
        let mut all = Differences {
            blocks,
            total: 0.0,
            least: f64::INFINITY,
            most: f64::NEG_INFINITY,
        };
        for block in blocks.iter() {
            let SampleBlock { a, b } = block;
            all.total += blocks.weight(block) * (a.len() * b.len()) as f64;
            all.least = all.least.min(b[0] - a[a.len() - 1]);
            all.most = all.most.max(b[b.len() - 1] - a[0]);
        }
        all
    }

    /// Weight of the differences at or below `value`.
    fn mass(&self, value: f64) -> f64 {
        let of_block = |block: &SampleBlock| {
            let SampleBlock { a, b } = block;
            // As b grows, fewer values of a are close enough, so `first` only moves up through a.
            let (mut first, mut pairs) = (0, 0);
            for &y in b {
                while first < a.len() && y - a[first] > value {
                    first += 1;
                }
                pairs += a.len() - first;
            }
            self.blocks.weight(block) * pairs as f64
        };
        self.blocks.iter().map(of_block).sum()
    }

    /// The smallest difference for which the mass at or below it is `mass` or more.
    fn at(&self, mass: f64) -> f64 {
        match self.blocks.as_slice() {
            [block] => self.ranked(block, mass.ceil()),
            _ => self.smallest(|below| below >= mass),
        }
    }

    /// The smallest difference for which the mass at or below it is over `mass`.
    fn over(&self, mass: f64) -> f64 {
        match self.blocks.as_slice() {
            [block] => self.ranked(block, mass.floor() + 1.0),
            _ => self.smallest(|below| below > mass),
        }
    }

    /// The difference of a rank, from 1, among those of the only block: looked for between a lower and an upper bound, as in
    /// [`Differences::smallest`], until few are left, which are then written down.
    fn ranked(&self, block: &SampleBlock, rank: f64) -> f64 {
        let rank = rank.clamp(1.0, self.total);
        let few = (block.a.len() + block.b.len()) as f64;
        let (mut lo, mut hi) = (ordered(self.least.next_down()), ordered(self.most));
        let (mut below, mut upto) = (0.0, self.total);
        for step in 0.. {
            if upto - below <= few || lo + 1 >= hi {
                break;
            }
            // The line between the bounds says about where it lies; aiming to both sides of that in turn moves both bounds.
            let aim = match step % 3 {
                0 => None,
                1 => Some(rank - 0.3 * few),
                _ => Some(rank + 0.3 * few),
            };
            let on_line = aim.map(|aim| {
                let part = ((aim - below) / (upto - below)).clamp(0.0, 1.0);
                let (from, to) = (unordered(lo), unordered(hi));
                ordered(from + part * (to - from))
            });
            let between = on_line.filter(|key| (lo + 1..hi).contains(key));
            let middle = between.unwrap_or(lo.midpoint(hi));
            let mass = self.mass(unordered(middle));
            match mass >= rank {
                true => (hi, upto) = (middle, mass),
                false => (lo, below) = (middle, mass),
            }
        }
        if lo + 1 == hi {
            return unordered(hi) + 0.0;
        }
        let mut left = between(block, unordered(lo), unordered(hi));
        let place = (rank - below) as usize - 1;
        let (_, found, _) = left.select_nth_unstable_by(place, f64::total_cmp);
        *found + 0.0
    }

    /// Returns the smallest difference for which the mass at or below it is `enough`.
    fn smallest(&self, enough: impl Fn(f64) -> bool) -> f64 {
        let (mut lo, mut hi) = (ordered(self.least), ordered(self.most));
        while lo < hi {
            let middle = lo.midpoint(hi);
            if enough(self.mass(unordered(middle))) {
                hi = middle;
            } else {
                lo = middle + 1;
            }
        }
        // Adding zero turns negative zero, which bisection may find, into positive zero.
        unordered(lo) + 0.0
    }

    /// Mass left outside the interval on each side; 0 if this level cannot be reached.
    fn cut(&self, level: f64) -> f64 {
        let tail = (1.0 - level) / 2.0;
        if let Some(SampleBlock { a, b }) = self
            .blocks
            .iter()
            .next()
            .filter(|_| self.blocks.count() == 1)
        {
            let (n, m) = (a.len(), b.len());
            if n * m <= EXACT_PAIRS {
                let mut below = 0.0;
                let outside = u_distribution(n, m, n * m / 2).into_iter().take_while(|p| {
                    below += p;
                    below <= tail
                });
                return outside.count() as f64;
            }
        }
        if self.blocks.count() > 1
            && let Some(distribution) = exact::untied_sum(self.blocks)
        {
            let mut below = 0.0;
            // The largest mass that is left outside in no more than `tail` of all cases.
            let outside = distribution.iter().take_while(|(_, p)| {
                below += p;
                below <= tail
            });
            return match distribution.get(outside.count()) {
                Some((next, _)) if *next > 0.0 => *next,
                _ => 0.0,
            };
        }
        let variance: f64 = self
            .blocks
            .iter()
            .map(|block| {
                let (n, m) = (block.a.len() as f64, block.b.len() as f64);
                self.blocks.weight(block).powi(2) * n * m * (n + m + 1.0) / 12.0
            })
            .sum();
        let cut = self.total / 2.0 - two_sided_z(level) * variance.sqrt();
        if self.blocks.count() == 1 {
            cut.floor()
        } else {
            cut
        }
        .max(0.0)
    }
}

/// The differences over `lo` and not over `hi`.
fn between(SampleBlock { a, b }: &SampleBlock, lo: f64, hi: f64) -> Vec<f64> {
    let mut found = Vec::new();
    let mut first = 0;
    for y in b {
        while first < a.len() && y - a[first] > hi {
            first += 1;
        }
        let left = a[first..].iter().map(|x| y - x);
        found.extend(left.take_while(|difference| *difference > lo));
    }
    found
}
