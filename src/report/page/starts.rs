//! The table of every start.

use maud::{Markup, html};

use crate::format::{measured, short_or_dash};
use crate::measure::Measure;
use crate::page::parts::{PageInput, at, name, verdict};
use crate::page::trace;
use crate::score::{Score, ScorePart, StartRow, Verdict};
use crate::study::{prep_names, worst_starts};
use crate::text::plain;

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

/// Measures shown beside them where the current alternates.
const SHOWN_AC: [(&str, &str, &str); 4] = [
    ("en_share_pct", "negative share", "%"),
    ("ac_hz", "frequency", "Hz"),
    ("missed_halfcycles", "missed half-cycles", ""),
    ("dc_offset_a", "offset", "A"),
];

/// A cost below this many points is not worth a word.
const WORTH_A_WORD: f64 = 5.0;

/// Costs named in a few words.
const NAMED: usize = 2;

/// More starts than this are not listed one by one: the worst are, so that the page of a million stays one that opens.
const LISTED: usize = 2000;

/// Anchor of start number `k` (from 0) of the page.
pub(super) fn anchor(k: usize) -> String {
    format!("start-{}", k + 1)
}

/// The tools (script only), then one row per start.
pub(super) fn table(input: &PageInput) -> Markup {
    let ac = input.rows.iter().any(|row| row.measures.ac_hz().is_some());
    let columns: Vec<_> = SHOWN.iter().chain(SHOWN_AC.iter().filter(|_| ac)).collect();
    let listed = worst_starts(input.rows, LISTED);
    html! {
        (tools(input.rows))
        (trace::viewer(input))
        div.scroll.all tabindex="0" role="region" aria-label="Table of every start" {
            table id="all" {
                caption { "One row a start. A dash: not measurable, and a flag says why. Struck out: set aside, and counted in no answer."
                    @if listed.len() < input.rows.len() { " The worst " (listed.len()) " of " (input.rows.len()) " starts; the others stand in the starts table." } }
                thead { tr {
                    th.n scope="col" { "no." } th scope="col" { "verdict" } th.n scope="col" { "score" } th scope="col" { "why, and flags" }
                    th scope="col" { "recording" } th.n scope="col" { "run" } th.n scope="col" { "start" } th.n scope="col" { "at" } th scope="col" { "prep" } th scope="col" { "tip" } th scope="col" { "coupon" }
                    @for (_, label, unit) in &columns { th.n scope="col" { (label) @if !unit.is_empty() { small { (unit) } } } }
                } }
                tbody { @for k in listed { (line(input, k, &input.rows[k], &columns)) } }
            }
        }
    }
}

fn line(input: &PageInput, k: usize, row: &StartRow, columns: &[&(&str, &str, &str)]) -> Markup {
    let coupon = row.coupon.as_deref().unwrap_or("–");
    let tip = row.tip_id.as_deref().unwrap_or("–");
    let drawn = input.details.get(k).is_some_and(|d| d.preview.is_some());
    html! {
        tr id={ "row-" (k + 1) } .aside[row.exclude.is_some()] data-prep=(plain(&row.prep)) {
            th.n scope="row" { @if drawn { a href={ "#" (anchor(k)) } { (k + 1) } } @else { span id=(anchor(k)) { (k + 1) } } }
            td { (verdict(row.verdict)) }
            td.n { (row.score.map_or("–".to_owned(), |score| format!("{score:.0}"))) }
            td { (why(row, input.details.get(k).and_then(|d| d.score.as_ref()))) }
            td { (name(&row.recording)) } td.n { (row.run) } td.n { (row.start) } td.n { (at(row)) }
            td { (name(&row.prep)) } td { (name(tip)) } td { (name(coupon)) }
            @for (measure, ..) in columns { td.n { (row.value(measure).map_or("–".to_owned(), |value| shown(measure, value))) } }
        }
    }
}

/// Why a start is set aside, doubtful or not perfect, and its flags.
fn why(row: &StartRow, score: Option<&Score>) -> Markup {
    let flags: Vec<_> = row.flags.iter().map(|flag| flag.name()).collect();
    let costs = costs(row, score);
    html! {
        @if let Some(why) = &row.exclude { "set aside: " (name(why)) " " }
        @if let Some(doubt) = &row.doubt { (name(doubt)) " " }
        @else if !costs.is_empty() { (costs) " " }
        @if !flags.is_empty() { small { (flags.join(" ")) } }
    }
}

/// Why a start is no better, in a few words: "dropouts 2, start time 410 ms". What makes it rough whatever its score comes
/// first, then what cost it most; empty where nothing did.
pub(super) fn costs(row: &StartRow, score: Option<&Score>) -> String {
    if !row.lit() {
        return "no arc held".to_owned();
    }
    let decides = |measure: Measure| {
        row.verdict == Some(Verdict::Rough)
            && match measure {
                Measure::Dropouts => row.measures.dropouts() > Some(0.0),
                Measure::Attempts => score.is_some_and(|score| {
                    row.measures.attempts() > Some(f64::from(score.rough_attempts))
                }),
                _ => false,
            }
    };
    let counts = [Measure::Dropouts, Measure::Attempts].into_iter();
    let counts = counts.filter(|measure| decides(*measure));
    let counts = counts.map(|measure| (measure, row.measures.get(measure)));
    let mut parts: Vec<&ScorePart> = score.iter().flat_map(|score| &score.parts).collect();
    parts.retain(|part| part.cost >= WORTH_A_WORD && !decides(part.measure));
    parts.sort_by(|a, b| b.cost.total_cmp(&a.cost));
    let parts = parts.into_iter().map(|part| (part.measure, part.value));
    let words = counts
        .chain(parts)
        .take(NAMED)
        .map(|(measure, value)| in_words(measure, value));
    words.collect::<Vec<_>>().join(", ")
}

fn in_words(measure: Measure, value: Option<f64>) -> String {
    let label = measure.label();
    match value {
        Some(value) => format!("{label} {}", measured(measure.name(), value)),
        None => format!("{label} not reached"),
    }
}

fn shown(measure: &str, value: f64) -> String {
    match measure {
        "attempts" | "dropouts" | "since_regrind" | "missed_halfcycles" => format!("{value:.0}"),
        _ => short_or_dash(Some(value)),
    }
}

fn tools(rows: &[StartRow]) -> Markup {
    html! {
        div.tools id="tools" hidden {
            label { "Prep" select id="by-prep" { option value="" { "all" } @for prep in prep_names(rows) { option value=(plain(prep)) { (name(prep)) } } } }
            label { "Verdict" select id="by-verdict" { option value="" { "all" } @for word in Verdict::ALL { option value=(word.word()) { (word.word()) } } } }
            label { "Words" input id="by-words" type="search" autocomplete="off"; }
            p id="count" role="status" {}
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixtures::made_job;

    #[test]
    fn what_makes_a_start_rough_by_rule_is_named_before_what_cost_it_points() {
        let (rows, details) = made_job(40, false);
        let both = rows.iter().zip(&details);
        let dropped = |(row, _): &(&StartRow, _)| row.verdict == Some(Verdict::Rough);
        let mut seen = 0;
        for (row, detail) in both.filter(dropped) {
            seen += 1;
            let words = costs(row, detail.score.as_ref());
            assert!(words.starts_with("dropouts 2, start time "), "{words}");
        }
        assert!(seen > 0, "no start dropped out");
    }
}
