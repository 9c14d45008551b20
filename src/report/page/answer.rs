//! How sure the answer is: the comparison in full, and wear.

use std::borrow::Cow;

use maud::{Markup, html};

use crate::figure;
use crate::figure::Item;
use crate::format::{p_value, percent, percent_points, short_or_dash};
use crate::measure::Quantity;
use crate::page::first::groups as groups_of_page;
use crate::page::parts::{PageInput, name, shown};
use crate::parallel;
use crate::score::StartRow;
use crate::stats::{median, median_interval, order};
use crate::study::{
    About, Comparison, PairVerdict, WEAR_MEASURES, Wear, measure_values, prep_names, starts_by,
    starts_by_prep,
};
use crate::text::{by_starts_cells, pair_word, shift, shift_interval, titled, usual};
use crate::words;
use crate::words::rehearsal::how_sure;

/// Groups, differences, rates, each as table and as figure.
pub(super) fn comparison(input: &PageInput) -> Option<Markup> {
    let answer = input.comparison?;
    Some(html! {
        p.answer { (name(&words::answer(answer))) }
        @for warning in &answer.warnings { p.warn { (name(&words::spoils(warning))) } }
        (groups(answer))
        (rough_figure(answer))
        @if !answer.pairs.is_empty() { (pairs(answer)) (measure_figures(input, answer)) }
        @let disagree = disagrees(answer);
        @if let Some(table) = by_starts(answer) {
            details open[disagree] {
                summary { "Start by start" @if disagree { ": says another thing than the tips" } @else { ": says the same" } }
                (table)
            }
        }
        @if !answer.rates.is_empty() { (rates(answer)) }
        (rehearsed(input))
    })
}

/// What a rehearsal on the logger says, where the job names one.
pub(super) fn rehearsed(input: &PageInput) -> Markup {
    let of = input.measuring.and_then(|m| m.by_rehearsal);
    html! { @if let Some(of) = of { p { (how_sure(&of)) } } }
}

/// Whether the starts taken by themselves point the other way than the tips in some measure.
fn disagrees(answer: &Comparison) -> bool {
    let mut told = answer.pairs.iter().filter(|pair| pair.about == About::Prep);
    told.any(|pair| {
        let clear = pair.by_starts.p < 1.0 - answer.level;
        let by_tips = matches!(pair.verdict, PairVerdict::ABetter | PairVerdict::BBetter);
        clear != by_tips || clear && pair.by_starts.shift * pair.shift < 0.0
    })
}

fn level(answer: &Comparison) -> String {
    format!("{:.0} %", 100.0 * answer.level)
}

fn groups(answer: &Comparison) -> Markup {
    html! {
        div.scroll tabindex="0" role="region" aria-label="Starts by group" {
            table {
                caption { "Starts by " (name(&answer.by)) ". Rough counts those that did not light too; the interval is Clopper–Pearson's, for starts that do not depend on their tip." }
                thead { tr {
                    th scope="col" { (name(&answer.by)) }
                    th.n scope="col" { "tips" } th.n scope="col" { "starts" } th.n scope="col" { "lit" } th.n scope="col" { "no light" } th.n scope="col" { "rough" }
                    th.n scope="col" { "rough rate" } th.n scope="col" { (level(answer)) " interval" } th.n scope="col" { "median score" }
                } }
                tbody { @for group in &answer.groups { tr {
                    th scope="row" { (name(&group.id)) }
                    td.n { (group.tips) } td.n { (group.starts) } td.n { (group.lit) } td.n { (group.no_light) } td.n { (group.rough) }
                    td.n { (percent(group.rough_rate)) }
                    td.n { (percent(group.rough_lo)) " to " (percent(group.rough_hi)) }
                    td.n { (short_or_dash(group.score_median)) }
                } } }
            }
        }
    }
}

fn rough_figure(answer: &Comparison) -> Markup {
    let items: Vec<Item> = answer
        .groups
        .iter()
        .map(|group| Item {
            name: group.id.clone(),
            note: format!("{} of {}", group.rough, group.starts),
            values: Vec::new(),
            centre: 100.0 * group.rough_rate,
            interval: Some((100.0 * group.rough_lo, 100.0 * group.rough_hi)),
        })
        .collect();
    let top = items
        .iter()
        .filter_map(|item| item.interval)
        .map(|(_, hi)| hi)
        .fold(10.0, f64::max);
    let svg = figure::intervals(
        "rough starts, %",
        &items,
        Some((0.0, (1.05 * top).min(100.0))),
    );
    html! { div.two { (shown(&svg, false, html! { "Rough starts in a hundred with " (level(answer)) " interval." })) } }
}

fn pairs(answer: &Comparison) -> Markup {
    html! {
        h3 { "Differences" }
        div.scroll tabindex="0" role="region" aria-label="Differences between groups" {
            table {
                caption { "Second minus first. Tips are the unit: the usual value is the mean over tips (geometric for times and wander), "
                    "inside coupons, and the interval rests on how tips of one group differ; where a group has one tip, these tips are compared start by start. p: after Holm." }
                thead { tr {
                    th scope="col" { "pair" } th scope="col" { "measure" } th scope="col" { "verdict" } th.n scope="col" { "difference" }
                    th.n scope="col" { (level(answer)) " interval" } th.n scope="col" { "p" } th.n scope="col" { "usual" } th.n scope="col" { "tips" }
                } }
                tbody { @for pair in &answer.pairs { tr {
                    th scope="row" { (name(&pair.a)) ", " (name(&pair.b)) }
                    td { (titled(&pair.measure)) }
                    td { (pair_word(pair)) }
                    td.n { (shift(pair)) }
                    td.n { (shift_interval(pair)) }
                    td.n { (pair.p_holm.map_or("–".to_owned(), p_value)) }
                    td.n { (usual(pair)) }
                    td.n { (pair.tips_a) ", " (pair.tips_b) }
                } } }
            }
        }
        @if let Some(text) = words::shares(answer) { p { (text) } }
    }
}

/// The second table: what holds for these tips alone.
fn by_starts(answer: &Comparison) -> Option<Markup> {
    let told = answer.pairs.iter().any(|pair| pair.about == About::Prep);
    told.then(|| html! {
        div.scroll tabindex="0" role="region" aria-label="Differences start by start" {
            table {
                caption { "These tips only: Hodges–Lehmann shift, second minus first; p: the larger of Mann–Whitney's (by coupon: van Elteren's) and Brunner–Munzel's." }
                thead { tr {
                    th scope="col" { "pair" } th scope="col" { "measure" } th.n scope="col" { "medians" } th.n scope="col" { "shift" }
                    th.n scope="col" { (level(answer)) " interval" } th.n scope="col" { "p" }
                } }
                tbody { @for pair in &answer.pairs { tr {
                    th scope="row" { (name(&pair.a)) ", " (name(&pair.b)) }
                    td { (titled(&pair.measure)) }
                    @for cell in by_starts_cells(pair) { td.n { (cell) } }
                } } }
            }
        }
    })
}

fn rates(answer: &Comparison) -> Markup {
    html! {
        h3 { "Rates" }
        div.scroll tabindex="0" role="region" aria-label="Rates by pair" {
            table {
                caption { "Second minus first, with Newcombe's interval, widened for starts on one tip being alike; where a group has one tip, Newcombe's as it is and p by Fisher's exact test." }
                thead { tr {
                    th scope="col" { "pair" } th scope="col" { "event" } th.n scope="col" { "rates" } th.n scope="col" { "difference" }
                    th.n scope="col" { (level(answer)) " interval" } th.n scope="col" { "p" }
                } }
                tbody { @for rate in &answer.rates { tr {
                    th scope="row" { (name(&rate.a)) ", " (name(&rate.b)) }
                    td { (rate.event.words()) }
                    td.n { (percent(rate.rate_a)) ", " (percent(rate.rate_b)) }
                    td.n { (percent_points(rate.diff)) }
                    td.n { (percent_points(rate.diff_lo)) " to " (percent_points(rate.diff_hi)) }
                    td.n { (p_value(rate.p)) }
                } } }
            }
        }
    }
}

/// One figure a measure: every value, the median and its interval by group.
fn measure_figures(input: &PageInput, answer: &Comparison) -> Markup {
    let mut measures: Vec<&str> = Vec::new();
    for pair in &answer.pairs {
        if !measures.contains(&pair.measure.as_str()) {
            measures.push(&pair.measure);
        }
    }
    let rows = starts_by(input.rows, std::slice::from_ref(&answer.by));
    let items = |measure: &&str| -> Vec<Item> {
        let of = |id: &str| measure_values(rows.get(id).map_or(&[], Vec::as_slice), measure);
        let items = parallel::each(&answer.groups, |group| {
            item(&group.id, of(&group.id), answer.level)
        });
        items.into_iter().flatten().collect()
    };
    let items = parallel::each(&measures, items);
    html! {
        div.two {
            @for (measure, items) in measures.into_iter().zip(&items) {
                (shown(&figure::intervals(&titled(measure), items, range(measure, items)), false,
                    html! { (titled(measure)) ": starts (small, 120 of a group at the most), median (large) with " (level(answer)) " interval (bar)." }))
            }
        }
    }
}

/// The axis of a measure that cannot leave a range.
fn range(measure: &str, items: &[Item]) -> Option<(f64, f64)> {
    let lowest = items.iter().map(|item| order::range(&item.values).0);
    let lowest = lowest.fold(f64::INFINITY, f64::min);
    (measure == "score").then(|| (if lowest < 50.0 { -3.0 } else { 45.0 }, 103.0))
}

fn item(id: &str, values: Vec<f64>, level: f64) -> Option<Item> {
    Some(Item {
        name: id.to_owned(),
        note: format!("{} values", values.len()),
        centre: median(&values)?,
        interval: median_interval(&values, level).map(|interval| (interval.lo, interval.hi)),
        values,
    })
}

/// Wear lines and regrind advice.
pub(super) fn wear(input: &PageInput) -> Option<Markup> {
    let wear = input.wear;
    let by = std::slice::from_ref(&wear.first()?.by);
    let rows = starts_by_prep(input.rows, by);
    let alike = wear.chunk_by(|a, b| (&a.group, &a.prep) == (&b.group, &b.prep));
    let charts: Vec<WearChart> = alike
        .flat_map(|alike| {
            let Wear { group, prep, .. } = &alike[0];
            let own = rows.get(&(Cow::Borrowed(&**group), &**prep));
            charts(own.map_or(&[], Vec::as_slice), alike)
        })
        .collect();
    let (names, _) = groups_of_page(input);
    let known = prep_names(input.rows);
    let number = |one: &Wear| {
        let own = names.iter().position(|id| *id == one.group);
        own.or(known.iter().position(|prep| *prep == one.prep))
            .unwrap_or(0)
    };
    Some(html! {
        @for one in wear { p { (name(&words::wear::says(one))) } }
        p { (WEAR_MEASURES.len()) " measures look at each tip, so each has to be surer by itself: wear is called where the measure goes the worse way and p is under 0.05 / " (WEAR_MEASURES.len()) "." }
        div.two {
            @for WearChart { one, points, one_in } in &charts {
                (shown(&figure::wear(one, number(one), points), false,
                    html! { (titled(&one.measure)) " of " (name(&words::wear::who(one))) " with the line of the usual tip; p = " (p_value(one.p)) "."
                        @if *one_in > 1 { " One start in " (one_in) " is drawn." } }))
            }
        }
    })
}

/// What a line of wear is drawn from.
struct WearChart<'a> {
    one: &'a Wear,
    /// (starts since regrind, value), one in this many of them.
    points: Vec<(f64, f64)>,
    one_in: usize,
}

/// Wear of one prep in one group in several measures, whose starts are these.
fn charts<'a>(rows: &[&StartRow], alike: &'a [Wear]) -> Vec<WearChart<'a>> {
    let one_in = figure::one_in(rows.len());
    let drawn = rows.iter().step_by(one_in);
    let counted: Vec<(f64, &StartRow)> = drawn
        .filter_map(|row| Some((row.measures.since_regrind()?, *row)))
        .collect();
    let chart = |one: &'a Wear| {
        let measure = Quantity::named(&one.measure);
        let points = counted
            .iter()
            .filter_map(|(since, row)| Some((*since, row.value_of(&measure)?)));
        WearChart {
            one,
            points: points.collect(),
            one_in,
        }
    };
    alike.iter().map(chart).collect()
}
