//! Acceptance by a rate: the exact bound, or sampling by attributes (ISO 2859-1).

use crate::error::{Error, ErrorKind, Place, Result};
use crate::stats;
use crate::study::screen::found::{Accepted, Sampling};

/// Acceptance sampling by attributes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SamplingOptions {
    /// Acceptance quality limit, rough starts in a hundred.
    pub aql: f64,
    /// Starts in the lot; `None`: those screened.
    pub lot: Option<usize>,
}

/// Judges all starts that were measured. A plan of the standard speaks for a sample of its own size; for a larger one its
/// acceptance number is that of the largest plan no larger than the sample, and where the whole lot was
/// measured nothing is left to chance: the limit itself is what its rough starts may not pass.
pub(super) fn sample(rough: usize, judged: usize, asked: &SamplingOptions) -> Result<Sampling> {
    let lot = asked.lot.unwrap_or(judged).max(judged);
    let letter = stats::code_letter(lot);
    let plan = stats::sampling_plan(letter, asked.aql).ok_or_else(|| {
        let problem = format!("{} is no acceptance limit of ISO 2859-1", asked.aql);
        Error::new(
            ErrorKind::InvalidParameter,
            Place::parameter("sampling"),
            problem,
        )
        .hint("Take one of 0.01 0.015 0.025 0.04 0.065 0.1 0.15 0.25 0.4 0.65 1 1.5 2.5 4 6.5.")
    })?;
    let larger = ('A'..='R')
        .filter_map(|letter| stats::sampling_plan(letter, asked.aql))
        .filter(|larger| (plan.n..=judged).contains(&larger.n))
        .max_by_key(|larger| larger.n);
    let whole = (judged == lot).then(|| (asked.aql / 100.0 * lot as f64 + 1e-9) as usize);
    // A sample as large as the lot is the lot.
    let n = plan.n.min(lot);
    let accept = whole.unwrap_or(larger.unwrap_or(plan).accept);
    let accepted = match rough > accept {
        true => Some(false),
        false => (judged >= n).then_some(true),
    };
    Ok(Sampling {
        lot,
        aql: asked.aql,
        letter,
        n,
        accept,
        rough,
        judged,
        accepted,
    })
}

/// Holds the rate of rough starts against the accepted one.
pub(super) fn accepted(rough: usize, starts: usize, rate: f64, level: f64) -> Accepted {
    let upper = upper_bound(rough, starts, level);
    Accepted {
        rate,
        upper,
        shown: upper <= rate,
        needed: stats::demonstration_size(rough as u64, rate, level),
    }
}

/// The exact one-sided upper bound: the upper end of the two-sided interval of half the error.
fn upper_bound(rough: usize, starts: usize, level: f64) -> f64 {
    stats::clopper_pearson(rough as u64, starts as u64, 2.0 * level - 1.0).hi
}

/// Whether starts show by themselves that their rate is over the accepted one.
pub(super) fn is_over(rough: usize, starts: usize, rate: f64, level: f64) -> bool {
    stats::clopper_pearson(rough as u64, starts as u64, 2.0 * level - 1.0).lo > rate
}
