//! Which of two or more groups of starts is better, and are there enough starts to say so?

use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};

use crate::error::{Error, Result};
use crate::flag::Flag;
use crate::measure::{Better, Quantity};
use crate::measuring::gather::StartSet;
use crate::score::{StartRow, Verdict};
use crate::stats;
use crate::study::by_tips::Two;
use crate::study::comparison::{Comparison, Event, Group, Pair, RateDifference};
use crate::study::{by_starts, by_tips, sequential, tips, warnings};

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
    /// The starts extend a set that was compared before and was not enough: the answer allows for that look.
    pub extended: bool,
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
            extended: false,
            while_striking: false,
        }
    }
}

/// Chance of seeing a difference that "how many more" plans for.
pub(crate) const POWER: f64 = 0.8;

/// Part of the chance of a false verdict that a second look may spend: with the first look at the whole of it, both err in
/// 5 of 100 together (docs/statistics.md).
const SECOND_LOOK: f64 = 0.2;

/// A start that counts, with its group, tip and coupon by number; a tip struck in two groups counts as one in each.
#[derive(Debug, Clone, Copy)]
pub(super) struct Judged<'a> {
    pub row: &'a StartRow,
    pub group: usize,
    pub tip: usize,
    pub coupon: usize,
}

/// Groups by name, each with its starts in the order given.
pub(super) type Groups<'a> = BTreeMap<&'a str, Vec<&'a StartRow>>;

/// Compares the groups of starts pair by pair: by tips, inside coupons where there are several.
///
/// # Errors
/// A group or measure that no start has, one name for two preps, or a level outside 50 to 100 %.
pub fn compare(set: &StartSet, options: &CompareOptions) -> Result<Comparison> {
    let mut comparison = compare_rows(&set.rows, options)?;
    comparison
        .warnings
        .extend(warnings::of_set(set, &comparison));
    Ok(comparison)
}

/// [`compare`] for starts of which nothing is known but their rows.
///
/// # Errors
/// As [`compare`].
pub fn compare_rows(rows: &[StartRow], options: &CompareOptions) -> Result<Comparison> {
    if !(0.5..1.0).contains(&options.level) {
        return Err(
            Error::input("level", format!("{} is no confidence level", options.level))
                .hint("Give one between 0.5 and 1, such as 0.95."),
        );
    }
    let level = match options.extended {
        true => 1.0 - SECOND_LOOK * (1.0 - options.level),
        false => options.level,
    };
    let all: Vec<&StartRow> = rows.iter().filter(|r| options.which.takes(r)).collect();
    one_prep_a_name(&all, &options.by)?;
    check_measures(&all, options)?;
    let all_groups = grouped(&all, &options.by)?;
    let counted: Vec<&StartRow> = all.iter().copied().filter(|r| counts(r)).collect();
    if counted.is_empty() {
        return Err(Error::input(
            "compare",
            "every start is set aside or doubtful, so there is none to compare",
        )
        .hint("The flags and the column exclude of the starts table say why."));
    }
    let groups = grouped(&counted, &options.by)?;
    let judged = judged(&counted, &groups, &options.by);
    let set_aside = all.iter().filter(|r| r.exclude.is_some()).count();
    let mut comparison = Comparison {
        by: options.by.clone(),
        level,
        answers: options.measures[0].clone(),
        extended: options.extended,
        set_aside,
        doubtful: all.len() - counted.len() - set_aside,
        groups: each_group(&groups, &judged, level),
        pairs: Vec::new(),
        rates: Vec::new(),
        overall: Vec::new(),
        while_striking: Vec::new(),
        warnings: warnings::of(&counted, &groups, &all_groups, options),
    };
    if options.while_striking {
        // No p or interval of a fixed number of starts beside it: looking again and again spoils those.
        let ids: Vec<&str> = groups.keys().copied().collect();
        comparison.while_striking = sequential::while_striking(&counted, &ids, &options.by, level);
    } else {
        tell_pairs(&mut comparison, &judged, &groups, options);
    }
    Ok(comparison)
}

/// Whether a start is part of a verdict: neither set aside nor doubtful.
pub(crate) fn counts(row: &StartRow) -> bool {
    row.exclude.is_none()
        && row.verdict != Some(Verdict::Doubtful)
        && !row.flags.contains(&Flag::Doubtful)
}

/// Every two groups in every measure, and their rates.
fn tell_pairs(
    comparison: &mut Comparison,
    judged: &[Judged],
    groups: &Groups,
    options: &CompareOptions,
) {
    let level = comparison.level;
    let ids: Vec<&str> = groups.keys().copied().collect();
    let couples = (0..ids.len()).flat_map(|i| (i + 1..ids.len()).map(move |j| [i, j]));
    let twos: Vec<Two> = couples
        .map(|two| Two::of(judged, two.map(|k| ids[k]), two))
        .collect();
    let rates: Vec<Vec<RateDifference>> =
        twos.iter().map(|two| by_tips::rates(two, level)).collect();
    let mut seen = BTreeSet::new();
    for measure in options.measures.iter().filter(|m| seen.insert(*m)) {
        let mut pairs: Vec<(usize, Pair)> = twos
            .iter()
            .enumerate()
            .filter_map(|(k, two)| Some((k, by_tips::pair(two, measure, options, level)?)))
            .collect();
        // What has no p is no test, and no part of the family.
        let p: Vec<f64> = pairs.iter().filter_map(|(_, pair)| pair.p).collect();
        let mut adjusted = stats::holm(&p).into_iter();
        for (k, pair) in &mut pairs {
            pair.p_holm = pair.p.and_then(|_| adjusted.next());
            by_tips::judge(pair, &rates[*k], level);
        }
        comparison
            .pairs
            .extend(pairs.into_iter().map(|(_, pair)| pair));
        if groups.len() > 2 {
            comparison
                .overall
                .extend(by_starts::overall(judged, groups.len(), measure));
        }
    }
    comparison.rates = rates.concat();
}

/// The starts that count and belong to a group, by numbers.
fn judged<'a>(rows: &[&'a StartRow], groups: &Groups, by: &str) -> Vec<Judged<'a>> {
    let place: HashMap<&str, usize> = groups.keys().copied().zip(0..).collect();
    let mut tips: HashMap<(usize, usize), usize> = HashMap::new();
    let mut coupons: HashMap<Option<&str>, usize> = HashMap::new();
    let mut numbered: Vec<_> = rows.iter().zip(tips::numbers(rows)).collect();
    // Sums come out the same to the last digit, however the rows are ordered.
    numbered.sort_by(|(a, _), (b, _)| {
        let place = |row: &StartRow| (row.run, row.start);
        let first = |row: &StartRow| row.instants.t_first_s.unwrap_or(0.0);
        let name = a.recording.cmp(&b.recording);
        name.then(first(a).total_cmp(&first(b)))
            .then(place(a).cmp(&place(b)))
    });
    numbered
        .into_iter()
        .filter_map(|(&row, tip)| {
            let group = place[row.group(by)?];
            let (next_tip, next_coupon) = (tips.len(), coupons.len());
            let coupon = row.coupon.as_deref().filter(|_| by != "coupon");
            Some(Judged {
                row,
                group,
                tip: *tips.entry((group, tip)).or_insert(next_tip),
                coupon: *coupons.entry(coupon).or_insert(next_coupon),
            })
        })
        .collect()
}

fn each_group(groups: &Groups, judged: &[Judged], level: f64) -> Vec<Group> {
    let mut tips = vec![HashSet::new(); groups.len()];
    for start in judged {
        tips[start.group].insert(start.tip);
    }
    let each = groups.iter().zip(tips);
    each.map(|((id, rows), tips)| group(id, rows, tips.len(), level))
        .collect()
}

/// # Errors
/// A prep name that means two preps, as in tables of two jobs.
fn one_prep_a_name(rows: &[&StartRow], by: &str) -> Result<()> {
    const TOLD: [&str; 7] = [
        "class",
        "diameter",
        "taper_deg",
        "tip",
        "tip_flat",
        "marks",
        "wheel",
    ];
    if by != "prep" {
        return Ok(());
    }
    let mut first: HashMap<&str, &StartRow> = HashMap::new();
    for &row in rows {
        let before = *first.entry(&row.prep).or_insert(row);
        let unlike = TOLD.iter().find(|key| {
            let (one, other) = (before.sheet.get(**key), row.sheet.get(**key));
            one.is_some() && other.is_some() && one != other
        });
        if let Some(key) = unlike {
            let problem = format!(
                "means two preps: {key} is {} in {} and {} in {}",
                before.sheet[*key], before.recording, row.sheet[*key], row.recording
            );
            return Err(Error::input(format!("prep {}", row.prep), problem)
                .hint("Rename one of them, or group by what tells them apart, such as class."));
        }
    }
    Ok(())
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
            .chain(StartRow::GROUPS)
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

fn group(id: &str, rows: &[&StartRow], tips: usize, level: f64) -> Group {
    let starts = rows.len();
    let no_light = count(rows, Event::NoLight);
    let rough = count(rows, Event::Rough);
    let interval = stats::clopper_pearson(rough as u64, starts as u64, level);
    let scores: Vec<f64> = rows.iter().filter_map(|r| r.score).collect();
    Group {
        id: id.into(),
        tips,
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

fn count(rows: &[&StartRow], event: Event) -> usize {
    rows.iter().filter(|r| event.happened(r)).count()
}
