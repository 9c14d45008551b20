//! Is a tip going off, and after how many starts is it time to regrind?

use std::borrow::Cow;

use serde::Serialize;

use crate::measure::{Better, Quantity};
use crate::parallel;
use crate::score::StartRow;
use crate::stats;
use crate::stats::{SPREAD_TIPS, Series, TIP_POINTS, TipLine};
use crate::study::groups::{by_group, counts};
use crate::study::tips;

/// Measures that show wear.
pub const WEAR_MEASURES: [&str; 3] = ["score", "start_ms", "wander_v"];

/// A usual start that scores under this asks for a regrind: half way between rough and crisp. A
/// project default, no source.
pub const REGRIND_SCORE: f64 = 65.0;

/// Fewer starts than this on worn tips show no trend at any level of use.
const FEWEST: usize = 8;

/// A limit met later than this many times what was seen is a guess and is not given.
const FURTHEST: f64 = 2.0;

/// Longest tip used in full; a longer one is thinned evenly to this, since all pairs are compared.
const LONGEST: usize = 300;

/// What the starts of a group say about wear.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum WearVerdict {
    /// The trend is real and to the worse.
    Wears,
    /// It may wear: a trend that is not sure enough, or tips too few or too different to rule out
    /// that the limit is met within the starts seen.
    NotClear,
    /// No trend to the worse, and none that would matter would have been missed.
    NoSign,
}

/// What an answer about wear holds for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum WearOf {
    /// The prep: it rests on how its tips differ.
    Prep,
    /// The one or two tips struck, and no others.
    Tips,
}

/// How one measure of one prep goes with the starts since the tip was ground.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Wear {
    /// What the starts were grouped by.
    pub by: String,
    /// The group.
    pub group: String,
    /// The prep.
    pub prep: String,
    /// The measure.
    pub measure: String,
    /// What the answer holds for.
    pub about: WearOf,
    /// Confidence level of the intervals, 0 to 1.
    pub level: f64,
    /// A p under this is called wear: several measures look at the same tips, in a batch several groups besides, and each
    /// gets its part of the chance of a false alarm.
    pub alpha: f64,
    /// Starts that the trend was made from.
    pub starts: usize,
    /// Tips with starts enough for a line of their own.
    pub tips: usize,
    /// Tips left out because they had fewer.
    pub short_tips: usize,
    /// Most starts since a regrind seen.
    pub up_to: f64,
    /// Slope of the usual tip, a start.
    pub slope: f64,
    /// Lower end of its interval.
    pub slope_lo: f64,
    /// Upper end of its interval.
    pub slope_hi: f64,
    /// Value of the usual tip's line at zero starts since the regrind.
    pub intercept: f64,
    /// Two-sided p of "no trend"; of one or two tips that go off at a jump, that of "no jump" where it is the smaller.
    pub p: f64,
    /// How much starts next to each other on a tip resemble each other, 0 to 0.95.
    pub correlation: f64,
    /// What is said.
    pub verdict: WearVerdict,
    /// Where the usual tip goes off at a jump: the last start before it (median of the tips that
    /// jump); `None` where they wear bit by bit.
    pub change_at: Option<f64>,
    /// The limit that asks for a regrind; `None` where the measure has none.
    pub limit: Option<f64>,
    /// Starts since the regrind at which the usual tip meets the limit; `None` where no wear shows,
    /// or where that lies too far beyond what was seen.
    pub at: Option<f64>,
    /// Lower end of its interval; of tips that jump, the earliest jump.
    pub lo: Option<f64>,
    /// Upper end of its interval, or the latest jump; `None` where it lies too far beyond what was
    /// seen (with one or two tips, at all beyond).
    pub hi: Option<f64>,
}

impl Wear {
    /// Whether the trend is real and to the worse.
    pub fn wears(&self) -> bool {
        self.verdict == WearVerdict::Wears
    }

    /// +1 where a rise is to the worse, −1 where a fall is.
    pub fn worse_sign(&self) -> f64 {
        worse_sign(&self.measure)
    }

    /// The steepest slope to the worse that the interval allows.
    pub fn worst_slope(&self) -> f64 {
        match self.worse_sign() > 0.0 {
            true => self.slope_hi,
            false => self.slope_lo,
        }
    }
}

/// Wear of every prep within every group of the column `by`, in every measure that shows it, where the sheet
/// counts starts since the regrind. `limit` gives the limit of a measure for a prep.
pub fn wear(
    rows: &[StartRow],
    by: &str,
    level: f64,
    limit: impl Fn(&str, &str) -> Option<f64> + Sync,
) -> Vec<Wear> {
    let looks = WearLooks {
        by,
        level,
        batch: None,
    };
    wear_in(
        rows.iter(),
        |row| row.group(by).map(Cow::Borrowed),
        looks,
        limit,
    )
}

/// How wear is looked for.
#[derive(Debug, Clone, Copy)]
pub(crate) struct WearLooks<'a> {
    /// What the groups are.
    pub by: &'a str,
    /// Confidence level.
    pub level: f64,
    /// The groups are one batch and share its chance of a false alarm: how many there are with those that are elsewhere.
    pub batch: Option<usize>,
}

/// The same within groups that `group` tells.
pub(crate) fn wear_in<'a>(
    rows: impl Iterator<Item = &'a StartRow>,
    group: impl Fn(&'a StartRow) -> Option<Cow<'a, str>>,
    looks: WearLooks,
    limit: impl Fn(&str, &str) -> Option<f64> + Sync,
) -> Vec<Wear> {
    let counted = rows.filter(|row| counts(row));
    let groups = by_group(counted, |row| Some((group(row)?, &*row.prep)));
    let families = looks.batch.map_or(1, |all| all.max(groups.len()));
    let alpha = (1.0 - looks.level) / (families * WEAR_MEASURES.len()) as f64;
    let groups: Vec<_> = groups.into_iter().collect();
    let found = parallel::each(&groups, |((group, prep), rows)| {
        let tips = tips::split(rows);
        parallel::each(&WEAR_MEASURES, |measure| {
            of_group(
                [looks.by, group, prep, measure],
                &series(&tips, measure),
                [looks.level, alpha],
                limit(prep, measure),
            )
        })
    });
    found.into_iter().flatten().flatten().collect()
}

/// One series a tip, in the order of its starts: starts since the regrind against the measure.
fn series(tips: &[Vec<&StartRow>], measure: &str) -> Vec<Series> {
    let quantity = Quantity::named(measure);
    let of_tip = |tip: &Vec<&StartRow>| {
        let values = tip
            .iter()
            .filter_map(|row| Some((row.measures.since_regrind()?, row.value_of(&quantity)?)));
        let mut points: Series = values.collect();
        points.sort_by(|a, b| a.0.total_cmp(&b.0));
        let step = points.len().div_ceil(LONGEST).max(1);
        points.into_iter().step_by(step).collect()
    };
    let all = tips.iter().map(of_tip);
    all.filter(|points: &Series| !points.is_empty()).collect()
}

fn of_group(
    [by, group, prep, measure]: [&str; 4],
    series: &[Series],
    [level, alpha]: [f64; 2],
    limit: Option<f64>,
) -> Option<Wear> {
    let line = stats::tip_line(series)?;
    let long = series.iter().filter(|tip| tip.len() >= TIP_POINTS);
    let starts: usize = long.map(Vec::len).sum();
    if starts < FEWEST {
        return None;
    }
    let slopes = line.slope_interval(level);
    let counts = series.iter().flatten().map(|point| point.0);
    let mut wear = Wear {
        by: by.into(),
        group: group.into(),
        prep: prep.into(),
        measure: measure.into(),
        about: if line.tips < SPREAD_TIPS {
            WearOf::Tips
        } else {
            WearOf::Prep
        },
        level,
        alpha,
        starts,
        tips: line.tips,
        short_tips: series.len() - line.tips,
        up_to: counts.fold(0.0, f64::max),
        slope: line.slope,
        slope_lo: slopes.lo,
        slope_hi: slopes.hi,
        intercept: line.intercept,
        p: line.p,
        correlation: line.correlation,
        verdict: WearVerdict::NoSign,
        change_at: None,
        limit,
        at: None,
        lo: None,
        hi: None,
    };
    wear.verdict = verdict(&wear, line.tau);
    let jumps = jumps(&wear, series);
    // A step looks to a line like neighbours that resemble each other, which one or two tips cannot rule out: they ask
    // the steps themselves. From three tips on the tips agree or not, step or slope.
    if wear.about == WearOf::Tips && 2 * jumps.len() > wear.tips {
        let p = jumps.iter().map(|jump| jump.p).fold(0.0, f64::max);
        if p < wear.alpha {
            (wear.verdict, wear.p) = (WearVerdict::Wears, p.min(wear.p));
        }
    }
    if wear.wears() && !tell_jump(&mut wear, &jumps) {
        meet(&mut wear, &line);
    }
    Some(wear)
}

fn worse_sign(measure: &str) -> f64 {
    if Quantity::named(measure).better() == Better::Higher {
        -1.0
    } else {
        1.0
    }
}

fn verdict(wear: &Wear, tau: f64) -> WearVerdict {
    let worse = tau * wear.worse_sign() > 0.0;
    if worse && wear.p < wear.alpha {
        return WearVerdict::Wears;
    }
    // Fresh on the good side, and past the limit by the last start if the slope is as bad as it may be.
    let past = |limit: f64, slope: f64| {
        (wear.intercept + slope * wear.up_to - limit) * wear.worse_sign() > 0.0
    };
    let may_pass = |limit: f64| !past(limit, 0.0) && past(limit, wear.worst_slope());
    if worse && wear.p < 1.0 - wear.level || wear.limit.is_some_and(may_pass) {
        return WearVerdict::NotClear;
    }
    WearVerdict::NoSign
}

/// Where the usual tip meets the limit. What lies too far beyond the starts seen is left open.
fn meet(wear: &mut Wear, line: &TipLine) {
    let to_the_worse = wear.slope * wear.worse_sign() > 0.0;
    let limit = wear.limit.filter(|_| to_the_worse);
    let Some(met) = limit.and_then(|limit| line.meets(limit, wear.level)) else {
        return;
    };
    wear.at = Some(met.at.max(0.0).floor()).filter(|at| *at <= FURTHEST * wear.up_to);
    let Some(ends) = met.interval else {
        return;
    };
    // How far one or two tips' errors reach is known by their correlation, which few starts tell badly: by simulation
    // an upper end past the starts seen held in 70 to 90 of 100 only.
    let reach = match wear.about {
        WearOf::Prep => FURTHEST,
        WearOf::Tips => 1.0,
    };
    wear.lo = Some(ends.lo.max(0.0).floor());
    wear.hi = Some(ends.hi.max(0.0).ceil()).filter(|hi| *hi <= reach * wear.up_to);
}

/// The jumps of those tips that have one.
fn jumps(wear: &Wear, series: &[Series]) -> Vec<Jump> {
    let tips = series.iter().filter(|tip| tip.len() >= TIP_POINTS);
    tips.filter_map(|tip| own_jump(tip, wear.worse_sign(), wear.level))
        .collect()
}

/// Where most tips go off at a jump, the answer is where they do, and not a line's.
fn tell_jump(wear: &mut Wear, jumps: &[Jump]) -> bool {
    if 2 * jumps.len() <= wear.tips {
        return false;
    }
    let lasts: Vec<f64> = jumps.iter().map(|jump| jump.last).collect();
    let after: Vec<f64> = jumps.iter().map(|jump| jump.after).collect();
    wear.change_at = stats::median(&lasts).map(f64::floor);
    let passes = |limit: f64| {
        let level = stats::median(&after).unwrap_or(limit);
        (level - limit) * wear.worse_sign() > 0.0
    };
    if wear.limit.is_some_and(passes) {
        wear.at = wear.change_at;
        if jumps.len() >= SPREAD_TIPS {
            wear.lo = lasts.iter().copied().reduce(f64::min);
            wear.hi = lasts.iter().copied().reduce(f64::max);
        }
    }
    true
}

/// A tip that goes off at once.
struct Jump {
    /// The last count before.
    last: f64,
    /// The usual value after.
    after: f64,
    /// p of "no jump" where neighbours may resemble each other.
    p: f64,
}

/// A jump to the worse (Pettitt) that fits one tip better than its line does.
fn own_jump(points: &Series, worse: f64, level: f64) -> Option<Jump> {
    let values: Vec<f64> = points.iter().map(|p| p.1).collect();
    let jump = stats::pettitt(&values).filter(|jump| jump.p < 1.0 - level)?;
    let (before, after) = values.split_at(jump.before);
    let (low, high) = (stats::median(before)?, stats::median(after)?);
    let off = |values: &[f64], level: f64| values.iter().map(|v| (v - level).abs()).sum::<f64>();
    let off_jump = off(before, low) + off(after, high);
    let line = stats::tip_line(std::slice::from_ref(points))?;
    let off_line: f64 = points
        .iter()
        .map(|(x, y)| (y - line.intercept - line.slope * x).abs())
        .sum();
    ((high - low) * worse > 0.0 && off_jump < off_line).then(|| Jump {
        last: points[jump.before - 1].0,
        after: high,
        p: jump.p_resembling,
    })
}
