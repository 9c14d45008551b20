//! Statistics that know nothing of welding: plain numbers in, plain numbers out.
//!
//! Each routine names the publication it follows; `docs/statistics.md` says what its answer means.
//! Values are finite: a caller drops what could not be measured before it asks here.

mod acceptance;
mod anytime;
mod charts;
mod dist;
pub(crate) mod order;
mod power;
mod proportions;
mod rank_cusum;
mod ranks;
mod samples;
mod shift;
mod trend;

pub use acceptance::{
    Plan, acceptance_probability, code_letter, demonstration_size, sampling_plan, success_run,
};
pub use anytime::{BettingPairs, RatesProcess, rate_sequence};
pub use charts::{Individuals, ewma, ewma_half_width, individuals};
pub use dist::{normal_cdf, normal_quantile};
pub use order::{median, median_interval};
pub use power::{normal_delta, rank_size, rates_power, rates_size, width_size};
pub use proportions::{Tail, clopper_pearson, fisher, newcombe, wilson, zero_events_upper};
pub use rank_cusum::{RankCusum, RankStep, rank_limit};
pub use ranks::{Ranked, kruskal_wallis, rank};
pub use samples::{
    Blocks, MannWhitney, SampleBlock, cliffs_delta, holm, mann_whitney, van_elteren,
};
pub use shift::{Shift, hodges_lehmann};
pub use trend::{MannKendall, Pettitt, Series, TheilSen, mann_kendall, pettitt, theil_sen};

/// Two ends of an interval, lo ≤ hi.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// Lower end.
    pub lo: f64,
    /// Upper end.
    pub hi: f64,
}
