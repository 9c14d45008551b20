//! The answer of a comparison, as data; `report::words` says it in sentences.

use serde::Serialize;

use crate::measure::Better;
use crate::score::{StartRow, Verdict};
use crate::study::Warning;

/// The answer of a comparison (design of `compare --json`).
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Comparison {
    /// What the starts were grouped by.
    pub by: String,
    /// Confidence level of every interval, 0 to 1.
    pub level: f64,
    /// The measure that answers the question.
    pub answers: String,
    /// These starts extend a set that was compared before: the level is that of a second look.
    pub extended: bool,
    /// Starts set aside by the sheet, counted in no answer.
    pub set_aside: usize,
    /// Starts that cannot be trusted, counted in no answer.
    pub doubtful: usize,
    /// One entry a group.
    pub groups: Vec<Group>,
    /// One entry a pair of groups and measure.
    pub pairs: Vec<Pair>,
    /// One entry a pair of groups and event.
    pub rates: Vec<RateDifference>,
    /// With three groups or more: one entry a measure, are they all alike?
    pub overall: Vec<Overall>,
    /// The comparison for those who look after every start, one entry a pair, where asked for.
    #[serde(skip)] // Written with its sentences.
    pub while_striking: Vec<WhileStriking>,
    /// What spoils the comparison.
    #[serde(skip)] // Written with its sentences.
    pub warnings: Vec<Warning>,
}

/// One group of starts.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Group {
    /// Name of the group.
    pub id: String,
    /// Tips its starts were struck on.
    pub tips: usize,
    /// Starts counted.
    pub starts: usize,
    /// Of these, how many lit.
    pub lit: usize,
    /// Of these, how many did not.
    pub no_light: usize,
    /// Rough starts, those that did not light included.
    pub rough: usize,
    /// rough / starts.
    pub rough_rate: f64,
    /// Clopper–Pearson interval of the rate among starts like these; it knows nothing of tips.
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
    /// The interval lies inside the margin worth having, and so does the share of poor starts.
    NoDifference,
    /// Not enough to tell.
    NotEnough,
}

/// What a difference speaks of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum About {
    /// The groups: tips are the unit.
    Prep,
    /// These tips only: a group has one, and starts are the unit.
    Tips,
}

/// Why no verdict is given where the numbers may look clear.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Withheld {
    /// The tips show no spread to judge by.
    NoSpread,
    /// Two or three tips with one start each do not carry a score or a count.
    OneStartATip,
    /// Two tips of one group against more of the other: what the two hardly show, their spread, decides.
    UnequalTips,
    /// The shift lies inside the margin, the share of poor starts may not.
    PoorStarts,
}

/// A number that only a range is known of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Range {
    /// Lower end.
    pub lo: usize,
    /// Enough in 80 of 100 cases.
    pub enough: usize,
    /// Upper end.
    pub hi: usize,
}

/// The share of variance that lies between tips of one group, with its interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Share {
    /// The share, 0 to 1.
    pub share: f64,
    /// Lower end.
    pub lo: f64,
    /// Upper end.
    pub hi: f64,
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
    /// What the difference speaks of.
    pub about: About,
    /// Tips of a with a value.
    pub tips_a: usize,
    /// Tips of b with a value.
    pub tips_b: usize,
    /// Values in a.
    pub n_a: usize,
    /// Values in b.
    pub n_b: usize,
    /// Median of a.
    pub median_a: f64,
    /// Median of b.
    pub median_b: f64,
    /// The usual value of a at which the shift is given: mean over tips (geometric for times and wander), coupons
    /// allowed for; with [`About::Tips`] the median.
    pub usual_a: f64,
    /// The same of b.
    pub usual_b: f64,
    /// b − a: difference of the usual values; with [`About::Tips`] Hodges & Lehmann's estimate.
    pub shift: f64,
    /// Lower end of its interval; `None` where nothing bounds it at this level.
    pub shift_lo: Option<f64>,
    /// Upper end of its interval, likewise.
    pub shift_hi: Option<f64>,
    /// Two-sided p of "no difference"; `None` where the tips show no spread.
    pub p: Option<f64>,
    /// The same after Holm over the pairs.
    pub p_holm: Option<f64>,
    /// Cliff's delta of b against a, by starts.
    pub cliffs_delta: f64,
    /// The verdict.
    pub verdict: PairVerdict,
    /// Why there is none, where the numbers alone would not say.
    pub withheld: Option<Withheld>,
    /// Which way is better; where neither is, `a_better` says that a is the lower one.
    pub better: Better,
    /// The difference worth having; `None` where none is given and none is known.
    pub margin: Option<f64>,
    /// Coupons (or blocks of coupons that share tips) inside which the groups were compared; 0 where all were taken
    /// together.
    pub blocks: usize,
    /// Share of variance between tips; `None` where it is unknown.
    pub share: Option<Share>,
    /// How many more tips in each group would show a difference of the margin in 80 of 100 cases; `None` where it is
    /// settled, where the spread is not known well enough, or where it is out of reach.
    pub more_tips: Option<Range>,
    /// The same in starts in each group.
    pub more_starts: Option<Range>,
    /// The tests that take each start for itself.
    pub by_starts: StartLevel,
}

/// Two groups compared start by start: what holds for these tips, and says nothing of others.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct StartLevel {
    /// Hodges & Lehmann's estimate of b − a.
    pub shift: f64,
    /// Lower end of its interval; `None` where so few starts bound it nowhere.
    pub lo: Option<f64>,
    /// Upper end.
    pub hi: Option<f64>,
    /// The larger p of Mann–Whitney (with coupons van Elteren) and Brunner–Munzel.
    pub p: f64,
    /// Coupons inside which starts were compared; 0 where all were taken together.
    pub blocks: usize,
}

/// All groups compared at once in one measure (Kruskal–Wallis inside coupons).
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Overall {
    /// The measure.
    pub measure: String,
    /// Whether tips or starts were ranked.
    pub about: About,
    /// The statistic, corrected for ties.
    pub h: f64,
    /// p of "all alike".
    pub p: f64,
}

/// What is counted in a rate.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Event {
    /// The start is rough, no light included.
    Rough,
    /// No arc held.
    NoLight,
    /// The start is not crisp.
    NotCrisp,
}

impl Event {
    /// Every event.
    pub const ALL: [Event; 3] = [Event::Rough, Event::NoLight, Event::NotCrisp];

    /// Its name in plain words.
    pub fn words(self) -> &'static str {
        match self {
            Event::Rough => "rough",
            Event::NoLight => "no light",
            Event::NotCrisp => "not crisp",
        }
    }
}

/// Two groups compared in the rate of an event.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RateDifference {
    /// First group.
    pub a: String,
    /// Second group.
    pub b: String,
    /// The event.
    pub event: Event,
    /// What the difference speaks of.
    pub about: About,
    /// Rate in a, averaged over coupons.
    pub rate_a: f64,
    /// Rate in b, likewise.
    pub rate_b: f64,
    /// rate_b − rate_a.
    pub diff: f64,
    /// Lower end of its interval (Newcombe's; between-tip variance allowed for where there are tips).
    pub diff_lo: f64,
    /// Its upper end.
    pub diff_hi: f64,
    /// Two-sided p: where the interval touches 0; with [`About::Tips`] Fisher's exact test.
    pub p: f64,
}

/// Two groups compared so that looking after every start spoils nothing.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WhileStriking {
    /// First group.
    pub a: String,
    /// Second group.
    pub b: String,
    /// Tips of a struck so far.
    pub tips_a: usize,
    /// Tips of b.
    pub tips_b: usize,
    /// Mean score of b's tips less that of a's, inside coupons; `None` where no coupon has both.
    pub score_diff: Option<f64>,
    /// Lower end of its confidence sequence; `None` where the tips bound it nowhere yet.
    pub score_lo: Option<f64>,
    /// Upper end, likewise.
    pub score_hi: Option<f64>,
    /// e-value against equal scores: 1 is no evidence.
    pub score_e: f64,
    /// Share of rough starts of b's tips less that of a's.
    pub rough_diff: Option<f64>,
    /// e-value against equal shares of rough starts.
    pub rough_e: f64,
    /// e-value at which either of them decides.
    pub e_needed: f64,
    /// How many more tips of each decide, if difference and spread stay as they are; `None` where they would not within
    /// [`WhileStriking::MOST_TIPS`], or where nothing can be said yet.
    pub more_tips: Option<usize>,
    /// `a_better`, `b_better`, or `not_enough`.
    pub verdict: PairVerdict,
}

impl WhileStriking {
    /// Further tips than these are not looked ahead to.
    pub const MOST_TIPS: usize = 50;
}

impl Event {
    /// Whether it happened in a start.
    pub(super) fn happened(self, row: &StartRow) -> bool {
        let word = row.verdict;
        !row.lit()
            || match self {
                Event::Rough => matches!(word, Some(Verdict::Rough | Verdict::NoLight)),
                Event::NoLight => false,
                Event::NotCrisp => word.is_some_and(|word| word != Verdict::Crisp),
            }
    }
}
