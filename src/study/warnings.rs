//! What spoils a comparison: things that differ between the groups besides what they are named by.

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::ops::Range;

use crate::format::{counted, list};
use crate::measuring::gather::StartSet;
use crate::score::StartRow;
use crate::stats;
use crate::stats::Blocks;
use crate::study::groups::Groups;
use crate::study::options::CompareOptions;
use crate::study::{Comparison, Confounder, Warning, tips};

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
    "cell",
    "shift",
];

/// Measures that carry a gain error; each has its uncertainty beside it.
const SCALED: [&str; 3] = ["run_a", "run_v", "wander_v"];

/// Two groups whose order or wear lies this far apart (Cliff's delta) cannot be told from it.
const APART: f64 = 0.8;

/// Each thing that spoils the comparison of the starts that count; `all` has those left out besides.
pub(super) fn of(
    rows: &[&StartRow],
    groups: &Groups,
    all: &Groups,
    options: &CompareOptions,
) -> Vec<Warning> {
    let mut warnings = missing(rows, groups, options);
    warnings.extend(left_out(groups, all));
    warnings.extend(conditions(groups, &options.by));
    warnings.extend(loggers(groups, options).map(|says| Warning::new(Confounder::Logger, says)));
    warnings.extend(run_current(groups).map(|says| Warning::new(Confounder::Amps, says)));
    warnings
        .extend(order(rows, groups, &options.by).map(|says| Warning::new(Confounder::Order, says)));
    warnings.extend(unequal_tips(groups).map(|says| Warning::new(Confounder::Tips, says)));
    warnings.extend(wear(groups).map(|says| Warning::new(Confounder::TipAge, says)));
    warnings
        .extend(coupons(groups, &options.by).map(|says| Warning::new(Confounder::Coupon, says)));
    warnings
}

/// What only the recordings and scores show.
pub(super) fn of_set(set: &StartSet, comparison: &Comparison) -> Vec<Warning> {
    let counted = set
        .miscounted
        .iter()
        .map(|says| Warning::new(Confounder::Miscounted, says));
    let sheets = sheets(set, comparison).map(|says| Warning::new(Confounder::Order, says));
    let targets =
        targets_differ(set, comparison).map(|says| Warning::new(Confounder::Targets, says));
    counted.chain(sheets).chain(targets).collect()
}

fn missing(rows: &[&StartRow], groups: &Groups, options: &CompareOptions) -> Vec<Warning> {
    let mut warnings = Vec::new();
    let by = &options.by;
    let nameless = rows.iter().filter(|r| r.group(by).is_none()).count();
    if nameless > 0 {
        let starts = counted(nameless, "start");
        warnings.push(Warning::new(
            Confounder::Missing,
            format!("{starts} without {by} left out."),
        ));
    }
    for measure in &options.measures {
        let empty: Vec<String> = groups
            .iter()
            .filter(|(_, rows)| rows.iter().all(|r| r.value(measure).is_none()))
            .map(|(id, _)| id.to_string())
            .collect();
        if !empty.is_empty() {
            let says = format!("{measure} is empty for all starts of {}.", list(&empty));
            warnings.push(Warning::new(Confounder::Missing, says));
        }
    }
    warnings
}

/// Groups that lost unequal parts of their starts: what was left out may be what differs.
const UNEQUAL_LOSS: f64 = 0.1;

fn left_out(groups: &Groups, all: &Groups) -> Option<Warning> {
    let lost = |(id, rows): (&&str, &Vec<&StartRow>)| {
        let kept = groups.get(id).map_or(0, Vec::len);
        (id.to_string(), rows.len() - kept, rows.len())
    };
    let lost: Vec<_> = all.iter().map(lost).collect();
    let parts = || lost.iter().map(|(_, gone, n)| *gone as f64 / *n as f64);
    let apart = parts().fold(0.0, f64::max) - parts().fold(1.0, f64::min);
    (apart > UNEQUAL_LOSS).then(|| {
        let each = lost.iter().map(|(id, gone, n)| format!("{id} {gone} of {n}"));
        let each: Vec<String> = each.collect();
        let says = format!(
            "Starts set aside or doubtful are not alike ({}): what was left out may be what differs.",
            each.join("; ")
        );
        Warning::new(Confounder::LeftOut, says)
    })
}

fn conditions(groups: &Groups, by: &str) -> Vec<Warning> {
    let of_group = |rows: &[&StartRow], key: &str| -> BTreeSet<String> {
        let known = rows.iter().filter_map(|r| r.group(key));
        known.filter(|v| !v.is_empty()).map(str::to_owned).collect()
    };
    let mut warnings = Vec::new();
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
            let says = format!(
                "{key} is not the same in all groups ({}): it may be what makes the difference.",
                each.join("; ")
            );
            warnings.push(Warning::new(Confounder::Column((*key).to_owned()), says));
        }
    }
    warnings
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

/// One group struck before the other: by date where all starts have one and the days differ, else by the rows of the sheet.
fn order(rows: &[&StartRow], groups: &Groups, by: &str) -> Option<String> {
    if by == "date" {
        return None;
    }
    let days: BTreeSet<&str> = rows.iter().filter_map(|row| row.date.as_deref()).collect();
    let day: HashMap<&str, f64> = days.iter().copied().zip((0..).map(f64::from)).collect();
    let dated = days.len() > 1 && rows.iter().all(|row| row.date.is_some());
    let (first, last) = first_apart(groups, |row| match &row.date {
        Some(date) if dated => Some(day[date.as_str()]),
        _ => Some(f64::from(row.run)),
    })?;
    Some(format!(
        "All or nearly all starts of {first} came before those of {last}: whatever changed in between (heat, gas, hand) counts as a difference between them. Mix the order next time (tipstrike plan writes one)."
    ))
}

/// Two groups that share no sheet: Monday's job and Tuesday's say nothing of the order where neither has dates.
fn sheets(set: &StartSet, comparison: &Comparison) -> Option<String> {
    let of_group = |id: &str| -> BTreeSet<usize> {
        let has = |range: &Range<usize>| {
            let mut rows = set.rows[range.clone()].iter();
            rows.any(|row| row.group(&comparison.by) == Some(id))
        };
        set.sheets
            .iter()
            .enumerate()
            .filter(|(_, range)| has(range))
            .map(|(k, _)| k)
            .collect()
    };
    let groups: Vec<_> = comparison
        .groups
        .iter()
        .map(|g| (&g.id, of_group(&g.id)))
        .collect();
    let known = comparison
        .warnings
        .iter()
        .any(|w| w.about == Confounder::Order);
    let mut pairs = groups
        .iter()
        .enumerate()
        .flat_map(|(k, one)| groups[k + 1..].iter().map(move |two| (one, two)));
    let (one, two) = pairs.find(|(one, two)| one.1.is_disjoint(&two.1))?;
    (!known && !set.rows.iter().all(|row| row.date.is_some())).then(|| {
        format!(
            "{} and {} come from different sheets without dates, so nothing says that they were struck in turn: whatever changed in between counts as a difference between them.",
            one.0, two.0
        )
    })
}

/// Three tips against more: by simulation (docs/statistics.md) 7 of 100 equal grinds are told apart where the three differ
/// by three times as much. Two against more get no verdict; four and more hold it.
fn unequal_tips(groups: &Groups) -> Option<String> {
    let tips = groups
        .iter()
        .map(|(id, rows)| (*id, tips::split(rows).len()));
    let tips: Vec<(&str, usize)> = tips.collect();
    let (few, _) = tips.iter().find(|(_, n)| *n == 3)?;
    let (many, most) = tips
        .iter()
        .max_by_key(|(_, n)| *n)
        .filter(|(_, n)| *n > 3)?;
    Some(format!(
        "{few} has 3 tips and {many} {most}: if tips of {few} differ more than those of {many}, equal grinds are told apart in up to 7 of 100. Equal numbers of tips are safer."
    ))
}

fn wear(groups: &Groups) -> Option<String> {
    let (fresh, worn) = first_apart(groups, |row| row.measures.since_regrind)?;
    Some(format!(
        "The tips of {worn} had struck more arcs since the regrind than those of {fresh}: wear counts as a difference between them."
    ))
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
        Some("The groups share no coupon: a difference between the coupons counts as one between them.".into())
    } else {
        Some(format!(
            "Only {shared} of {} coupons carry starts of every group; a pair is compared on the coupons it shares.",
            all.len()
        ))
    }
}

/// Says where the starts of the groups were scored against different targets; `None` where they
/// share them, or come from a table, which does not hold them.
fn targets_differ(gathered: &StartSet, comparison: &Comparison) -> Option<String> {
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
