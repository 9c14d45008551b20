//! What spoils a comparison: things that differ between the groups besides what they are named by.

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::ops::Range;
use std::sync::Arc;

use crate::measure::Quantity;
use crate::measuring::gather::StartSet;
use crate::parallel;
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
    let each: [&(dyn Fn() -> Vec<Warning> + Sync); 8] = [
        &|| missing(rows, groups, options),
        &|| Vec::from_iter(left_out(groups, all)),
        &|| of_sheets(groups, options),
        &|| Vec::from_iter(run_current(groups)),
        &|| Vec::from_iter(order(rows, groups, &options.by)),
        &|| Vec::from_iter(unequal_tips(groups)),
        &|| Vec::from_iter(wear(groups)),
        &|| Vec::from_iter(coupons(groups, &options.by)),
    ];
    parallel::each(&each, |tell| tell()).concat()
}

/// What only the recordings and scores show.
pub(super) fn of_set(set: &StartSet, comparison: &Comparison) -> Vec<Warning> {
    let counted = set.miscounted.iter().cloned().map(Warning::Miscounted);
    let targets = targets_differ(set, comparison).then_some(Warning::Targets);
    counted
        .chain(sheets(set, comparison))
        .chain(targets)
        .collect()
}

fn missing(rows: &[&StartRow], groups: &Groups, options: &CompareOptions) -> Vec<Warning> {
    let mut warnings = Vec::new();
    let by = &options.by;
    let starts = rows.len() - groups.values().map(Vec::len).sum::<usize>();
    if starts > 0 {
        let by = by.clone();
        warnings.push(Warning::Nameless { starts, by });
    }
    for measure in &options.measures {
        let quantity = Quantity::named(measure);
        let empty: Vec<String> = groups
            .iter()
            .filter(|(_, rows)| rows.iter().all(|r| r.value_of(&quantity).is_none()))
            .map(|(id, _)| id.to_string())
            .collect();
        if !empty.is_empty() {
            warnings.push(Warning::Empty {
                measure: measure.clone(),
                groups: empty,
            });
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
    (apart > UNEQUAL_LOSS).then_some(Warning::LeftOut(lost))
}

/// What the sheets of the groups differ in.
fn of_sheets(groups: &Groups, options: &CompareOptions) -> Vec<Warning> {
    let alike = alike(groups);
    let mut warnings = conditions(&alike, &options.by);
    warnings.extend(loggers(&alike, groups, options));
    warnings
}

fn conditions(groups: &Alike, by: &str) -> Vec<Warning> {
    let differs = |key: &&str| {
        if *key == by {
            return None;
        }
        let sets = groups.iter().map(|(id, rows)| (*id, values_of(rows, key)));
        let sets: Vec<_> = sets.collect();
        differ(&sets).then(|| Warning::Column {
            column: (*key).to_owned(),
            values: named(sets),
        })
    };
    let told = parallel::each(CONDITIONS, differs);
    told.into_iter().flatten().collect()
}

/// The starts of a group, of those in a row that have the same conditions the first.
type Alike<'a> = Vec<(&'a str, Vec<&'a StartRow>)>;

/// The groups by what [`CONDITIONS`] may name: the sheet, the cell and the shift.
fn alike<'a>(groups: &Groups<'a>) -> Alike<'a> {
    let same = |a: &mut &StartRow, b: &mut &StartRow| {
        Arc::ptr_eq(&a.sheet, &b.sheet) && a.cell == b.cell && a.shift == b.shift
    };
    let first = |rows: &Vec<&'a StartRow>| {
        let mut first = rows.clone();
        first.dedup_by(same);
        first
    };
    groups.iter().map(|(id, rows)| (*id, first(rows))).collect()
}

/// The values that a column has in some starts.
fn values_of(rows: &[&StartRow], key: &str) -> BTreeSet<String> {
    let (mut values, mut last) = (BTreeSet::new(), None);
    for row in rows {
        let value = row.group(key).filter(|value| !value.is_empty());
        if value != last {
            values.extend(value);
            last = value;
        }
    }
    values.into_iter().map(str::to_owned).collect()
}

fn differ(sets: &[(&str, BTreeSet<String>)]) -> bool {
    sets.iter().any(|(_, set)| *set != sets[0].1)
}

fn named(sets: Vec<(&str, BTreeSet<String>)>) -> Vec<(String, Vec<String>)> {
    let named = |(id, set): (&str, BTreeSet<String>)| (id.to_owned(), Vec::from_iter(set));
    sets.into_iter().map(named).collect()
}

/// Groups recorded under different calibrations: a difference carries the gain errors of both, which the scatter of starts
/// does not show. Under one calibration the error is common to both, and no difference has it.
fn loggers(alike: &Alike, groups: &Groups, options: &CompareOptions) -> Option<Warning> {
    let sets = alike
        .iter()
        .map(|(id, rows)| (*id, values_of(rows, "logger")));
    let sets: Vec<_> = sets.collect();
    if !differ(&sets) {
        return None;
    }
    let measures = options.measures.iter();
    let scaled = measures.filter(|m| SCALED.contains(&m.as_str()));
    Some(Warning::Loggers {
        loggers: named(sets),
        gain_errors: scaled
            .filter_map(|measure| Some((measure.clone(), gain_errors(groups, measure)?)))
            .collect(),
    })
}

/// Largest expanded uncertainty that two of the groups have together (root sum of squares, JCGM 100:2008, 5.1.2).
fn gain_errors(groups: &Groups, measure: &str) -> Option<f64> {
    let uncertainty = Quantity::named(&format!("u_{measure}"));
    let own = |rows: &Vec<&StartRow>| {
        let values = rows.iter().filter_map(|r| r.value_of(&uncertainty));
        stats::median(&values.collect::<Vec<_>>())
    };
    let mut each: Vec<f64> = groups.values().filter_map(own).collect();
    each.sort_by(|a, b| b.total_cmp(a));
    match each[..] {
        [first, second, ..] => Some(libm::hypot(first, second)),
        _ => None,
    }
}

/// Groups whose measured current differs by a tenth or more, whatever was set.
fn run_current(groups: &Groups) -> Option<Warning> {
    let medians: Vec<(&str, f64)> = groups
        .iter()
        .filter_map(|(id, rows)| {
            let amps: Vec<f64> = rows.iter().filter_map(|r| r.measures.run_a()).collect();
            Some((*id, stats::median(&amps)?))
        })
        .collect();
    let (low, least) = medians.iter().copied().min_by(|x, y| x.1.total_cmp(&y.1))?;
    let (high, most) = medians.iter().copied().max_by(|x, y| x.1.total_cmp(&y.1))?;
    (most > 1.1 * least).then(|| Warning::Amps {
        low: (low.to_owned(), least),
        high: (high.to_owned(), most),
    })
}

/// About this many starts of a larger group are looked at, evenly spread: they tell whether two groups lie far apart.
const LOOKED_AT: usize = 10_000;

/// Cliff's delta between two groups of what `value` gives, where both have some.
fn apart<'a>(
    a: &[&'a StartRow],
    b: &[&'a StartRow],
    mut value: impl FnMut(&'a StartRow) -> Option<f64>,
) -> f64 {
    let mut take = |rows: &[&'a StartRow]| -> Vec<f64> {
        let some = rows.iter().step_by(rows.len() / LOOKED_AT + 1);
        some.filter_map(|row| value(row)).collect()
    };
    Blocks::new([(take(a), take(b))]).map_or(0.0, |blocks| stats::cliffs_delta(&blocks))
}

/// First two groups that `test` finds apart.
fn first_apart<'a>(
    groups: &Groups<'a>,
    mut value: impl FnMut(&'a StartRow) -> Option<f64>,
) -> Option<(&'a str, &'a str)> {
    let all: Vec<_> = groups.iter().collect();
    for (i, (a, rows_a)) in all.iter().enumerate() {
        for (b, rows_b) in &all[i + 1..] {
            let delta = apart(rows_a, rows_b, &mut value);
            if delta.abs() >= APART {
                return Some(if delta > 0.0 { (a, b) } else { (b, a) });
            }
        }
    }
    None
}

/// One group struck before the other: by date where all starts have one and the days differ, else by the rows of the sheet.
fn order(rows: &[&StartRow], groups: &Groups, by: &str) -> Option<Warning> {
    if by == "date" {
        return None;
    }
    let days = rows.chunk_by(|a, b| a.date == b.date);
    let days: BTreeSet<&str> = days.filter_map(|rows| rows[0].date.as_deref()).collect();
    let day: HashMap<&str, f64> = days.iter().copied().zip((0..).map(f64::from)).collect();
    let dated = days.len() > 1 && rows.iter().all(|row| row.date.is_some());
    let mut last = ("", 0.0);
    let (first, last) = first_apart(groups, |row| match row.date.as_deref() {
        Some(date) if dated => {
            // Starts of a day follow each other.
            if date != last.0 {
                last = (date, day[date]);
            }
            Some(last.1)
        }
        _ => Some(f64::from(row.run)),
    })?;
    Some(Warning::Order {
        first: first.to_owned(),
        last: last.to_owned(),
    })
}

/// Two groups that share no sheet: Monday's job and Tuesday's say nothing of the order where neither has dates.
fn sheets(set: &StartSet, comparison: &Comparison) -> Option<Warning> {
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
        .any(|w| w.about() == Confounder::Order);
    let mut pairs = groups
        .iter()
        .enumerate()
        .flat_map(|(k, one)| groups[k + 1..].iter().map(move |two| (one, two)));
    let (one, two) = pairs.find(|(one, two)| one.1.is_disjoint(&two.1))?;
    (!known && !set.rows.iter().all(|row| row.date.is_some()))
        .then(|| Warning::Sheets(one.0.clone(), two.0.clone()))
}

/// Three tips against more: by simulation (docs/statistics.md) 7 of 100 equal grinds are told apart where the three differ
/// by three times as much. Two against more get no verdict; four and more hold it.
fn unequal_tips(groups: &Groups) -> Option<Warning> {
    let tips = groups.iter().map(|(id, rows)| (*id, tips::count(rows)));
    let tips: Vec<(&str, usize)> = tips.collect();
    let (few, _) = tips.iter().find(|(_, n)| *n == 3)?;
    let (many, most) = tips
        .iter()
        .max_by_key(|(_, n)| *n)
        .filter(|(_, n)| *n > 3)?;
    Some(Warning::UnequalTips {
        few: (*few).to_owned(),
        many: (*many).to_owned(),
        most: *most,
    })
}

fn wear(groups: &Groups) -> Option<Warning> {
    let (fresh, worn) = first_apart(groups, |row| row.measures.since_regrind())?;
    Some(Warning::Wear {
        fresh: fresh.to_owned(),
        worn: worn.to_owned(),
    })
}

fn coupons(groups: &Groups, by: &str) -> Option<Warning> {
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
    (all.len() > 1 && shared < all.len()).then_some(Warning::Coupons {
        shared,
        all: all.len(),
    })
}

/// Whether the starts of the groups were scored against different targets; a table does not hold them.
fn targets_differ(gathered: &StartSet, comparison: &Comparison) -> bool {
    let mut sets: BTreeMap<&str, BTreeSet<String>> = BTreeMap::new();
    for (row, score) in gathered.scored() {
        let Some(id) = row.group(&comparison.by) else {
            continue;
        };
        for part in &score.parts {
            let target = (part.measure, part.good, part.poor, part.weight, part.shape);
            sets.entry(id).or_default().insert(format!("{target:?}"));
        }
    }
    let mut sets = sets.values();
    sets.next()
        .is_some_and(|first| sets.any(|set| set != first))
}
