//! Two samples divided into blocks within which they are comparable.

use rayon::prelude::*;

/// Two samples divided into blocks within which they are comparable; a single block means no blocking.
#[derive(Debug, Clone, PartialEq)]
pub struct Blocks(Vec<SampleBlock>);

/// The two samples of a block, each sorted and not empty.
#[derive(Debug, Clone, PartialEq)]
pub struct SampleBlock {
    /// Values of the first sample.
    pub a: Vec<f64>,
    /// Values of the second sample.
    pub b: Vec<f64>,
}

impl Blocks {
    /// Keeps the blocks in which both samples have values; `None` if there are none.
    pub fn new(blocks: impl IntoIterator<Item = (Vec<f64>, Vec<f64>)>) -> Option<Self> {
        let kept: Vec<_> = blocks
            .into_iter()
            .filter(|(a, b)| !a.is_empty() && !b.is_empty())
            .map(|(mut a, mut b)| {
                a.par_sort_unstable_by(f64::total_cmp);
                b.par_sort_unstable_by(f64::total_cmp);
                SampleBlock { a, b }
            })
            .collect();
        (!kept.is_empty()).then_some(Blocks(kept))
    }

    /// One block.
    pub fn single(a: &[f64], b: &[f64]) -> Option<Self> {
        Self::new([(a.to_vec(), b.to_vec())])
    }

    /// The blocks.
    pub fn iter(&self) -> std::slice::Iter<'_, SampleBlock> {
        self.0.iter()
    }

    /// Number of blocks.
    pub fn count(&self) -> usize {
        self.0.len()
    }

    /// Number of values of a and of b over all blocks.
    pub fn sizes(&self) -> (usize, usize) {
        self.iter().fold((0, 0), |(n, m), block| {
            (n + block.a.len(), m + block.b.len())
        })
    }

    /// van Elteren's weight of a block, 1/(n + m + 1); 1 for a single block.
    pub(super) fn weight(&self, block: &SampleBlock) -> f64 {
        if self.count() == 1 {
            1.0
        } else {
            1.0 / (block.a.len() + block.b.len() + 1) as f64
        }
    }

    pub(super) fn as_slice(&self) -> &[SampleBlock] {
        &self.0
    }
}
