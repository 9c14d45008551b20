//! Alternating current: what was set and what was measured, and a picture of a cycle.

use std::collections::BTreeMap;

use maud::{Markup, html};

use crate::figure;
use crate::format::short_or_dash;
use crate::page::facts::{joined, sheets};
use crate::page::parts::{PageInput, name, shown};
use crate::score::StartRow;
use crate::stats::median;
use crate::study::measure_values;

/// A line and a cycle a prep; `None` where no current alternates.
pub(super) fn alternating(input: &PageInput) -> Option<Markup> {
    let alternates = |row: &&StartRow| row.measures.ac_hz().is_some();
    let mut all: BTreeMap<&str, Vec<&StartRow>> = BTreeMap::new();
    for row in input.rows.iter().filter(alternates) {
        all.entry(&row.prep).or_default().push(row);
    }
    (!all.is_empty()).then(|| html! {
        div.scroll tabindex="0" role="region" aria-label="Alternating current by prep" { table {
            caption { "Electrode-negative share of the time, frequency, half-cycles in which the arc did not light again, and offset: the middle of all starts, and the sum of the missed half-cycles." }
            thead { tr {
                th scope="col" { "prep" } th.n scope="col" { "share set" small { "%" } } th.n scope="col" { "share measured" small { "%" } }
                th.n scope="col" { "frequency set" small { "Hz" } } th.n scope="col" { "frequency measured" small { "Hz" } }
                th.n scope="col" { "missed half-cycles" } th.n scope="col" { "offset" small { "A" } }
            } }
            tbody { @for (prep, rows) in &all { (line(prep, rows)) } }
        } }
        div.two { @for prep in all.keys() { @if let Some(picture) = cycle(input, prep) { (picture) } } }
    })
}

fn line(prep: &str, rows: &[&StartRow]) -> Markup {
    let values = |measure: &str| measure_values(rows, measure);
    let middle = |measure: &str| short_or_dash(median(&values(measure)));
    let sheets = sheets(rows.iter().copied());
    let set = |key: &str| joined(&sheets, key).unwrap_or_else(|| "–".to_owned());
    let missed = values("missed_halfcycles");
    html! { tr {
        th scope="row" { (name(prep)) }
        td.n { (name(&set("set_en_pct"))) } td.n { (middle("en_share_pct")) }
        td.n { (name(&set("ac_hz"))) } td.n { (middle("ac_hz")) }
        td.n { @if missed.is_empty() { "–" } @else { (format!("{:.0}", missed.iter().sum::<f64>())) } }
        td.n { (middle("dc_offset_a")) }
    } }
}

/// Two cycles of the start in the middle of a prep by score.
fn cycle(input: &PageInput, prep: &str) -> Option<Markup> {
    let drawn = input.detailed().enumerate();
    let mut drawn: Vec<_> = drawn
        .filter(|(_, (row, _))| *row.prep == *prep && row.lit())
        .filter_map(|(k, (row, detail))| {
            Some((k, row, figure::cycle(row, detail.preview.as_deref()?)?))
        })
        .collect();
    drawn.sort_by(|a, b| {
        a.1.score
            .unwrap_or(0.0)
            .total_cmp(&b.1.score.unwrap_or(0.0))
    });
    let middle = drawn.len() / 2;
    let (k, _, svg) = drawn.into_iter().nth(middle)?;
    Some(shown(
        &svg,
        false,
        html! {
            "Two cycles of start " (k + 1) ", prep " (name(prep)) ", shortly after it settled. Shaded: electrode negative."
        },
    ))
}
