//! The answer of a screening as data (design of `screen --json`).

use std::sync::Arc;

use serde::Serialize;

use crate::flag::Flag;
use crate::measuring::gather::Miscount;
use crate::study::Wear;

/// Number of the JSON's form; a change that a reader would stumble over raises it.
pub const SCHEMA: u32 = 2;

/// The answer of a screening.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Screening {
    /// Number of this form of the answer.
    pub schema: u32,
    /// Everything within limits, every start found and judged, and every recording read.
    pub pass: bool,
    /// Something is past a limit, cannot be judged, is not where the sheet has it, or does not pass the rate or the sample asked for.
    pub over_limits: bool,
    /// Starts that are judged.
    pub starts: usize,
    /// Of these, rough ones, those that did not light included.
    pub rough: usize,
    /// Of these, ones that did not light.
    pub no_light: usize,
    /// Starts whose reading cannot be trusted, counted apart.
    pub doubtful: usize,
    /// Starts that the run sheet sets aside, counted apart.
    pub set_aside: usize,
    /// Starts without a score, counted apart.
    pub unscored: usize,
    /// What the starts are grouped by.
    pub by: Vec<String>,
    /// Confidence level of the intervals and bounds.
    pub level: f64,
    /// Recordings that could not be read.
    pub not_read: Vec<NotRead>,
    /// Recordings that hold more or fewer starts than their rows of the sheet share out.
    pub miscounted: Vec<Miscount>,
    /// Recordings left for the next time, because they are still being written.
    pub still_written: Vec<String>,
    /// Recordings with the content of another, which alone is counted.
    pub copies: Vec<Copied>,
    /// The groups, worst first.
    pub groups: Vec<ScreenGroup>,
    /// The charts, in the order of the groups.
    pub charts: Vec<Chart>,
    /// Starts past a limit, worst first; of a batch that is screened in parts the worst 1,000 of each.
    pub alarms: Vec<Alarm>,
    /// Wear and regrind advice, one entry a prep and measure.
    #[serde(skip)] // Written with its sentences.
    pub regrind: Vec<Wear>,
    /// Flags of the starts, whether or not a limit is passed.
    pub flags: Vec<Flagged>,
    /// One line a recording, in the order read.
    pub recordings: Vec<RecordingLine>,
    /// The rate of rough starts against the accepted one, where asked for.
    pub accepted: Option<Accepted>,
    /// Acceptance sampling, where asked for.
    pub sampling: Option<Sampling>,
    /// Groups that have too few starts for a chart.
    pub short_charts: Vec<ShortChart>,
    /// A sentence for each recording, or part of one, that holds no start.
    pub empty: Vec<String>,
}

impl Screening {
    /// Starts that cannot be judged, for whatever reason.
    pub fn not_judged(&self) -> usize {
        self.doubtful + self.set_aside + self.unscored
    }

    /// Starts past a limit, those of a large batch that are not listed among `alarms` included.
    pub fn past_limits(&self) -> usize {
        self.groups.iter().map(|group| group.alarms).sum()
    }
}

/// A recording that could not be read.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NotRead {
    /// Its file name.
    pub recording: String,
    /// Why not.
    pub why: String,
}

/// One content under two names.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub struct Copied {
    /// The recording that is left out.
    pub recording: String,
    /// The recording with the same content that is counted.
    pub same_as: String,
}

/// One group of starts.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ScreenGroup {
    /// Its values of the columns grouped by.
    pub id: String,
    /// No alarm in it, and every start judged. Where a rate is accepted or a sample asked for, a rough start
    /// fails it only where its own starts show that there are more than accepted.
    pub pass: bool,
    /// Starts that are judged.
    pub starts: usize,
    /// Of these, rough ones, those that did not light included.
    pub rough: usize,
    /// rough / starts; `None` without starts, as its interval.
    pub rough_rate: Option<f64>,
    /// Lower end of the Clopper–Pearson interval of the rate.
    pub rough_lo: Option<f64>,
    /// Upper end.
    pub rough_hi: Option<f64>,
    /// Starts that did not light.
    pub no_light: usize,
    /// Starts whose reading cannot be trusted, counted apart.
    pub doubtful: usize,
    /// Starts that the run sheet sets aside, counted apart.
    pub set_aside: usize,
    /// Tips that the run sheet names; `None` where it names none.
    pub tips: Option<usize>,
    /// Starts past a limit.
    pub alarms: usize,
    /// Charts that went out.
    pub charts_out: usize,
    /// Starts on its first chart, its baseline's from earlier nights not counted; 0 where there is no chart.
    pub n: usize,
    /// Starts that the chart starts from.
    pub baseline: usize,
    /// Limit of the chart's statistic.
    pub limit: Option<f64>,
    /// By which rule the chart alarms.
    pub rule: Option<Rule>,
}

/// A group with too few starts for a chart.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ShortChart {
    /// The group.
    pub id: String,
    /// The measure.
    pub measure: String,
    /// Starts it has, those of earlier nights included.
    pub starts: usize,
    /// Starts that a chart needs.
    pub needed: usize,
}

/// Control chart of one measure over the starts of one group, in order.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Chart {
    /// Name of the group.
    pub id: String,
    /// The measure charted.
    pub measure: String,
    /// The kind of chart, by the rule it alarms by.
    pub rule: Rule,
    /// Starts of this batch on the chart.
    pub n: usize,
    /// Starts that the limits come from.
    pub baseline: usize,
    /// Of these, starts at the head of this batch; the others are earlier ones.
    pub own_baseline: usize,
    /// Middle of the baseline: its mean, on a rank chart its median.
    pub centre: f64,
    /// Upper limit of the statistic; `None` where nothing can pass it, or a high value is not worse.
    pub upper: Option<f64>,
    /// Lower limit, likewise.
    pub lower: Option<f64>,
    /// The starts, in order.
    pub points: Vec<ChartPoint>,
}

/// One start on a chart.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ChartPoint {
    /// Its recording.
    pub recording: Arc<str>,
    /// Its run.
    pub run: u32,
    /// Its number in the run.
    pub start: u32,
    /// Whether it lit; one that did not ranks as the worst.
    pub lit: bool,
    /// Its value; `None` where it did not light and the measure is not the score.
    pub value: Option<f64>,
    /// What is held against the limits: the sum of a rank chart, the value, or the moving average; `None` in
    /// the baseline of a rank chart.
    pub statistic: Option<f64>,
    /// Upper limit at this start (of a moving average, narrower at first).
    pub upper: Option<f64>,
    /// Lower limit at this start.
    pub lower: Option<f64>,
    /// The chart is out: of a rank chart, until the sum has come back to zero.
    pub out: bool,
    /// Starts ago, this one included, that the sum of a rank chart left zero: where the shift began, about.
    pub since: usize,
}

/// The rule an alarm was raised by, worst first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Rule {
    /// No arc held.
    NoLight,
    /// The verdict is rough.
    Rough,
    /// A measure is past the poor end of its target.
    Target,
    /// The cumulative sum of rank scores has passed its limit: starts are getting worse.
    RankCusum,
    /// A single start is outside the chart's limits, on the bad side.
    Individuals,
    /// The moving average is outside its limits, on the bad side.
    Ewma,
}

impl Rule {
    /// Whether a chart raises it.
    pub fn is_chart(self) -> bool {
        matches!(self, Rule::RankCusum | Rule::Individuals | Rule::Ewma)
    }
}

/// One reason for an alarm.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Reason {
    /// By which rule.
    pub rule: Rule,
    /// The measure; of a chart, the one charted.
    pub measure: String,
    /// Its value, of a chart its statistic; `None` where there is none to show.
    pub value: Option<f64>,
    /// The limit passed; `None` where the rule is a word and not a number.
    pub limit: Option<f64>,
    /// Of a rank chart: the start at which the shift began, about.
    pub since: Option<StartName>,
}

/// What names a start.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub struct StartName {
    /// The recording as given.
    pub recording: Arc<str>,
    /// Row of the run sheet.
    pub run: u32,
    /// Number in the run.
    pub start: u32,
}

/// A start past a limit, with all its reasons.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Alarm {
    /// Its group.
    pub group: String,
    /// Its prep.
    pub prep: Arc<str>,
    /// Its tip, where the sheet names it.
    pub tip_id: Option<Arc<str>>,
    /// The recording as given.
    pub recording: Arc<str>,
    /// Its run.
    pub run: u32,
    /// The start in the run.
    pub start: u32,
    /// Day or moment of the run, where known.
    pub date: Option<Arc<str>>,
    /// What says so: `sheet`, `bext` or `ICRD` (chunks of a WAV file), or `file time`.
    pub date_from: Option<String>,
    /// Where to look in the recording: the first current, else the open circuit, s.
    pub at_s: Option<f64>,
    /// When it lit, s.
    pub t_lit_s: Option<f64>,
    /// Its score.
    pub score: Option<f64>,
    /// The first reason's measure.
    pub measure: String,
    /// The first reason's value.
    pub value: Option<f64>,
    /// The first reason's limit.
    pub limit: Option<f64>,
    /// The first reason's rule, the worst.
    pub rule: Rule,
    /// All reasons, worst first.
    pub reasons: Vec<Reason>,
}

/// A flag that starts of the batch carry.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Flagged {
    /// The flag.
    pub flag: Flag,
    /// Starts that carry it.
    pub starts: usize,
    /// The groups that they are of.
    pub groups: Vec<String>,
}

/// One recording in a line.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RecordingLine {
    /// Its name.
    pub recording: String,
    /// Its prep, or preps joined by blanks.
    pub prep: String,
    /// Starts found.
    pub starts: usize,
    /// Of these, rough ones, those that did not light left out.
    pub rough: usize,
    /// Of these, ones that did not light.
    pub no_light: usize,
    /// Of these, ones that cannot be judged.
    pub not_judged: usize,
    /// Median score.
    pub score_median: Option<f64>,
    /// Lowest score.
    pub score_worst: Option<f64>,
    /// Starts past a limit in it.
    pub alarms: usize,
}

/// The rate of rough starts against an accepted one.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Accepted {
    /// The accepted rate, 0 to 1.
    pub rate: f64,
    /// Exact one-sided upper bound of the rate (Clopper and Pearson) at the screening's level.
    pub upper: f64,
    /// The bound is no higher than the accepted rate.
    pub shown: bool,
    /// Starts that would show it with as many rough ones as there are.
    pub needed: u64,
}

/// Verdict of acceptance sampling by attributes (ISO 2859-1, single, normal).
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sampling {
    /// Starts in the lot.
    pub lot: usize,
    /// Acceptance quality limit, rough starts in a hundred.
    pub aql: f64,
    /// Code letter of the lot (general level II).
    pub letter: char,
    /// Starts the plan asks for.
    pub n: usize,
    /// Accept up to this many rough ones among those judged.
    pub accept: usize,
    /// Rough ones (those that did not light included) among the starts judged.
    pub rough: usize,
    /// Starts judged: all that were measured.
    pub judged: usize,
    /// Accepted; `None` where there were fewer starts than the plan asks for and none yet forbids.
    pub accepted: Option<bool>,
}
