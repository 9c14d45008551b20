//! Two groups compared by their tips, inside blocks.

use crate::stats::Interval;
use crate::stats::dist::{t_quantile, two_sided_t};
use crate::stats::tip_values::TipValue;

/// How far the tips of b lie from those of a.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TipShift {
    /// Mean of b less mean of a, inside blocks.
    pub shift: f64,
    /// The middle between the two means.
    pub centre: f64,
    /// Tips of a and of b.
    pub tips: [usize; 2],
    /// Blocks that hold tips of both; 0 where none does and all tips were taken together.
    pub blocks: usize,
    /// How surely the shift is known; `None` where the tips show no spread to tell it from.
    pub spread: Option<TipSpread>,
}

/// How surely a shift is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TipSpread {
    /// Standard error of the shift.
    pub se: f64,
    /// Degrees of freedom of its t.
    pub df: f64,
    /// Pooled variance of the tips about their group and block.
    pub variance: f64,
    /// Degrees of freedom of that variance.
    pub variance_df: f64,
}

impl TipSpread {
    /// Two-sided p of "no shift".
    pub fn p(&self, shift: f64) -> f64 {
        two_sided_t(shift / self.se, self.df)
    }

    /// Interval of the shift.
    pub fn interval(&self, shift: f64, level: f64) -> Interval {
        let half = t_quantile(level, self.df) * self.se;
        Interval {
            lo: shift - half,
            hi: shift + half,
        }
    }
}

/// Least squares of the tips' values on group and block, with a variance that lets the groups differ in
/// spread: in one block Welch's (1947) with Satterthwaite's (1946) degrees of freedom; in several each
/// squared residual over 1 − its leverage (HC2: MacKinnon & White 1985; with degrees of freedom by
/// moments: Bell & McCaffrey 2002). The variances in the degrees of freedom lean on the pooled one,
/// weight two: this project's own, found by simulation (docs/statistics.md); without it two or three
/// tips lose half their power. One tip of each group in every block gives the paired t.
///
/// `None` where a group has no tip.
pub fn tip_shift(tips: &[TipValue], a: usize, b: usize) -> Option<TipShift> {
    let mut blocks = blocks(tips, a, b);
    let counts = |side: usize| blocks.iter().map(|block| block.cells[side].n).sum::<f64>();
    let counts = [counts(0), counts(1)];
    if counts[0] == 0.0 || counts[1] == 0.0 {
        return None;
    }
    let shared = blocks.iter().filter(|block| block.size() > 0.0).count();
    if shared == 0 {
        blocks = vec![Block::together(&blocks)];
    }
    let total: f64 = blocks.iter().map(Block::size).sum();
    let mean = |of: fn(&Block) -> f64| {
        blocks
            .iter()
            .map(|block| block.size() * of(block))
            .sum::<f64>()
            / total
    };
    let shift = mean(|block| block.cells[1].mean - block.cells[0].mean);
    Some(TipShift {
        shift,
        centre: mean(|block| 0.5 * (block.cells[1].mean + block.cells[0].mean)),
        tips: counts.map(|n| n as usize),
        blocks: shared,
        spread: Fit::new(&blocks, shift, total).spread(),
    })
}

/// The tips of one group in one block.
#[derive(Debug, Clone, Copy, Default)]
struct TipCell {
    n: f64,
    mean: f64,
    /// Sum of squares about the mean.
    ss: f64,
}

impl TipCell {
    fn add(&mut self, value: f64) {
        self.n += 1.0;
        let before = value - self.mean;
        self.mean += before / self.n;
        self.ss += before * (value - self.mean);
    }

    fn joined(self, other: TipCell) -> TipCell {
        let n = self.n + other.n;
        if n == 0.0 {
            return self;
        }
        let apart = other.mean - self.mean;
        TipCell {
            n,
            mean: self.mean + apart * other.n / n,
            ss: self.ss + other.ss + apart * apart * self.n * other.n / n,
        }
    }
}

#[derive(Debug, Clone, Copy, Default)]
struct Block {
    cells: [TipCell; 2],
}

impl Block {
    fn n(&self) -> f64 {
        self.cells[0].n + self.cells[1].n
    }

    /// What the block knows of the shift: n_A n_B / (n_A + n_B).
    fn size(&self) -> f64 {
        self.cells[0].n * self.cells[1].n / self.n()
    }

    fn together(blocks: &[Block]) -> Block {
        let cell = |side: usize| {
            let cells = blocks.iter().map(|block| block.cells[side]);
            cells.fold(TipCell::default(), TipCell::joined)
        };
        Block {
            cells: [cell(0), cell(1)],
        }
    }
}

/// The blocks that hold tips of a or b.
fn blocks(tips: &[TipValue], a: usize, b: usize) -> Vec<Block> {
    let count = 1 + tips.iter().map(|t| t.block).max().unwrap_or(0);
    let mut blocks = vec![Block::default(); count];
    for tip in tips {
        if let Some(side) = [a, b].iter().position(|&g| g == tip.group) {
            blocks[tip.block].cells[side].add(tip.value);
        }
    }
    blocks.retain(|block| block.n() > 0.0);
    blocks
}

/// A tip with less than this free of the fit leaves no residual.
const FULL: f64 = 1e-9;

/// What all tips of one group in one block share in the least-squares fit: as group and block are all
/// that is fitted, residual maker and hat matrix are constant over a cell, and no matrix is needed.
struct FitCell {
    group: usize,
    n: f64,
    /// Group indicator about the block's mean, over the root of its sum of squares.
    s: f64,
    /// Weight of each tip in the shift.
    w: f64,
    /// 1 − leverage.
    free: f64,
    /// Sum of squared residuals.
    squares: f64,
}

struct Fit {
    /// The two cells of each block.
    blocks: Vec<[FitCell; 2]>,
    /// Tips less coefficients fitted.
    free: f64,
}

impl Fit {
    fn new(blocks: &[Block], shift: f64, total: f64) -> Fit {
        let fitted = |block: &Block| {
            let n = block.n();
            let [a, b] = block.cells;
            let level = (a.n * a.mean + b.n * b.mean) / n;
            // The indicator of b, less its mean in the block; a block of one group says nothing of the shift.
            let indicator = match block.size() > 0.0 {
                true => [-b.n / n, a.n / n],
                false => [0.0, 0.0],
            };
            [0, 1].map(|group| {
                let (cell, x) = (block.cells[group], indicator[group]);
                let off = cell.mean - level - x * shift;
                FitCell {
                    group,
                    n: cell.n,
                    s: x / total.sqrt(),
                    w: x / total,
                    free: 1.0 - 1.0 / n - x * x / total,
                    squares: cell.ss + cell.n * off * off,
                }
            })
        };
        let n: f64 = blocks.iter().map(Block::n).sum();
        Fit {
            blocks: blocks.iter().map(fitted).collect(),
            free: n - blocks.len() as f64 - 1.0,
        }
    }

    fn cells(&self) -> impl Iterator<Item = &FitCell> {
        self.blocks.iter().flatten().filter(|cell| cell.n > 0.0)
    }

    fn spread(&self) -> Option<TipSpread> {
        // A tip that the fit follows wholly says nothing of the spread, and must not count in the shift.
        let blind = self.cells().any(|c| c.free < FULL && c.w != 0.0);
        if blind || self.free < 0.5 {
            return None;
        }
        let seen = || self.cells().filter(|c| c.free >= FULL);
        let variance: f64 = seen().map(|c| c.w * c.w * c.squares / c.free).sum();
        let pooled = self.cells().map(|c| c.squares).sum::<f64>() / self.free;
        if variance.is_nan() || variance <= 0.0 {
            return None;
        }
        let steadier = [0, 1].map(|group| {
            let of = || seen().filter(move |c| c.group == group);
            let free = of().map(|c| c.n * c.free).sum::<f64>().max(0.5);
            let count: f64 = of().map(|c| c.n).sum();
            let own = of().map(|c| c.squares / c.free).sum::<f64>() / count;
            (free * own + 2.0 * pooled) / (free + 2.0)
        });
        Some(TipSpread {
            se: variance.sqrt(),
            df: self.df(steadier).clamp(1.0, self.free),
            variance: pooled,
            variance_df: self.free,
        })
    }

    /// tr(AO)² / tr(AOAO), with A = M diag(w² / (1 − h)) M and O = diag(u), M the residual maker.
    ///
    /// A is, for tips i and j, [same block](−(q_i + q_j)/n + Q/n²) + [i = j] q_i − b_i s_j − s_i b_j + t s_i s_j;
    /// the sums over all pairs are taken apart so that they cost no more than the cells.
    fn df(&self, u: [f64; 2]) -> f64 {
        let q = |c: &FitCell| {
            if c.free < FULL {
                0.0
            } else {
                c.w * c.w / c.free
            }
        };
        let sum = |block: &[FitCell; 2], of: &dyn Fn(&FitCell) -> f64| {
            block.iter().map(|c| c.n * of(c)).sum::<f64>()
        };
        let t: f64 = self.cells().map(|c| c.n * q(c) * c.s * c.s).sum();
        let (mut trace, mut square) = (0.0, 0.0);
        let (mut bb, mut bs, mut ss) = (0.0, 0.0, 0.0);
        for block in &self.blocks {
            let n = sum(block, &|_| 1.0);
            let weights = sum(block, &q);
            let pull = sum(block, &|c| q(c) * c.s) / n;
            let b = |c: &FitCell| q(c) * c.s - pull;
            let between = |c: &FitCell, d: &FitCell| -b(c) * d.s - c.s * b(d) + t * c.s * d.s;
            let within = |c: &FitCell, d: &FitCell| weights / (n * n) - (q(c) + q(d)) / n;
            for c in block {
                let (nu, own) = (c.n * u[c.group], within(c, c) + between(c, c));
                trace += nu * (own + q(c));
                square += nu * u[c.group] * ((own + q(c)).powi(2) - own * own);
                bb += nu * b(c) * b(c);
                bs += nu * b(c) * c.s;
                ss += nu * c.s * c.s;
                for d in block {
                    let across = between(c, d);
                    let both = within(c, d) + across;
                    square += nu * d.n * u[d.group] * (both * both - across * across);
                }
            }
        }
        square += 2.0 * bb * ss + 2.0 * bs * bs + t * t * ss * ss - 4.0 * t * bs * ss;
        trace * trace / square
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tips(blocks: &[[&[f64]; 2]]) -> Vec<TipValue> {
        let mut all = Vec::new();
        for (block, groups) in blocks.iter().enumerate() {
            for (group, values) in groups.iter().enumerate() {
                for &value in *values {
                    all.push(TipValue {
                        group,
                        tip: all.len(),
                        block,
                        value,
                        starts: 1,
                    });
                }
            }
        }
        all
    }

    const ONE: [f64; 10] = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0];
    const TWO: [f64; 10] = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4];

    /// Student's (1908) sleep data; t as SciPy's `ttest_ind(equal_var=False)` gives it.
    #[test]
    fn one_block_has_welchs_t_and_degrees_of_freedom_near_his() {
        let found = tip_shift(&tips(&[[&ONE, &TWO]]), 0, 1).unwrap();
        let spread = found.spread.unwrap();
        let t = -found.shift / spread.se;
        assert!((t + 1.860_813_467_486_852_6).abs() < 1e-12, "{t}");
        // Welch's are 17.776; leaning on the pooled variance brings them nearer to 18.
        assert!((17.77..18.0).contains(&spread.df), "{}", spread.df);
    }

    /// The same data as ten pairs: SciPy's `ttest_rel` gives t = −4.062127683382037, p = 0.00283289019738427 at 9
    /// degrees of freedom.
    #[test]
    fn one_tip_of_each_in_every_block_gives_the_paired_t() {
        let pairs: [[&[f64]; 2]; 10] = std::array::from_fn(|k| [&ONE[k..=k], &TWO[k..=k]]);
        let found = tip_shift(&tips(&pairs), 0, 1).unwrap();
        let spread = found.spread.unwrap();
        assert!((found.shift / spread.se - 4.062_127_683_382_037).abs() < 1e-9);
        assert!((spread.df - 9.0).abs() < 1e-9, "{}", spread.df);
        assert!((spread.p(found.shift) - 0.002_832_890_197_384_27).abs() < 1e-12);
    }

    /// Unbalanced blocks, one of them with one group only, against the definition by NumPy: pseudo-inverse, hat matrix and
    /// traces written out (shift, standard error, degrees of freedom, pooled variance).
    #[test]
    fn the_fit_by_cells_is_the_fit_by_matrices() {
        let two: [[&[f64]; 2]; 2] = [
            [&[-0.8, -1.32, -0.25], &[1.42, 2.14]],
            [&[1.11, 0.45], &[1.22, 2.75, 3.63, 2.27]],
        ];
        let four: [[&[f64]; 2]; 4] = [
            [&[-1.23], &[0.04]],
            [&[2.6, 1.2], &[0.27]],
            [&[1.92, 0.84, 1.37], &[2.51, 2.29, 3.55]],
            [&[], &[3.94, 3.41]],
        ];
        for (blocks, expected) in [
            (
                &two[..],
                [
                    2.105_526_315_789_475,
                    0.406_904_833_262_047,
                    5.764_927_756_373_567,
                    0.570_994_078_947_368_4,
                ],
            ),
            (
                &four[..],
                [
                    0.621_874_999_999_999_3,
                    0.683_570_259_954_714_1,
                    6.173_469_534_556_033,
                    0.890_511_328_125,
                ],
            ),
        ] {
            let found = tip_shift(&tips(blocks), 0, 1).unwrap();
            let spread = found.spread.unwrap();
            let seen = [found.shift, spread.se, spread.df, spread.variance];
            for (ours, theirs) in seen.into_iter().zip(expected) {
                assert!((ours - theirs).abs() < 1e-10, "{seen:?}, {expected:?}");
            }
        }
    }

    #[test]
    fn without_spread_there_is_no_error_to_tell() {
        let flat = tip_shift(&tips(&[[&[1.0, 1.0], &[2.0, 2.0]]]), 0, 1).unwrap();
        assert_eq!((flat.shift, flat.spread), (1.0, None));
        let single = tip_shift(&tips(&[[&[1.0], &[2.0, 2.5, 3.0]]]), 0, 1).unwrap();
        assert_eq!(single.spread, None);
        // Three blocks of which one alone holds both: nothing is left to see a spread by.
        let blocks = tips(&[[&[1.0], &[2.0]], [&[4.0], &[]], [&[], &[9.0]]]);
        let found = tip_shift(&blocks, 0, 1).unwrap();
        assert_eq!((found.shift, found.blocks, found.spread), (1.0, 1, None));
        assert_eq!(tip_shift(&tips(&[[&[1.0], &[]]]), 0, 1), None);
    }

    #[test]
    fn groups_that_share_no_block_are_taken_together() {
        let found = tip_shift(&tips(&[[&[1.0, 2.0], &[]], [&[], &[4.0, 5.0]]]), 0, 1).unwrap();
        assert_eq!((found.shift, found.blocks), (3.0, 0));
        assert!((found.spread.unwrap().df - 2.0).abs() < 1e-9);
    }
}
