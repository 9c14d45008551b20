//! Acceptance sampling of a batch by attributes (ISO 2859-1).

use rand::seq::index;
use rand_chacha::{ChaCha8Rng, rand_core::SeedableRng};

use crate::error::{Error, Result};
use crate::score::StartRow;
use crate::stats;
use crate::study::Sampling;
use crate::study::screen::is_rough;

/// Acceptance sampling by attributes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SamplingOptions {
    /// Acceptance quality limit, rough starts in a hundred.
    pub aql: f64,
    /// Starts in the lot; `None`: those screened.
    pub lot: Option<usize>,
    /// Seed of the draw.
    pub seed: u64,
}

pub(super) fn sample(rows: &[StartRow], asked: &SamplingOptions) -> Result<Sampling> {
    let lot = asked.lot.unwrap_or(rows.len());
    let letter = stats::code_letter(lot);
    let plan = stats::sampling_plan(letter, asked.aql).ok_or_else(|| {
        Error::input(
            "--sampling",
            format!("{} is no acceptance limit of ISO 2859-1", asked.aql),
        )
        .hint("Take one of 0.01 0.015 0.025 0.04 0.065 0.1 0.15 0.25 0.4 0.65 1 1.5 2.5 4 6.5.")
    })?;
    // A sample as large as the lot is the lot.
    let n = plan.n.min(lot);
    let judged = n.min(rows.len());
    let mut rng = ChaCha8Rng::seed_from_u64(asked.seed);
    let drawn = index::sample(&mut rng, rows.len(), judged);
    let rough = drawn.iter().filter(|&i| is_rough(&rows[i])).count();
    let accepted = match rough > plan.accept {
        true => Some(false),
        false => (judged == n).then_some(true),
    };
    Ok(Sampling {
        lot,
        aql: asked.aql,
        letter,
        n,
        accept: plan.accept,
        rough,
        judged,
        accepted,
    })
}
