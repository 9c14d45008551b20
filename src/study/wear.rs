//! Is a tip going off, and after how many starts is it time to regrind?

use std::collections::BTreeMap;

use crate::format::{label, quantity, trimmed as number};
use crate::measure::{Better, Quantity};
use crate::score::StartRow;
use crate::stats;
use crate::stats::{Series, TheilSen};

use crate::study::{Wear, tips};

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

/// Wear of every prep in every measure that shows it, where the sheet counts starts since the
/// regrind. `limit` gives the limit of a measure for a prep.
pub fn wear(rows: &[StartRow], level: f64, limit: impl Fn(&str, &str) -> Option<f64>) -> Vec<Wear> {
    let mut preps: BTreeMap<&str, Vec<&StartRow>> = BTreeMap::new();
    for row in rows {
        preps.entry(&row.prep).or_default().push(row);
    }
    let mut found = Vec::new();
    for (prep, rows) in preps {
        let tips = tips::split(&rows);
        for measure in WEAR_MEASURES {
            found.extend(of_prep(prep, measure, &tips, level, limit(prep, measure)));
        }
    }
    found
}

/// One series a tip: starts since the regrind against the measure.
fn series(tips: &[Vec<&StartRow>], measure: &str) -> Vec<Series> {
    tips.iter()
        .map(|tip| {
            let points: Series = tip
                .iter()
                .filter_map(|row| Some((row.measures.since_regrind?, row.value(measure)?)))
                .collect();
            let step = points.len().div_ceil(LONGEST).max(1);
            points.into_iter().step_by(step).collect()
        })
        .filter(|points: &Series| !points.is_empty())
        .collect()
}

fn of_prep(
    prep: &str,
    measure: &str,
    tips: &[Vec<&StartRow>],
    level: f64,
    limit: Option<f64>,
) -> Option<Wear> {
    let series = series(tips, measure);
    let fit = stats::theil_sen(&series, level)?;
    let starts: usize = series.iter().map(Vec::len).sum();
    if starts < FEWEST {
        return None;
    }
    let p = stats::mann_kendall(&series).p;
    let worse = worse_sign(measure);
    let wears = p < alpha(level) && fit.slope * worse > 0.0;
    let up_to = series
        .iter()
        .flatten()
        .map(|point| point.0)
        .fold(0.0, f64::max);
    let mut wear = Wear {
        prep: prep.into(),
        measure: measure.into(),
        starts,
        tips: series.len(),
        up_to,
        slope: fit.slope,
        slope_lo: fit.interval.lo,
        slope_hi: fit.interval.hi,
        intercept: fit.intercept(),
        wears,
        p,
        change_at: if wears {
            change(&series, &fit, worse, level)
        } else {
            None
        },
        limit,
        at: None,
        lo: None,
        hi: None,
        says: String::new(),
    };
    if let Some(limit) = limit.filter(|_| wears) {
        meet(&mut wear, &fit, limit, worse);
    }
    wear.says = says(&wear, level);
    Some(wear)
}

/// Several measures look at the same tips: each gets its part of the chance of a false alarm.
fn alpha(level: f64) -> f64 {
    (1.0 - level) / WEAR_MEASURES.len() as f64
}

/// +1 where a rise is to the worse, −1 where a fall is.
fn worse_sign(measure: &str) -> f64 {
    if Quantity::named(measure).better() == Better::Higher {
        -1.0
    } else {
        1.0
    }
}

/// Where the line, and the lines with the slope's ends, meet the limit. All turn about the medians,
/// so the interval is the slope's alone.
fn meet(wear: &mut Wear, fit: &TheilSen, limit: f64, worse: f64) {
    let at = |slope: f64| {
        let meets = fit.x_median + (limit - fit.y_median) / slope;
        (slope * worse > 0.0).then_some(meets.max(0.0).floor())
    };
    let near = |at: &f64| *at <= FURTHEST * wear.up_to;
    let Some(met) = at(fit.slope).filter(near) else {
        return;
    };
    // Past the limit already at the medians, the steeper line met it later; a line the other way never meets it.
    let ends = [fit.interval.lo, fit.interval.hi].map(at);
    let all_meet = ends.iter().all(Option::is_some);
    let meets = || ends.iter().flatten().copied();
    wear.lo = Some(meets().fold(met, f64::min));
    wear.hi = all_meet.then(|| meets().fold(met, f64::max));
    wear.at = Some(met);
}

/// The last count before a jump to the worse, where a jump fits better than the line does.
fn change(series: &[Series], fit: &TheilSen, worse: f64, level: f64) -> Option<f64> {
    let mut by_count: BTreeMap<u64, Vec<f64>> = BTreeMap::new();
    for &(count, value) in series.iter().flatten() {
        by_count.entry(count as u64).or_default().push(value);
    }
    let points: Vec<(f64, f64)> = by_count
        .iter()
        .filter_map(|(&count, values)| Some((count as f64, stats::median(values)?)))
        .collect();
    let values: Vec<f64> = points.iter().map(|p| p.1).collect();
    let jump = stats::pettitt(&values).filter(|jump| jump.p < 1.0 - level)?;
    let (before, after) = values.split_at(jump.before);
    let (low, high) = (stats::median(before)?, stats::median(after)?);
    let off = |values: &[f64], level: f64| values.iter().map(|v| (v - level).abs()).sum::<f64>();
    let off_jump = off(before, low) + off(after, high);
    let off_line: f64 = points
        .iter()
        .map(|(x, y)| (y - fit.intercept() - fit.slope * x).abs())
        .sum();
    ((high - low) * worse > 0.0 && off_jump < off_line).then(|| points[jump.before - 1].0)
}

fn says(wear: &Wear, level: f64) -> String {
    let name = label(&wear.measure);
    let (prep, up_to) = (&wear.prep, wear.up_to);
    if !wear.wears && wear.p < 1.0 - level && wear.slope * worse_sign(&wear.measure) > 0.0 {
        return format!(
            "Wear of {prep} in {name} is not clear yet: up to {up_to:.0} starts it goes the worse way with p = {}, and {} measures look at each tip, so p under {} is asked for.",
            number(wear.p),
            WEAR_MEASURES.len(),
            number(alpha(level))
        );
    }
    if !wear.wears {
        return format!("No sign of wear of {prep} in {name} up to {up_to:.0} starts.");
    }
    let mut text = match (wear.at, wear.limit) {
        (Some(at), Some(limit)) => format!(
            "Regrind {prep} after about {at:.0} starts ({}{}): {name} then meets {}.",
            range(wear, level),
            if at > up_to {
                format!(", beyond the {up_to:.0} seen")
            } else {
                String::new()
            },
            quantity(&wear.measure, limit)
        ),
        _ => format!(
            "{prep} wears: {name} changes by {} over ten starts{}.",
            quantity(&wear.measure, 10.0 * wear.slope),
            match wear.limit {
                Some(limit) => format!(
                    ", and meets {} far beyond the {up_to:.0} starts seen",
                    quantity(&wear.measure, limit)
                ),
                None => String::new(),
            }
        ),
    };
    if let Some(at) = wear.change_at {
        text +=
            &format!(" It goes off at once rather than bit by bit, after about {at:.0} starts.");
    }
    text
}

fn range(wear: &Wear, level: f64) -> String {
    let level = number(100.0 * level);
    match (wear.lo, wear.hi) {
        (Some(lo), Some(hi)) => format!("{lo:.0} to {hi:.0} at {level} %"),
        (Some(lo), None) => format!("{lo:.0} or more at {level} %"),
        _ => unreachable!("a regrind number has its lower end"),
    }
}
