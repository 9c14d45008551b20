//! Background of the result: flags, definitions, targets, uncertainty, cautions.

use std::collections::BTreeMap;

use maud::{Markup, html};

use crate::flag::Flag;
use crate::format::{counted, short_or_dash, trimmed};
use crate::measure::Quantity;
use crate::page::answer::rehearsed;
use crate::page::parts::{PageInput, name};
use crate::score::{ScorePart, StartRow};
use crate::stats::median;
use crate::text::titled;

/// Flags of starts and recordings, and what was not read.
pub(super) fn limits(input: &PageInput) -> Markup {
    let mut counts: BTreeMap<Flag, usize> = BTreeMap::new();
    for flag in input.rows.iter().flat_map(|row| &row.flags) {
        *counts.entry(*flag).or_default() += 1;
    }
    let found: Vec<_> = input
        .sources
        .iter()
        .filter(|source| !source.findings.is_empty())
        .collect();
    html! {
        @if counts.is_empty() { p { "No start carries a flag." } } @else {
            dl.facts { @for (flag, count) in &counts {
                dt { (flag.name()) ", " (counted(*count, "start")) } dd { (flag.sentence()) }
            } }
        }
        @if !found.is_empty() {
            h3 { "Recordings" }
            ul { @for source in found { @for finding in &source.findings {
                li { (name(&source.recording)) ": " (finding.flag.name()) ". " (name(&finding.seen.to_string())) }
            } } }
        }
        @if !input.not_read.is_empty() {
            h3 { "Not read" }
            ul { @for (recording, why) in input.not_read { li { (name(recording)) ": " (name(why)) } } }
        }
    }
}

/// Definitions, settings, targets, uncertainty.
pub(super) fn method(input: &PageInput) -> Markup {
    html! {
        details { summary { "Definitions and settings" } (definitions(input)) }
        (targets(input))
        (uncertainty(input.rows))
        // Else it stands with the answer.
        @if input.comparison.is_none() { (rehearsed(input)) }
    }
}

fn definitions(input: &PageInput) -> Markup {
    let Some(m) = input.measuring else {
        return html! { p { "The settings are not shown: a starts table does not hold them, and jobs may differ in them." } };
    };
    html! {
        dl.facts {
            dt { "open" } dd { "no-load voltage without current" }
            dt { "first" } dd { "the first current over the conduct level ("
                @if let Some(a) = m.conduct_a { (trimmed(a)) " A" } @else { "1 A, or 6 times the idle noise where that is more" } ")" }
            dt { "lit" } dd { "from here the arc holds for " (trimmed(m.hold_ms)) " ms without an interruption" }
            dt { "settled" } dd { "from here the current stays within ±" (trimmed(m.settle_band_pct)) " % of the run level for " (trimmed(m.settle_hold_ms)) " ms (settling after IEEE Std 181)" }
            dt { "out" } dd { "no current for " (trimmed(m.out_gap_ms)) " ms or longer" }
            dt { "start time" } dd { "from open to settled, or from first if no open stretch was recorded" }
            dt { "attempts" } dd { "unbroken stretches of current up to and including the one that lit" }
            dt { "dropout" } dd { "after lit, no current for " (trimmed(m.dropout_min_ms)) " ms or longer (AC: " (trimmed(m.dropout_min_halfcycles)) " half-cycles), but less than out" }
            dt { "wander" } dd { "the rest of the arc voltage between " (trimmed(m.wander_from_hz)) " and " (trimmed(m.wander_to_hz)) " Hz after everything explained by the current and the warming tip is subtracted" }
            dt { "window" } dd { "the first " (trimmed(m.observe_s)) " s from lit" }
            dt { "score" } dd { "100 times the weighted geometric mean of the desirabilities (Derringer and Suich 1980) of the measures that have a target" }
        }
    }
}

/// The targets in use, each set once with the preps it applies to.
fn targets(input: &PageInput) -> Markup {
    let mut used: Vec<(&ScorePart, Vec<&str>)> = Vec::new();
    for (row, detail) in input.detailed() {
        for part in detail.score.iter().flat_map(|score| &score.parts) {
            let same = |other: &&ScorePart| {
                (
                    other.measure,
                    other.good,
                    other.poor,
                    other.weight,
                    other.shape,
                ) == (part.measure, part.good, part.poor, part.weight, part.shape)
                    && other.origin == part.origin
            };
            match used.iter_mut().find(|(other, _)| same(other)) {
                Some((_, preps)) if preps.contains(&&*row.prep) => {}
                Some((_, preps)) => preps.push(&row.prep),
                None => used.push((part, vec![&row.prep])),
            }
        }
    }
    html! { @if !used.is_empty() {
        h3 { "Targets used" }
        div.scroll tabindex="0" role="region" aria-label="Targets used" { table {
            caption { "At good or better a measure costs nothing, at poor or worse everything." }
            thead { tr { th scope="col" { "measure" } th.n scope="col" { "good" } th.n scope="col" { "poor" } th.n scope="col" { "weight" } th scope="col" { "from" } th scope="col" { "preps" } } }
            tbody { @for (part, preps) in &used { tr {
                th scope="row" { (titled(part.measure.name())) }
                td.n { (trimmed(part.good)) } td.n { (trimmed(part.poor)) } td.n { (trimmed(part.weight)) }
                td { (name(&part.origin)) } td { (name(&preps.join(", "))) }
            } } }
        } }
    } }
}

fn uncertainty(rows: &[StartRow]) -> Markup {
    let middle = |measure: &str| {
        let quantity = Quantity::named(measure);
        let values = rows.iter().filter_map(|row| row.value_of(&quantity));
        median(&values.collect::<Vec<_>>())
    };
    let all = [
        ("u_start_ms", "start_ms"),
        ("u_run_a", "run_a"),
        ("u_run_v", "run_v"),
        ("u_wander_v", "wander_v"),
    ];
    // All are looked for at once: a large table may have none.
    let uncertainties = all.map(|(u, _)| Quantity::named(u));
    let has_any = |row: &StartRow| uncertainties.iter().any(|u| row.value_of(u).is_some());
    if !rows.iter().any(has_any) {
        return html! {};
    }
    let known: Vec<_> = all
        .into_iter()
        .filter_map(|(u, of)| Some((of, middle(u)?, middle(of))))
        .collect();
    html! { @if !known.is_empty() {
        h3 { "Uncertainty" }
        p { "Expanded uncertainty (k = 2) from the calibration stated in the job file, in the middle of all starts:" }
        dl.facts { @for (of, u, value) in known { dt { (titled(of)) } dd { "±" (short_or_dash(Some(u))) " at " (short_or_dash(value)) } } }
    } }
}

/// Safety cautions, and what a score does not mean.
pub(super) fn cautions() -> Markup {
    html! {
        ul {
            li { "A score is a comparison aid: it accepts no weld. Local codes, the maker's instructions, the qualified procedure and a licensed or certified person decide." }
            li { "High-frequency ignition is kilovolts: it can destroy a logger or a laptop and put that voltage on you. Open-circuit voltage and welding current can kill. Connect with the power off, through isolated and fused inputs of sufficient rating." }
            li { "Dust from grinding thoriated tungsten is radioactive: local extraction, no dry sweeping, or another class." }
            li { "Arc radiation and fume: eyes, skin and breath protected, as for any welding." }
        }
    }
}
