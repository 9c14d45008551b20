//! What was tested, how all its starts look, and which were rough.

use std::collections::BTreeSet;

use maud::{Markup, PreEscaped, html};

use crate::figure;
use crate::figure::Together;
use crate::fit::FitFinding;
use crate::format::{counted, measured, trimmed};
use crate::page::parts::{PageInput, name, shown, verdict, which};
use crate::score::{Score, ScorePart, StartRow, Verdict};
use crate::start::Preview;
use crate::study::prep_names;
use crate::text::titled;

/// Rough starts shown large.
const PICTURES: usize = 3;

/// Starts of one part shown large.
const EACH: usize = 6;

/// Columns of the sheet that say how a tip was made ready, with their words.
const FACTS: [(&str, &str); 7] = [
    ("class", "class"),
    ("diameter", "diameter"),
    ("taper_deg", "included angle, °"),
    ("tip", "tip"),
    ("tip_flat", "flat"),
    ("marks", "grind marks"),
    ("wheel", "wheel"),
];

/// A card a prep, its tip drawn to scale.
pub(super) fn preps(input: &PageInput) -> Markup {
    html! {
        div.preps {
            @for prep in prep_names(input.rows) {
                div.prep {
                    h3 { "Prep " (name(prep)) }
                    @if let Some(own) = Own::of(input.rows, prep) {
                        @if let Some(svg) = figure::tip(&own.first.sheet) { (PreEscaped(svg)) }
                        dl.facts {
                            @for (key, label) in FACTS {
                                @if let Some(text) = own.first.sheet.get(key) { dt { (label) } dd { (name(text)) } }
                            }
                            dt { "starts" } dd { (own.starts) }
                            @if !own.coupons.is_empty() { dt { "coupons" } dd { (name(&own.coupons())) } }
                        }
                        @if is_thoriated(own.first) {
                            p.caution { "Thoriated: the grinding dust is radioactive. Local extraction, no dry sweeping, or another class." }
                        }
                    }
                }
            }
        }
    }
}

/// The starts of a prep.
struct Own<'a> {
    first: &'a StartRow,
    starts: usize,
    coupons: BTreeSet<&'a str>,
}

impl<'a> Own<'a> {
    fn of(rows: &'a [StartRow], prep: &str) -> Option<Own<'a>> {
        let mut rows = rows.iter().filter(|row| *row.prep == *prep).peekable();
        let first = *rows.peek()?;
        let (mut starts, mut coupons, mut last) = (0, BTreeSet::new(), None);
        for row in rows {
            starts += 1;
            let coupon = row.coupon.as_deref();
            // Starts on a coupon follow each other.
            if coupon != last {
                coupons.extend(coupon);
                last = coupon;
            }
        }
        Some(Own {
            first,
            starts,
            coupons,
        })
    }

    fn coupons(&self) -> String {
        let names: Vec<&str> = self.coupons.iter().copied().collect();
        names.join(", ")
    }
}

fn is_thoriated(row: &StartRow) -> bool {
    let class = row
        .sheet
        .get("class")
        .and_then(|name| crate::job::Class::parse(name).ok());
    class.is_some_and(|class| class.oxide == crate::job::Oxide::Thorium)
}

/// What the sheet says and the measured starts do not; `None` where they agree.
pub(super) fn sheet(input: &PageInput) -> Option<Markup> {
    (!input.after.is_empty()).then(|| {
        html! {
            div.scroll.wide tabindex="0" role="region" aria-label="Table of the sheet against what was measured" { table {
                thead { tr { @for head in ["prep", "row", "level", "what was seen", "why it matters", "by", "try"] { th scope="col" { (head) } } } }
                tbody { @for finding in input.after { (remark(finding)) } }
            } }
        }
    })
}

fn remark(finding: &FitFinding) -> Markup {
    let told = finding.remark();
    let rows: Vec<_> = finding.rows.iter().map(u64::to_string).collect();
    html! {
        tr {
            th scope="row" { (name(&finding.prep)) } td { (rows.join(", ")) } td { (finding.level().word()) }
            td { (finding.about()) ": " (name(&told.what)) }
            @for text in [&told.why, &told.source, &told.to_try] { td { (name(text)) } }
        }
    }
}

/// The starts of each prep over each other; `None` where there are no traces.
pub(super) fn overlay(input: &PageInput) -> Option<Markup> {
    let with_traces = || {
        input
            .detailed()
            .filter_map(|(row, detail)| Some((row, detail.preview.as_deref()?)))
    };
    let groups: Vec<Together> = prep_names(input.rows)
        .into_iter()
        .map(|prep| Together {
            name: prep,
            starts: with_traces()
                .filter(|(row, _)| *row.prep == *prep && row.instants.t_first_s.is_some())
                .collect(),
        })
        .filter(|group| !group.starts.is_empty())
        .collect();
    (!groups.is_empty()).then(|| shown(&figure::overlay(&groups), true, html! {
        "Current of every start from shortly before the first current until nine in ten have settled. Where a thin line lies at 0 that start was dark. On AC: the highest current of each half-cycle."
    }))
}

/// Every start in its order with its picture and what cost it its score, where that is asked for.
pub(super) fn each(input: &PageInput) -> Option<Markup> {
    let starts = || input.detailed().take(EACH);
    (input.every_start && !input.rows.is_empty()).then(|| {
        html! {
            @if input.rows.len() > EACH { p { "The first " (EACH) " of " (input.rows.len()) " starts; all stand among the starts above." } }
            @for (row, detail) in starts() { (one(row, detail.score.as_ref(), detail.preview.as_deref())) }
        }
    })
}

/// The worst starts with their pictures and what cost them their score.
pub(super) fn rough(input: &PageInput) -> Option<Markup> {
    if input.every_start {
        return None;
    }
    let is_rough = |row: &StartRow| matches!(row.verdict, Some(Verdict::Rough | Verdict::NoLight));
    let mut all: Vec<_> = input.detailed().filter(|(row, _)| is_rough(row)).collect();
    all.sort_by(|(a, _), (b, _)| a.score.unwrap_or(0.0).total_cmp(&b.score.unwrap_or(0.0)));
    (!all.is_empty()).then(|| html! {
        p { (all.len()) " of " (input.rows.len()) " starts were rough or did not light"
            @if all.len() > PICTURES { "; the worst " (PICTURES) " are shown large, all of them stand among the starts above" } "." }
        @for (row, detail) in all.iter().take(PICTURES) { (one(row, detail.score.as_ref(), detail.preview.as_deref())) }
    })
}

fn one(row: &StartRow, score: Option<&Score>, preview: Option<&Preview>) -> Markup {
    html! {
        article {
            h3 { "Start " (which(row)) ", prep " (name(&row.prep)) ": " (verdict(row.verdict)) }
            @if let Some(doubt) = &row.doubt { p.warn { "Counts in no answer: " (name(doubt)) "." } }
            @if let Some(score) = score { (costs(score)) }
            @if !row.flags.is_empty() { ul { @for flag in &row.flags { li { (flag.sentence()) } } } }
            @if let Some(preview) = preview {
                (shown(&figure::start(row, preview), true, html! { "Current and voltage; shaded by state, from the circuit opening to the arc going out." }))
                (wander(row, preview))
            }
        }
    }
}

/// What the wander is made of, beside each other; nothing where none could be measured.
fn wander(row: &StartRow, preview: &Preview) -> Markup {
    let (Some(scatter), Some(spectrum)) = (figure::scatter(preview), figure::spectrum(preview))
    else {
        return html! {};
    };
    let value = |of: &str| {
        let value = row.value(of);
        value.map_or("not measured".to_owned(), |value| measured(of, value))
    };
    html! {
        div.two {
            (shown(&scatter, false, html! {
                "Voltage against current once settled. The cross is the voltage that the amps and the warming tip call for, the ring is what the arc did: the farther apart, the more the arc wanders."
            }))
            (shown(&spectrum, false, html! {
                "How fast it wanders: high on the left is a slow sway, high on the right a quick flutter. All that stands in the shaded band makes up the wander of this start, "
                (value("wander_v")) ", strongest at " (value("wander_hz")) "."
            }))
        }
    }
}

/// The measures that cost most, in words.
fn costs(score: &Score) -> Markup {
    let mut parts: Vec<_> = score.parts.iter().filter(|part| part.cost >= 1.0).collect();
    parts.sort_by(|a, b| b.cost.total_cmp(&a.cost));
    html! {
        p { "Score " (format!("{:.0}", score.value)) " from " (counted(score.parts.len(), "measure")) "."
            @for part in parts { " " (cost(part)) }
        }
    }
}

fn cost(part: &ScorePart) -> String {
    let label = titled(part.measure.name());
    let label = label.split(',').next().unwrap_or(&label).to_owned();
    let value = part.value.map_or("not reached".to_owned(), |value| {
        measured(part.measure.name(), value)
    });
    let (good, poor) = (trimmed(part.good), trimmed(part.poor));
    let label = capital(&label);
    format!(
        "{label} {value} (good {good}, poor {poor}) cost {:.0} points.",
        part.cost
    )
}

/// With a capital, as a sentence begins.
fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or(String::new(), |first| {
        first.to_uppercase().chain(letters).collect()
    })
}
