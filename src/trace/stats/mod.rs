//! Statistics that know nothing of welding: plain numbers in, plain numbers out.
//!
//! Each routine names the publication it follows; `docs/statistics.md` says what its answer means.
//! Values are finite: a caller drops what could not be measured before it asks here.
//! A *tip* stands here for any cluster whose values share a level, a *coupon* for any block.

mod acceptance;
mod agreement;
mod blocks;
mod charts;
pub(crate) mod cholesky;
mod dist;
mod exact;
pub mod order;
mod power;
mod proportions;
mod rank_cusum;
mod ranks;
mod samples;
mod shift;
mod tip_evidence;
mod tip_line;
mod tip_rates;
mod tip_share;
mod tip_shift;
mod tip_values;
mod trend;
mod unequal;

pub use acceptance::{
    Plan, acceptance_probability, code_letter, demonstration_size, sampling_plan, success_run,
};
pub use agreement::{Agreement, agreement, poisson_rate};
pub use blocks::{Blocks, SampleBlock};
pub use charts::{Individuals, ewma, ewma_half_width, individuals};
pub use dist::{normal_cdf, normal_quantile};
pub use order::{median, median_interval};
pub use power::{
    TipsNeeded, rates_power, rates_size, tips_needed, tips_shift_seen, tips_size, variance_bound,
};
pub use proportions::{Tail, clopper_pearson, fisher, newcombe, wilson, zero_events_upper};
pub use rank_cusum::{RankCusum, RankStep, rank_limit};
pub use ranks::{Ranked, kruskal_wallis, rank};
pub use samples::{MannWhitney, cliffs_delta, holm, mann_whitney, van_elteren};
pub use shift::{Shift, hodges_lehmann};
pub use tip_evidence::{TipEvidence, tip_evidence};
pub use tip_line::{Meeting, SPREAD_TIPS, TIP_POINTS, TipLine, tip_line};
pub use tip_rates::{TipRates, TipTrial, tip_rates};
pub use tip_share::{TipShare, tip_share};
pub use tip_shift::{TipShift, TipSpread, tip_shift};
pub use tip_values::{TipStart, TipValue, TipValues, tip_values};
pub use trend::{MannKendall, Pettitt, Series, TheilSen, mann_kendall, pettitt, theil_sen};
pub use unequal::{brunner_munzel, kruskal_wallis_blocks};

/// Two ends of an interval, lo ≤ hi.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// Lower end.
    pub lo: f64,
    /// Upper end.
    pub hi: f64,
}
