//! Starts become answers: comparison, wear, screening, planning. `stats` knows nothing of welding.

mod by_starts;
mod by_tips;
mod compare;
mod comparison;
mod confounder;
pub mod plan;
mod screen;
mod sequential;
mod tips;
mod warnings;
mod wear;

pub(crate) use by_tips::{RATE_MARGIN, tips_to_begin_with};
pub use compare::{CompareOptions, Which, compare, compare_rows};
pub use comparison::{
    About, Comparison, Event, Group, Overall, Pair, PairVerdict, Range, RateDifference, Share,
    StartLevel, Withheld,
};
pub use confounder::{Confounder, Warning};
pub use screen::{SamplingOptions, ScreenOptions, mark_tip_off, screen};
pub use sequential::WhileStriking;
pub use wear::{REGRIND_SCORE, WEAR_MEASURES, Wear, WearOf, WearVerdict, wear};

use serde::Serialize;

use crate::error::{Error, Result};
use crate::flag::Flag;
use crate::measure::Quantity;
use crate::score::StartRow;

/// The answer of a screening (design of `screen --json`).
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Screening {
    /// Everything within limits, and every recording read.
    pub pass: bool,
    /// Something is past a limit, or the sample does not pass.
    pub over_limits: bool,
    /// Starts screened.
    pub starts: usize,
    /// What the charts are drawn by.
    pub by: String,
    /// Recordings that could not be read.
    pub not_read: Vec<NotRead>,
    /// One chart a group and measure.
    pub groups: Vec<Chart>,
    /// What is past a limit, worst first.
    pub alarms: Vec<Alarm>,
    /// Wear and regrind advice, one entry a group, prep and measure.
    pub regrind: Vec<Wear>,
    /// Flags of the starts, whether or not a limit is passed.
    pub flags: Vec<Flagged>,
    /// One line a recording, in the order read.
    pub recordings: Vec<RecordingLine>,
    /// Acceptance sampling, where asked for.
    pub sampling: Option<Sampling>,
    /// What to know before trusting the answer, one sentence each.
    pub warnings: Vec<String>,
    /// The answer in plain words, one or two sentences.
    pub answer: String,
}

/// A recording that could not be read.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NotRead {
    /// Its file name.
    pub recording: String,
    /// Why not.
    pub why: String,
}

/// Individuals and EWMA chart of one measure over the starts of one group, in order.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Chart {
    /// Name of the group.
    pub id: String,
    /// The measure charted.
    pub measure: String,
    /// Starts on the chart.
    pub n: usize,
    /// Of these, the first so many that the limits were made from.
    pub baseline: usize,
    /// Centre line.
    pub centre: f64,
    /// Upper limit of single starts.
    pub upper: f64,
    /// Lower limit of single starts.
    pub lower: f64,
    /// Upper limit of the moving average (its final, widest value).
    pub ewma_upper: f64,
    /// Lower limit of the moving average, likewise.
    pub ewma_lower: f64,
    /// The starts, in order.
    pub points: Vec<ChartPoint>,
}

/// One start on a chart.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ChartPoint {
    /// Its recording.
    pub recording: String,
    /// Its run.
    pub run: u32,
    /// Its number in the run.
    pub start: u32,
    /// Its value.
    pub value: f64,
    /// The exponentially weighted moving average up to it.
    pub ewma: f64,
}

/// The rule an alarm was raised by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Rule {
    /// No arc held.
    NoLight,
    /// The verdict is rough.
    Rough,
    /// A measure is past the poor end of its target.
    Target,
    /// A single start is outside the chart's limits, on the bad side.
    Individuals,
    /// The moving average is outside its limits, on the bad side.
    Ewma,
}

/// Something past a limit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Alarm {
    /// Where: the recording.
    pub recording: String,
    /// Its run.
    pub run: u32,
    /// The start in the run.
    pub start: u32,
    /// The measure.
    pub measure: String,
    /// Its value; `None` where there is none to show (no light).
    pub value: Option<f64>,
    /// The limit passed; `None` where the rule is a word and not a number.
    pub limit: Option<f64>,
    /// By which rule.
    pub rule: Rule,
    /// What happened, in words.
    pub why: String,
}

/// A flag that starts of the batch carry.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Flagged {
    /// The flag.
    pub flag: Flag,
    /// Starts that carry it.
    pub starts: usize,
}

/// One recording in a line.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RecordingLine {
    /// Its file name.
    pub recording: String,
    /// Its prep, or preps joined by blanks.
    pub prep: String,
    /// Starts found.
    pub starts: usize,
    /// Of these, rough ones, those that did not light left out.
    pub rough: usize,
    /// Of these, ones that did not light.
    pub no_light: usize,
    /// Median score.
    pub score_median: Option<f64>,
    /// Lowest score.
    pub score_worst: Option<f64>,
    /// Alarms in it.
    pub alarms: usize,
}

/// Verdict of acceptance sampling by attributes (ISO 2859-1, single, normal).
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sampling {
    /// Starts in the lot.
    pub lot: usize,
    /// Acceptance quality limit, rough starts in a hundred.
    pub aql: f64,
    /// Code letter (general level II).
    pub letter: char,
    /// Starts the plan asks for.
    pub n: usize,
    /// Accept up to so many rough ones.
    pub accept: usize,
    /// Rough ones (those that did not light included) among the starts judged.
    pub rough: usize,
    /// Starts judged: a random draw of `n`, or all where there are no more than that.
    pub judged: usize,
    /// Accepted; `None` where there were fewer starts than the plan asks for and none yet forbids.
    pub accepted: Option<bool>,
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
