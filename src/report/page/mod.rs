//! The page: one HTML file whose first sheet gives the verdict, the reason and a picture, then everything it rests on.
//!
//! It needs no network: style and script are embedded and allowed by their hashes alone, and maud escapes everything
//! that comes from a sheet.

mod alternating;
mod answer;
mod contact;
mod facts;
mod first;
mod method;
mod parts;
mod record;
mod screening;
mod starts;
mod tested;
mod trace;

pub use parts::{InputFile, PageInput};
pub use record::inputs_of;

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use maud::{DOCTYPE, Markup, PreEscaped, html};
use sha2::{Digest, Sha256};

use crate::figure;
use crate::figure::Theme;
use crate::output::Form;
use crate::parallel;
use crate::text::{fit, plain};
use parts::name;

/// A page as a file.
pub const PAGE: Form = Form {
    name: "a page of this tool",
    is_own: |head| {
        let named = b"<meta name=\"generator\" content=\"tipstrike ";
        head.starts_with(b"<!DOCTYPE html>") && memchr::memmem::find(head, named).is_some()
    },
};

/// Renders the page.
pub fn page(input: &PageInput) -> String {
    let title = input
        .job
        .title
        .as_deref()
        .map_or("Arc starts".to_owned(), plain);
    let style = style(&title, input.made);
    let script = include_str!("page.js");
    let (first, sections) = parallel::both(|| first::sheet(input), || sections(input));
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta http-equiv="Content-Security-Policy" content=(policy(&style, script));
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="generator" content=(concat!("tipstrike ", env!("CARGO_PKG_VERSION")));
                meta name="color-scheme" content="light dark";
                title { (title) }
                style { (PreEscaped(&style)) }
            }
            body {
                a.skip href="#answer" { "To the answer" }
                header { h1 { bdi { (title) } } @if let Some(note) = &input.job.note { p.note { (name(note)) } } }
                main {
                    section id="answer" aria-labelledby="answer-head" { (first) }
                    (contents(&sections))
                    @for Section { id, title, body } in &sections {
                        section id=(id) aria-labelledby={ (id) "-head" } {
                            h2 id={ (id) "-head" } { (title) }
                            (body)
                        }
                    }
                }
                script { (PreEscaped(script)) }
            }
        }
    };
    page.into_string()
}

/// A section of the page.
struct Section {
    id: &'static str,
    title: &'static str,
    body: Markup,
}

/// What makes the body of a section; `None` where there is nothing to show.
type Body = fn(&PageInput) -> Option<Markup>;

fn sections(input: &PageInput) -> Vec<Section> {
    let all: [(&str, &str, Body); 14] = [
        ("starts", "Every start", |input| Some(starts(input))),
        ("rough", "The worst starts", tested::rough),
        ("each", "Start by start", tested::each),
        (
            "screening",
            "Past a limit, and charts",
            screening::screening,
        ),
        ("tested", "What was tested", |input| {
            Some(tested::preps(input))
        }),
        (
            "alternating",
            "Alternating current",
            alternating::alternating,
        ),
        (
            "sheet",
            "The sheet against what was measured",
            tested::sheet,
        ),
        ("overlay", "All starts superimposed", tested::overlay),
        ("wear", "Wear and regrinding", answer::wear),
        ("comparison", "How sure", answer::comparison),
        ("limits", "What to know before trusting this", |input| {
            Some(method::limits(input))
        }),
        ("method", "How it was measured", |input| {
            Some(method::method(input))
        }),
        ("record", "For the file", |input| {
            Some(record::record(input))
        }),
        ("cautions", "Cautions", |_| Some(method::cautions())),
    ];
    // Each looks through all starts, of which there may be a million.
    let sections = parallel::each(&all, |&(id, title, body)| {
        let body = body(input)?;
        Some(Section { id, title, body })
    });
    sections.into_iter().flatten().collect()
}

/// The small pictures and the table.
fn starts(input: &PageInput) -> Markup {
    html! {
        @if let Some(pictures) = contact::contact(input) { (pictures) }
        (starts::table(input))
    }
}

fn contents(sections: &[Section]) -> Markup {
    html! {
        nav aria-label="Parts of this page" {
            ul { @for Section { id, title, .. } in sections { li { a href={ "#" (id) } { (title) } } } }
        }
    }
}

/// Content policy: allows only the embedded style and script, by hash; nothing may be fetched, sent or framed.
fn policy(style: &str, script: &str) -> String {
    let hash = |text: &str| format!("'sha256-{}'", STANDARD.encode(Sha256::digest(text)));
    format!(
        "default-src 'none'; style-src {}; script-src {}; base-uri 'none'; form-action 'none'",
        hash(style),
        hash(script)
    )
}

/// Longest running head, columns.
const HEAD: usize = 70;

/// Running head and page numbers of a printed page.
fn paper(title: &str, made: Option<&str>) -> String {
    // Whatever is no plain letter is written as its code point, so that no title can leave its string.
    let text = |text: &str| -> String {
        let escape = |c: char| match c.is_ascii_alphanumeric() || c == ' ' {
            true => c.to_string(),
            false => format!("\\{:06x}", u32::from(c)),
        };
        fit(text, HEAD).chars().map(escape).collect()
    };
    let quoted = |words: &str| format!("\"{}\"", text(words));
    let boxes = [
        ("top-left", quoted(title)),
        ("top-right", quoted(made.unwrap_or_default())),
        (
            "bottom-left",
            quoted(concat!("tipstrike ", env!("CARGO_PKG_VERSION"))),
        ),
        (
            "bottom-right",
            "\"Page \" counter(page) \" of \" counter(pages)".to_owned(),
        ),
    ];
    let rule = |(place, content): &(&str, String)| {
        format!("@{place}{{content:{content};font:8pt sans-serif;color:#565f6a}}")
    };
    let boxes: String = boxes.iter().map(rule).collect();
    format!("@page{{margin:16mm 14mm;{boxes}}}")
}

/// Colours as variables, the rules of the page, and the night colours of the figures.
fn style(title: &str, made: Option<&str>) -> String {
    let variables = |value: fn(Theme) -> u32| -> String {
        figure::colours()
            .map(|theme| format!("--{}:#{:06x};", theme.name, value(theme)))
            .collect()
    };
    format!(
        ":root{{{}}}@media screen and (prefers-color-scheme:dark){{:root{{{}}}}}\n{}{}{}",
        variables(|theme| theme.day),
        variables(|theme| theme.night),
        include_str!("page.css"),
        paper(title, made),
        figure::style()
    )
}

#[cfg(test)]
mod tests;
