//! Which of two or more groups of starts is better, and are there enough starts to say so?

use std::collections::{BTreeSet, HashSet};

use crate::error::{Error, ErrorKind, Place, Result};
use crate::measure::Quantity;
use crate::measuring::gather::StartSet;
use crate::parallel;
use crate::score::StartRow;
use crate::stats;
use crate::study::by_tips::Two;
use crate::study::comparison::{Comparison, Event, Group, Pair, RateDifference};
use crate::study::groups::{Groups, Judged, counts, grouped, judged, one_prep_a_name};
use crate::study::options::CompareOptions;
use crate::study::{by_starts, by_tips, known_measure, sequential, warnings};

/// Of more groups than this each is compared with all others together: pairs would be too many to tell anything, and to
/// compute in seconds.
const MANY_GROUPS: usize = 40;

/// Part of the chance of a false verdict that a second look may spend: with the first look at the whole of it, both err in
/// 5 of 100 together (docs/statistics.md).
const SECOND_LOOK: f64 = 0.2;

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
        return Err(Error::new(
            ErrorKind::InvalidParameter,
            Place::parameter("level"),
            format!("{} is no confidence level", options.level),
        )
        .hint("Give one between 0.5 and 1, such as 0.95"));
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
        return Err(Error::new(
            ErrorKind::NoStarts,
            "compare",
            "every start is set aside or doubtful, so there is none to compare",
        )
        .hint("The flags and the column exclude of the starts table say why"));
    }
    let groups = match counted.len() == all.len() {
        true => all_groups.clone(),
        false => grouped(&counted, &options.by)?,
    };
    let (judged, warnings) = parallel::both(
        || judged(&counted, &groups, &options.by),
        || warnings::of(&counted, &groups, &all_groups, options),
    );
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
        warnings,
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
    let twos: Vec<Two> = match ids.len() > MANY_GROUPS {
        true => (0..ids.len())
            .map(|k| Two::against_others(judged, ids[k], k))
            .collect(),
        false => couples
            .map(|two| Two::of(judged, two.map(|k| ids[k]), two))
            .collect(),
    };
    let rates: Vec<Vec<RateDifference>> = parallel::each(&twos, |two| by_tips::rates(two, level));
    let mut seen = BTreeSet::new();
    let measures = options.measures.iter().filter(|m| seen.insert(*m));
    let measures: Vec<&String> = measures.collect();
    let of_measure = |measure: &&String| -> Vec<(usize, Pair)> {
        let pairs = parallel::each(&twos, |two| by_tips::pair(two, measure, options, level));
        let pairs = (0..).zip(pairs);
        pairs.filter_map(|(k, pair)| Some((k, pair?))).collect()
    };
    let all = parallel::each(&measures, of_measure);
    for (measure, mut pairs) in measures.into_iter().zip(all) {
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

fn each_group(groups: &Groups, judged: &[Judged], level: f64) -> Vec<Group> {
    let mut tips = vec![HashSet::new(); groups.len()];
    // Starts on a tip follow each other.
    for tip in judged.chunk_by(|a, b| (a.group, a.tip) == (b.group, b.tip)) {
        tips[tip[0].group].insert(tip[0].tip);
    }
    let each = groups.iter().zip(tips);
    each.map(|((id, rows), tips)| group(id, rows, tips.len(), level))
        .collect()
}

fn check_measures(rows: &[&StartRow], options: &CompareOptions) -> Result<()> {
    if options.measures.is_empty() {
        return Err(Error::new(
            ErrorKind::IncompleteQuestion,
            Place::parameter("measure"),
            "none is named",
        ));
    }
    for measure in &options.measures {
        known_measure(rows.iter().copied(), measure, "measure")?;
    }
    for measure in options.margins.keys() {
        known_measure(rows.iter().copied(), measure, "margin")?;
    }
    for measure in options.better.keys() {
        if !matches!(Quantity::named(measure), Quantity::Column(_)) {
            let problem = "which way this measure is better is fixed";
            return Err(Error::new(
                ErrorKind::InvalidParameter,
                Place::parameter("better").value(measure),
                problem,
            )
            .hint("Say it of numeric columns of your own sheet, such as bead_mm=higher"));
        }
        known_measure(rows.iter().copied(), measure, "better")?;
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

fn count(rows: &[&StartRow], event: Event) -> usize {
    rows.iter().filter(|r| event.happened(r)).count()
}
