//! Starts become answers: comparison, wear, screening, planning. `stats` knows nothing of welding.

mod compare;
pub mod plan;
mod screen;
mod sequential;
mod tips;
mod warnings;
mod wear;
mod words;

pub use compare::{CompareOptions, Which, compare};
pub use screen::{
    Accepted, Alarm, Chart, ChartPoint, Copied, Flagged, NotRead, Reason, RecordingLine, Rule,
    Sampling, SamplingOptions, ScreenGroup, ScreenOptions, Screening, ShortChart, StartName,
    mark_tip_off, screen,
};
pub use warnings::targets_differ;
pub use wear::{REGRIND_SCORE, WEAR_MEASURES, wear};

use serde::Serialize;

use crate::error::{Error, Result};
use crate::measure::{Better, Quantity};
use crate::score::StartRow;

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
    /// With three groups or more: one entry a measure, are they all alike?
    pub overall: Vec<Overall>,
    /// The comparison for those who look after every start, one entry a pair, where asked for.
    pub while_striking: Vec<WhileStriking>,
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
    /// Lower end of its interval; `None` where so few starts bound it nowhere at this level.
    pub shift_lo: Option<f64>,
    /// Upper end of its interval, likewise.
    pub shift_hi: Option<f64>,
    /// Mann–Whitney (with blocks: van Elteren) two-sided p.
    pub p: f64,
    /// The same after Holm over the pairs.
    pub p_holm: f64,
    /// Cliff's delta of b against a.
    pub cliffs_delta: f64,
    /// In a word.
    pub verdict: PairVerdict,
    /// Which way is better; where neither is, `a_better` says that a is the lower one.
    pub better: Better,
    /// The difference worth having; `None` where none is given and none is known.
    pub margin: Option<f64>,
    /// Coupons inside which the groups were compared; 0 where all starts were taken together.
    pub blocks: usize,
    /// How many more starts in each group it would take; `None` where it is settled, or where no
    /// number in reach would settle it.
    pub more_starts: Option<usize>,
}

/// All groups compared at once in one measure (Kruskal–Wallis, coupons not taken apart).
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Overall {
    /// The measure.
    pub measure: String,
    /// H, corrected for ties.
    pub h: f64,
    /// p of "all alike".
    pub p: f64,
}

/// Two groups compared so that looking after every start spoils nothing.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WhileStriking {
    /// First group.
    pub a: String,
    /// Second group.
    pub b: String,
    /// Pairs of starts (one of each group, in order, inside a coupon).
    pub pairs: usize,
    /// Lower end of the confidence sequence of mean score of b less that of a.
    pub score_lo: f64,
    /// Upper end.
    pub score_hi: f64,
    /// Largest e-value so far against equal rates of rough starts: 1 is no evidence.
    pub rough_e: f64,
    /// p of the rough starts that stays valid when looked at all the time.
    pub rough_p: f64,
    /// Evidence (1 / p) at which the rough starts alone decide.
    pub rough_e_needed: f64,
    /// `a_better`, `b_better`, or `not_enough`.
    pub verdict: PairVerdict,
    /// In words.
    pub says: String,
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

/// How one measure of one prep goes with the starts since the tip was ground.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Wear {
    /// The prep.
    pub prep: String,
    /// The measure.
    pub measure: String,
    /// Starts the trend was made from.
    pub starts: usize,
    /// Tips (from one regrind to the next) among them.
    pub tips: usize,
    /// Most starts since a regrind seen.
    pub up_to: f64,
    /// Theil–Sen slope within tips, a start.
    pub slope: f64,
    /// Lower end of its interval.
    pub slope_lo: f64,
    /// Upper end of its interval.
    pub slope_hi: f64,
    /// Value of the fitted line at zero starts since the regrind.
    pub intercept: f64,
    /// Whether the trend is real and to the worse.
    pub wears: bool,
    /// Mann–Kendall two-sided p within tips.
    pub p: f64,
    /// Where the tip goes off at a jump: the last start before it (Pettitt); `None` where none shows.
    pub change_at: Option<f64>,
    /// The limit that asks for a regrind; `None` where the measure has none.
    pub limit: Option<f64>,
    /// Starts since the regrind at which the line meets the limit; `None` where no wear shows, or
    /// where that lies too far beyond what was seen.
    pub at: Option<f64>,
    /// Lower end of its interval.
    pub lo: Option<f64>,
    /// Upper end of its interval; `None` too where the slope's interval leaves it open.
    pub hi: Option<f64>,
    /// The advice in words.
    pub says: String,
}

/// Holds a measure named in an option against what rows have: a measure, `score`, or a sheet column with numbers.
///
/// # Errors
/// A name that nothing has, with the way out.
pub(crate) fn known_measure<'a>(
    rows: impl IntoIterator<Item = &'a StartRow>,
    measure: &str,
    option: &str,
) -> Result<()> {
    let known = !matches!(Quantity::named(measure), Quantity::Column(_));
    if known || rows.into_iter().any(|r| r.value(measure).is_some()) {
        return Ok(());
    }
    let problem = "this is neither a measure nor a sheet column with numbers";
    Err(Error::input(format!("{option} {measure}"), problem).hint(
        "docs/measures.md lists the measures; a column of the run sheet goes by its heading.",
    ))
}
