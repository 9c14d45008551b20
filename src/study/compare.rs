//! Which of two or more groups of starts is better, and are there enough starts to say so?

use std::collections::{BTreeMap, BTreeSet};

use crate::error::{Error, Result};
use crate::measure::{Better, Quantity};
use crate::score::{StartRow, Verdict};
use crate::stats;
use crate::stats::{Blocks, SampleBlock};
use crate::study::{
    Comparison, Group, Overall, Pair, PairVerdict, RateDifference, sequential, warnings, words,
};

/// Which starts to compare, by the rest before them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Which {
    /// All.
    All,
    /// Those after a rest of at least so many seconds, or with none known (first of a recording).
    Cold(f64),
    /// Those after a shorter rest.
    Restarts(f64),
}

impl Which {
    fn takes(self, row: &StartRow) -> bool {
        let cold = |limit: f64| row.measures.rest_s.is_none_or(|rest| rest >= limit);
        match self {
            Which::All => true,
            Which::Cold(limit) => cold(limit),
            Which::Restarts(limit) => !cold(limit),
        }
    }
}

/// What to compare and how.
#[derive(Debug, Clone, PartialEq)]
pub struct CompareOptions {
    /// Group by this: `prep`, `coupon`, `recording` or a sheet column.
    pub by: String,
    /// Confidence level of the intervals; 1 − level is the chance of a false verdict a measure.
    pub level: f64,
    /// Measures or numeric sheet columns; the first one answers the question.
    pub measures: Vec<String>,
    /// Differences worth having, where the user sets them.
    pub margins: BTreeMap<String, f64>,
    /// Better sides, where the user sets them.
    pub better: BTreeMap<String, Better>,
    /// Which starts.
    pub which: Which,
    /// Answer for someone who looks after every start and stops when it is clear.
    pub while_striking: bool,
}

impl Default for CompareOptions {
    fn default() -> Self {
        CompareOptions {
            by: "prep".into(),
            level: 0.95,
            measures: ["score", "start_ms", "wander_v"].map(String::from).into(),
            margins: BTreeMap::new(),
            better: BTreeMap::new(),
            which: Which::All,
            while_striking: false,
        }
    }
}

/// Chance of seeing a difference that "how many more starts" plans for.
pub(super) const POWER: f64 = 0.8;

/// More starts than this in each group are out of reach.
const OUT_OF_REACH: f64 = 5000.0;

/// Groups by name, each with its starts in the order given.
pub(super) type Groups<'a> = BTreeMap<&'a str, Vec<&'a StartRow>>;

/// Compares the groups of starts pair by pair, inside coupons where there are several.
///
/// # Errors
/// A group or measure that no start has, or a level outside 50 to 100 %.
pub fn compare(rows: &[StartRow], options: &CompareOptions) -> Result<Comparison> {
    if !(0.5..1.0).contains(&options.level) {
        return Err(
            Error::input("level", format!("{} is no confidence level", options.level))
                .hint("Give one between 0.5 and 1, such as 0.95."),
        );
    }
    let rows: Vec<&StartRow> = rows.iter().filter(|r| options.which.takes(r)).collect();
    let groups = grouped(&rows, &options.by)?;
    check_measures(&rows, options)?;
    let mut seen = BTreeSet::new();
    let mut measures = options.measures.clone();
    measures.retain(|measure| seen.insert(measure.clone()));
    let mut comparison = Comparison {
        by: options.by.clone(),
        level: options.level,
        groups: groups
            .iter()
            .map(|(id, rows)| group(id, rows, options.level))
            .collect(),
        pairs: Vec::new(),
        rates: Vec::new(),
        overall: Vec::new(),
        while_striking: Vec::new(),
        warnings: warnings::of(&rows, &groups, options),
        answer: String::new(),
    };
    if options.while_striking {
        // No p or interval of a fixed number of starts beside it: looking again and again spoils those.
        let ids: Vec<&str> = groups.keys().copied().collect();
        comparison.while_striking =
            sequential::while_striking(&rows, &ids, &options.by, options.level);
    } else {
        comparison.rates = rates(&groups, options.level);
        for measure in &measures {
            comparison.pairs.extend(pairs(&groups, measure, options));
            comparison.overall.extend(overall(&groups, measure));
        }
    }
    comparison.answer = words::answer(&comparison, &options.measures[0]);
    Ok(comparison)
}

fn grouped<'a>(rows: &[&'a StartRow], by: &str) -> Result<Groups<'a>> {
    let mut groups = Groups::new();
    for &row in rows {
        if let Some(id) = row.group(by) {
            groups.entry(id).or_default().push(row);
        }
    }
    if groups.is_empty() {
        let known: BTreeSet<&str> = rows
            .iter()
            .flat_map(|r| r.sheet.keys().map(String::as_str))
            .chain(["prep", "coupon", "recording"])
            .collect();
        let known: Vec<&str> = known.into_iter().collect();
        return Err(Error::input(
            format!("--by {by}"),
            format!("none of {} starts has it", rows.len()),
        )
        .hint(format!("They can be grouped by {}.", known.join(", "))));
    }
    Ok(groups)
}

fn check_measures(rows: &[&StartRow], options: &CompareOptions) -> Result<()> {
    if options.measures.is_empty() {
        return Err(Error::input("--measure", "none is named"));
    }
    for measure in &options.measures {
        super::known_measure(rows.iter().copied(), measure, "--measure")?;
    }
    for measure in options.margins.keys() {
        super::known_measure(rows.iter().copied(), measure, "--margin")?;
    }
    for measure in options.better.keys() {
        if !matches!(Quantity::named(measure), Quantity::Column(_)) {
            let problem = "which way this measure is better is fixed";
            return Err(Error::input(format!("--better {measure}"), problem).hint(
                "--better is for numeric columns of your own sheet, such as bead_mm=higher.",
            ));
        }
        super::known_measure(rows.iter().copied(), measure, "--better")?;
    }
    Ok(())
}

fn group(id: &str, rows: &[&StartRow], level: f64) -> Group {
    let starts = rows.len();
    let no_light = count(rows, NO_LIGHT);
    let rough = count(rows, ROUGH);
    let interval = stats::clopper_pearson(rough as u64, starts as u64, level);
    let scores: Vec<f64> = rows.iter().filter_map(|r| r.score).collect();
    Group {
        id: id.into(),
        starts,
        lit: starts - no_light,
        no_light,
        rough,
        rough_rate: rough as f64 / starts as f64,
        rough_lo: interval.lo,
        rough_hi: interval.hi,
        score_median: stats::median(&scores),
    }
}

/// Name of the event that a start is rough, no light included.
pub(super) const ROUGH: &str = "rough";
/// Name of the event that no arc held.
pub(super) const NO_LIGHT: &str = "no_light";

pub(super) fn is_event(row: &StartRow, event: &str) -> bool {
    !row.lit() || event == ROUGH && matches!(row.verdict, Some(Verdict::Rough | Verdict::NoLight))
}

fn count(rows: &[&StartRow], event: &str) -> usize {
    rows.iter().filter(|r| is_event(r, event)).count()
}

/// Every two groups, each pair once.
fn couples<'g, 'a>(
    groups: &'g Groups<'a>,
) -> impl Iterator<Item = [(&'a str, &'g [&'a StartRow]); 2]> {
    let all: Vec<_> = groups
        .iter()
        .map(|(id, rows)| (*id, rows.as_slice()))
        .collect();
    (0..all.len()).flat_map(move |i| {
        let all = all.clone();
        (i + 1..all.len()).map(move |j| [all[i], all[j]])
    })
}

fn rates(groups: &Groups, level: f64) -> Vec<RateDifference> {
    let mut rates = Vec::new();
    for event in [ROUGH, NO_LIGHT] {
        for [(a, rows_a), (b, rows_b)] in couples(groups) {
            let counts = |rows: &[&StartRow]| (count(rows, event) as u64, rows.len() as u64);
            let (in_a, in_b) = (counts(rows_a), counts(rows_b));
            let interval = stats::newcombe(in_a, in_b, level);
            let (rate_a, rate_b) = (in_a.0 as f64 / in_a.1 as f64, in_b.0 as f64 / in_b.1 as f64);
            rates.push(RateDifference {
                a: a.into(),
                b: b.into(),
                event: event.into(),
                rate_a,
                rate_b,
                diff: rate_b - rate_a,
                diff_lo: interval.lo,
                diff_hi: interval.hi,
                p: stats::fisher(in_a, in_b, stats::Tail::Both),
            });
        }
    }
    rates
}

fn values(rows: &[&StartRow], measure: &str) -> Vec<f64> {
    rows.iter().filter_map(|r| r.value(measure)).collect()
}

fn overall(groups: &Groups, measure: &str) -> Option<Overall> {
    if groups.len() < 3 {
        return None;
    }
    let values: Vec<Vec<f64>> = groups.values().map(|rows| values(rows, measure)).collect();
    let slices: Vec<&[f64]> = values.iter().map(Vec::as_slice).collect();
    let (h, p) = stats::kruskal_wallis(&slices)?;
    Some(Overall {
        measure: measure.into(),
        h,
        p,
    })
}

fn pairs(groups: &Groups, measure: &str, options: &CompareOptions) -> Vec<Pair> {
    let by_coupon = options.by != "coupon";
    let mut pairs: Vec<Pair> = couples(groups)
        .filter_map(|couple| pair(couple, measure, by_coupon, options))
        .collect();
    let p: Vec<f64> = pairs.iter().map(|pair| pair.p).collect();
    for (pair, p_holm) in pairs.iter_mut().zip(stats::holm(&p)) {
        pair.p_holm = p_holm;
        pair.verdict = verdict(pair, options.level);
        if pair.verdict == PairVerdict::NotEnough {
            pair.more_starts = more_starts(pair, options.level);
        }
    }
    pairs
}

/// The numbers of one pair; verdict and Holm's p wait for the other pairs. `None` where one of the
/// groups has no value.
fn pair(
    [(a, rows_a), (b, rows_b)]: [(&str, &[&StartRow]); 2],
    measure: &str,
    by_coupon: bool,
    options: &CompareOptions,
) -> Option<Pair> {
    let coupons = if by_coupon {
        in_coupons(rows_a, rows_b, measure)
    } else {
        None
    };
    let blocks = match coupons {
        Some(ref blocks) => blocks.clone(),
        None => Blocks::single(&values(rows_a, measure), &values(rows_b, measure))?,
    };
    let (n_a, n_b) = blocks.sizes();
    let median = |side: fn(&SampleBlock) -> &Vec<f64>| {
        stats::median(&blocks.iter().flat_map(side).copied().collect::<Vec<_>>())
    };
    let shift = stats::hodges_lehmann(&blocks, options.level);
    let p = blocks.p();
    Some(Pair {
        a: a.into(),
        b: b.into(),
        measure: measure.into(),
        n_a,
        n_b,
        median_a: median(|block| &block.a)?,
        median_b: median(|block| &block.b)?,
        shift: shift.estimate,
        shift_lo: shift.lo,
        shift_hi: shift.hi,
        p,
        p_holm: p,
        cliffs_delta: stats::cliffs_delta(&blocks),
        verdict: PairVerdict::NotEnough,
        better: options
            .better
            .get(measure)
            .copied()
            .unwrap_or_else(|| Quantity::named(measure).better()),
        margin: options
            .margins
            .get(measure)
            .copied()
            .or_else(|| Quantity::named(measure).margin()),
        blocks: coupons.map_or(0, |blocks| blocks.count()),
        more_starts: None,
    })
}

/// Values inside coupons that both groups were struck on; `None` where there are not two coupons
/// or more, or none is shared.
fn in_coupons(rows_a: &[&StartRow], rows_b: &[&StartRow], measure: &str) -> Option<Blocks> {
    let mut coupons: BTreeMap<&str, (Vec<f64>, Vec<f64>)> = BTreeMap::new();
    for (rows, is_a) in [(rows_a, true), (rows_b, false)] {
        for row in rows {
            let (Some(coupon), Some(value)) = (row.coupon.as_deref(), row.value(measure)) else {
                continue;
            };
            let (a, b) = coupons.entry(coupon).or_default();
            if is_a { a.push(value) } else { b.push(value) }
        }
    }
    (coupons.len() > 1)
        .then(|| Blocks::new(coupons.into_values()))
        .flatten()
}

fn verdict(pair: &Pair, level: f64) -> PairVerdict {
    let inside = |margin: f64| {
        let within = |end: Option<f64>| end.is_some_and(|x| x.abs() < margin);
        within(pair.shift_lo) && within(pair.shift_hi)
    };
    let shift_shows =
        pair.shift_lo.is_some_and(|lo| lo > 0.0) || pair.shift_hi.is_some_and(|hi| hi < 0.0);
    let differs = pair.p_holm < 1.0 - level;
    let negligible = pair.margin.is_some_and(inside);
    // Where ties hold the shift at zero although the ranks differ (counts), the shift is too coarse
    // to call the groups alike.
    if negligible && (shift_shows || !differs) {
        return PairVerdict::NoDifference;
    }
    if !differs {
        return PairVerdict::NotEnough;
    }
    let b_higher = pair.cliffs_delta > 0.0;
    if b_higher == (pair.better == Better::Higher) {
        PairVerdict::BBetter
    } else {
        PairVerdict::ABetter
    }
}

/// How many more starts in each group would settle it, if the difference stays as seen: enough to
/// see it ([`POWER`]), or, where it is under the margin, enough to rule the margin out.
fn more_starts(pair: &Pair, level: f64) -> Option<usize> {
    let (n_a, n_b) = (pair.n_a as f64, pair.n_b as f64);
    let now = 2.0 * n_a * n_b / (n_a + n_b);
    let to_see = stats::rank_size(pair.cliffs_delta, level, POWER);
    let to_rule_out = pair
        .margin
        .filter(|&margin| pair.shift.abs() < margin)
        .zip(pair.shift_lo.zip(pair.shift_hi))
        .map(|(margin, (lo, hi))| {
            stats::width_size((hi - lo) / 2.0, now, margin - pair.shift.abs())
        });
    let enough = to_rule_out.map_or(to_see, |n| n.min(to_see));
    // Four against four is the least that can show anything at 95 %.
    let more = (enough.max(4.0) - now).ceil().max(1.0);
    (more <= OUT_OF_REACH).then_some(more as usize)
}
