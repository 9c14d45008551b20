//! What spoils a comparison: things that differ between the groups besides what they are named by.

use std::collections::{BTreeMap, BTreeSet};

use crate::format::counted;
use crate::measuring::gather::StartSet;
use crate::score::StartRow;
use crate::stats;
use crate::stats::Blocks;
use crate::study::Comparison;
use crate::study::compare::{CompareOptions, Groups};

/// Conditions that should be the same in every group.
const CONDITIONS: &[&str] = &[
    "set_a",
    "process",
    "start_method",
    "set_en_pct",
    "gas",
    "flow",
    "cup",
    "material",
    "thickness",
    "stickout",
    "arc_gap",
    "upslope_s",
    "operator",
];

/// Measures that carry a gain error; each has its uncertainty beside it.
const SCALED: [&str; 3] = ["run_a", "run_v", "wander_v"];

/// Two groups whose order or wear lies this far apart (Cliff's delta) cannot be told from it.
const APART: f64 = 0.8;

/// One sentence for each thing that spoils the comparison.
pub(super) fn of(rows: &[&StartRow], groups: &Groups, options: &CompareOptions) -> Vec<String> {
    let mut cautions = left_out(rows, groups, options);
    cautions.extend(conditions(groups, &options.by));
    cautions.extend(loggers(groups, options));
    cautions.extend(run_current(groups));
    cautions.extend(order(groups));
    cautions.extend(wear(groups));
    cautions.extend(tips(groups, &options.by));
    cautions.extend(coupons(groups, &options.by));
    cautions
}

fn left_out(rows: &[&StartRow], groups: &Groups, options: &CompareOptions) -> Vec<String> {
    let mut cautions = Vec::new();
    let by = &options.by;
    let nameless = rows.iter().filter(|r| r.group(by).is_none()).count();
    if nameless > 0 {
        let starts = counted(nameless, "start");
        cautions.push(format!("{starts} without {by} left out."));
    }
    for measure in &options.measures {
        let empty: Vec<String> = groups
            .iter()
            .filter(|(_, rows)| rows.iter().all(|r| r.value(measure).is_none()))
            .map(|(id, _)| id.to_string())
            .collect();
        if !empty.is_empty() {
            cautions.push(format!(
                "{measure} is empty for all starts of {}.",
                list(&empty)
            ));
        }
    }
    cautions
}

fn conditions(groups: &Groups, by: &str) -> Vec<String> {
    let of_group = |rows: &[&StartRow], key: &str| -> BTreeSet<String> {
        rows.iter()
            .filter_map(|r| r.sheet.get(key).filter(|v| !v.is_empty()).cloned())
            .collect()
    };
    let mut cautions = Vec::new();
    for key in CONDITIONS.iter().filter(|&&key| key != by) {
        let sets: Vec<_> = groups
            .iter()
            .map(|(id, rows)| (id, of_group(rows, key)))
            .collect();
        if sets.iter().any(|(_, set)| *set != sets[0].1) {
            let each: Vec<String> = sets
                .iter()
                .map(|(id, set)| {
                    let values: Vec<_> = set.iter().cloned().collect();
                    let values = if values.is_empty() {
                        "not written down".into()
                    } else {
                        list(&values)
                    };
                    format!("{id}: {values}")
                })
                .collect();
            cautions.push(format!(
                "{key} is not the same in all groups ({}): it may be what makes the difference.",
                each.join("; ")
            ));
        }
    }
    cautions
}

/// Groups recorded under different calibrations: a difference carries the gain errors of both, which the scatter of starts
/// does not show. Under one calibration the error is common to both, and no difference has it.
fn loggers(groups: &Groups, options: &CompareOptions) -> Option<String> {
    let under = |rows: &[&StartRow]| -> BTreeSet<String> {
        let known = rows.iter().filter_map(|r| r.sheet.get("logger"));
        known.cloned().collect()
    };
    let sets: Vec<_> = groups.iter().map(|(id, rows)| (id, under(rows))).collect();
    if sets.iter().all(|(_, set)| *set == sets[0].1) {
        return None;
    }
    let words = |(id, set): &(&&str, BTreeSet<String>)| match set.len() {
        0 => format!("{id}: not known"),
        _ => format!("{id}: {}", list(&set.iter().cloned().collect::<Vec<_>>())),
    };
    let each: Vec<String> = sets.iter().map(words).collect();
    let scaled = options
        .measures
        .iter()
        .filter(|m| SCALED.contains(&m.as_str()));
    let sizes: Vec<String> = scaled
        .filter_map(|measure| Some(format!("{measure} by {:.3}", gain_errors(groups, measure)?)))
        .collect();
    let sizes = match sizes.is_empty() {
        true => String::new(),
        false => format!(
            " By calibration alone (k = 2) it can shift {}; the interval of the difference does not hold that.",
            list(&sizes)
        ),
    };
    Some(format!(
        "The groups were recorded with different loggers ({}): a difference of current or voltage has the gain errors of both in it.{sizes}",
        each.join(" / ")
    ))
}

/// Largest expanded uncertainty that two of the groups have together (root sum of squares, JCGM 100:2008, 5.1.2).
fn gain_errors(groups: &Groups, measure: &str) -> Option<f64> {
    let name = format!("u_{measure}");
    let own = |rows: &Vec<&StartRow>| {
        stats::median(
            &rows
                .iter()
                .filter_map(|r| r.value(&name))
                .collect::<Vec<_>>(),
        )
    };
    let mut each: Vec<f64> = groups.values().filter_map(own).collect();
    each.sort_by(|a, b| b.total_cmp(a));
    match each[..] {
        [first, second, ..] => Some(first.hypot(second)),
        _ => None,
    }
}

/// Groups whose measured current differs by a tenth or more, whatever was set.
fn run_current(groups: &Groups) -> Option<String> {
    let medians: Vec<(&str, f64)> = groups
        .iter()
        .filter_map(|(id, rows)| {
            let amps: Vec<f64> = rows.iter().filter_map(|r| r.measures.run_a).collect();
            Some((*id, stats::median(&amps)?))
        })
        .collect();
    let (low, least) = medians.iter().copied().min_by(|x, y| x.1.total_cmp(&y.1))?;
    let (high, most) = medians.iter().copied().max_by(|x, y| x.1.total_cmp(&y.1))?;
    (most > 1.1 * least).then(|| {
        format!("The groups ran at different amps ({low} {least:.0} A, {high} {most:.0} A): starts change with the amps.")
    })
}

/// Cliff's delta between two groups of what `value` gives, where both have some.
fn apart(a: &[&StartRow], b: &[&StartRow], value: impl Fn(&StartRow) -> Option<f64>) -> f64 {
    let take = |rows: &[&StartRow]| rows.iter().filter_map(|r| value(r)).collect::<Vec<_>>();
    Blocks::single(&take(a), &take(b)).map_or(0.0, |blocks| stats::cliffs_delta(&blocks))
}

/// First two groups that `test` finds apart.
fn first_apart<'a>(
    groups: &Groups<'a>,
    value: impl Fn(&StartRow) -> Option<f64>,
) -> Option<(&'a str, &'a str)> {
    let all: Vec<_> = groups.iter().collect();
    for (i, (a, rows_a)) in all.iter().enumerate() {
        for (b, rows_b) in &all[i + 1..] {
            let delta = apart(rows_a, rows_b, &value);
            if delta.abs() >= APART {
                return Some(if delta > 0.0 { (a, b) } else { (b, a) });
            }
        }
    }
    None
}

fn order(groups: &Groups) -> Option<String> {
    let (first, last) = first_apart(groups, |row| Some(f64::from(row.run)))?;
    Some(format!(
        "All or nearly all starts of {first} came before those of {last}: whatever changed in between (heat, gas, hand) counts as a difference of theirs. Mix the order next time (tipstrike plan writes one)."
    ))
}

fn wear(groups: &Groups) -> Option<String> {
    let (fresh, worn) = first_apart(groups, |row| row.measures.since_regrind)?;
    Some(format!(
        "The tips of {worn} had struck more arcs since the regrind than those of {fresh}: wear counts as a difference of theirs."
    ))
}

fn tips(groups: &Groups, by: &str) -> Option<String> {
    if by != "prep" {
        return None;
    }
    let known = |rows: &&Vec<&StartRow>| rows.iter().all(|r| r.measures.since_regrind.is_some());
    let single: Vec<String> = groups
        .iter()
        .filter(|(_, rows)| known(rows) && crate::study::tips::split(rows).len() == 1)
        .map(|(id, _)| id.to_string())
        .collect();
    (!single.is_empty()).then(|| {
        format!(
            "Only one tip of {}: the answer is about that tip. Regrind and strike again to speak of the grind.",
            list(&single)
        )
    })
}

fn coupons(groups: &Groups, by: &str) -> Option<String> {
    if by == "coupon" {
        return None;
    }
    let sets: Vec<BTreeSet<&str>> = groups
        .values()
        .map(|rows| rows.iter().filter_map(|r| r.coupon.as_deref()).collect())
        .collect();
    let all: BTreeSet<&str> = sets.iter().flatten().copied().collect();
    let shared = all
        .iter()
        .filter(|c| sets.iter().all(|set| set.contains(*c)))
        .count();
    if all.len() < 2 || shared == all.len() {
        None
    } else if shared == 0 {
        Some("The groups share no coupon: a difference of the coupons counts as a difference of theirs.".into())
    } else {
        Some(format!(
            "Only {shared} of {} coupons carry starts of every group; a pair is compared on the coupons it shares.",
            all.len()
        ))
    }
}

/// A caution where the starts of the groups were scored against different targets; `None` where they
/// share them, or come from a table, which does not hold them.
pub fn targets_differ(gathered: &StartSet, comparison: &Comparison) -> Option<String> {
    let mut sets: BTreeMap<&str, BTreeSet<String>> = BTreeMap::new();
    for (row, detail) in gathered.rows.iter().zip(&gathered.details) {
        let (Some(id), Some(score)) = (row.group(&comparison.by), &detail.score) else {
            continue;
        };
        for part in &score.parts {
            let target = (part.measure, part.good, part.poor, part.weight, part.shape);
            sets.entry(id).or_default().insert(format!("{target:?}"));
        }
    }
    let mut sets = sets.values();
    let first = sets.next()?;
    sets.any(|set| set != first).then(|| {
        "The groups were scored against different targets, so their scores are not on one scale: compare start_ms or another measure (--measure start_ms), or give all the same [targets].".into()
    })
}

/// "a", "a and b", "a, b and c".
pub(super) fn list(items: &[String]) -> String {
    match items {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}
