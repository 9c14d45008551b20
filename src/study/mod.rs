//! Starts become answers: comparison, wear, screening, planning. `stats` knows nothing of welding.

pub mod table;

use serde::Serialize;

/// The answer of a comparison (design of `compare --json`).
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Comparison {
    /// What the starts were grouped by.
    pub by: String,
    /// Confidence level of every interval, 0 to 1.
    pub level: f64,
    /// One entry a group.
    pub groups: Vec<Group>,
    /// One entry a pair of groups and measure.
    pub pairs: Vec<Pair>,
    /// One entry a pair of groups and event.
    pub rates: Vec<RateDifference>,
    /// What spoils the comparison, one sentence each.
    pub warnings: Vec<String>,
    /// The answer in plain words, one or two sentences.
    pub answer: String,
}

/// One group of starts.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Group {
    /// Name of the group.
    pub id: String,
    /// Starts in it.
    pub starts: usize,
    /// Of these, how many lit.
    pub lit: usize,
    /// Of these, how many did not.
    pub no_light: usize,
    /// Rough starts, those that did not light included.
    pub rough: usize,
    /// rough / starts.
    pub rough_rate: f64,
    /// Clopper–Pearson interval of the rate.
    pub rough_lo: f64,
    /// Its upper end.
    pub rough_hi: f64,
    /// Median score.
    pub score_median: Option<f64>,
}

/// The words of a comparison of two groups.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum PairVerdict {
    /// The first group is better.
    ABetter,
    /// The second group is better.
    BBetter,
    /// The interval lies inside the margin worth having.
    NoDifference,
    /// Not enough starts to tell.
    NotEnough,
}

/// Two groups compared in one measure.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Pair {
    /// First group.
    pub a: String,
    /// Second group.
    pub b: String,
    /// The measure.
    pub measure: String,
    /// Values in a.
    pub n_a: usize,
    /// Values in b.
    pub n_b: usize,
    /// Median of a.
    pub median_a: f64,
    /// Median of b.
    pub median_b: f64,
    /// Hodges–Lehmann estimate of b − a.
    pub shift: f64,
    /// Lower end of its interval.
    pub shift_lo: f64,
    /// Upper end of its interval.
    pub shift_hi: f64,
    /// Mann–Whitney (with blocks: van Elteren) two-sided p.
    pub p: f64,
    /// The same after Holm over the pairs.
    pub p_holm: f64,
    /// Cliff's delta of b against a.
    pub cliffs_delta: f64,
    /// In a word.
    pub verdict: PairVerdict,
    /// How many more starts in each group it would take; `None` where it is settled.
    pub more_starts: Option<usize>,
}

/// Two groups compared in the rate of an event.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RateDifference {
    /// First group.
    pub a: String,
    /// Second group.
    pub b: String,
    /// `rough` or `no_light`.
    pub event: String,
    /// Rate in a.
    pub rate_a: f64,
    /// Rate in b.
    pub rate_b: f64,
    /// rate_b − rate_a.
    pub diff: f64,
    /// Newcombe's interval.
    pub diff_lo: f64,
    /// Its upper end.
    pub diff_hi: f64,
    /// Fisher's exact two-sided p.
    pub p: f64,
}
