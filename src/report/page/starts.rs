//! The table of every start.

use maud::{Markup, html};

use crate::format::short_or_dash;
use crate::report::page::parts::{PageInput, name, preps, verdict};
use crate::report::page::trace;
use crate::report::text::plain;
use crate::score::{StartRow, Verdict};

/// Measures shown, each with its heading and unit.
const SHOWN: [(&str, &str, &str); 9] = [
    ("start_ms", "start time", "ms"),
    ("attempts", "attempts", ""),
    ("dropouts", "dropouts", ""),
    ("rise_ms", "rise", "ms"),
    ("lit_a", "lit at", "A"),
    ("run_a", "run", "A"),
    ("run_v", "run", "V"),
    ("wander_v", "wander", "V rms"),
    ("since_regrind", "since regrind", ""),
];

/// The tools (script only), then one row per start.
pub(super) fn table(input: &PageInput) -> Markup {
    html! {
        (tools(input.rows))
        (trace::viewer(input))
        div.scroll tabindex="0" role="region" aria-label="Table of every start" {
            table id="all" {
                caption { "One row a start. A dash: not measurable, and a flag says why. Struck out: set aside, and counted in no answer." }
                thead { tr {
                    th scope="col" { "recording" } th.n scope="col" { "start" } th scope="col" { "prep" } th scope="col" { "tip" } th scope="col" { "coupon" }
                    th scope="col" { "verdict" } th.n scope="col" { "score" }
                    @for (_, label, unit) in SHOWN { th.n scope="col" { (label) @if !unit.is_empty() { small { (unit) } } } }
                    th scope="col" { "flags" }
                } }
                tbody { @for row in input.rows { (line(row)) } }
            }
        }
    }
}

fn line(row: &StartRow) -> Markup {
    let coupon = row.coupon.as_deref().unwrap_or("–");
    let flags: Vec<_> = row.flags.iter().map(|flag| flag.name()).collect();
    let tip = row.tip_id.as_deref().unwrap_or("–");
    html! {
        tr.aside[row.exclude.is_some()] data-prep=(plain(&row.prep)) {
            th scope="row" { (name(&row.recording)) }
            (number(Some(f64::from(row.start)), |value| format!("{value:.0}")))
            td { (name(&row.prep)) } td { (name(tip)) } td { (name(coupon)) }
            td { (verdict(row.verdict)) }
            (number(row.score, |value| format!("{value:.0}")))
            @for (measure, ..) in SHOWN { (number(row.value(measure), |value| shown(measure, value))) }
            td {
                @if let Some(why) = &row.exclude { "set aside: " (name(why)) " " }
                (flags.join(" ")) @if let Some(doubt) = &row.doubt { " (" (name(doubt)) ")" }
            }
        }
    }
}

fn shown(measure: &str, value: f64) -> String {
    match measure {
        "attempts" | "dropouts" | "since_regrind" => format!("{value:.0}"),
        _ => short_or_dash(Some(value)),
    }
}

/// A number, with its full value for sorting.
fn number(value: Option<f64>, show: impl Fn(f64) -> String) -> Markup {
    match value {
        Some(value) => html! { td.n data-v=(value) { (show(value)) } },
        None => html! { td.n { "–" } },
    }
}

fn tools(rows: &[StartRow]) -> Markup {
    html! {
        div.tools id="tools" hidden {
            label { "Prep" select id="by-prep" { option value="" { "all" } @for prep in preps(rows) { option value=(plain(prep)) { (name(prep)) } } } }
            label { "Verdict" select id="by-verdict" { option value="" { "all" } @for word in Verdict::ALL { option value=(word.word()) { (word.word()) } } } }
            label { "Words" input id="by-words" type="search" autocomplete="off"; }
            p id="count" role="status" {}
        }
    }
}
