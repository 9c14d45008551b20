//! The page: one HTML file that gives the answer first, then everything it rests on.
//!
//! It needs no network: style and script are embedded and allowed by their hashes alone, and maud escapes everything
//! that comes from a sheet.

mod answer;
mod method;
mod parts;
mod screening;
mod starts;
mod tested;
mod trace;

pub use parts::PageInput;

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use maud::{DOCTYPE, Markup, PreEscaped, html};
use sha2::{Digest, Sha256};

use crate::job::JobInfo;
use crate::output::Form;
use crate::report::figure;
use crate::report::figure::Theme;
use crate::report::text::plain;
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
    let style = style();
    let script = include_str!("page.js");
    let sections = sections(input);
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
                (head(input.job, &title, &sections))
                main {
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

fn sections(input: &PageInput) -> Vec<Section> {
    let all = [
        ("answer", "The answer", Some(answer::answer(input))),
        ("comparison", "The comparison", answer::comparison(input)),
        ("screening", "Screening", screening::screening(input)),
        ("tested", "What was tested", Some(tested::preps(input))),
        (
            "sheet",
            "The sheet against what was measured",
            tested::sheet(input),
        ),
        ("overlay", "All starts superimposed", tested::overlay(input)),
        ("rough", "Rough starts", tested::rough(input)),
        ("each", "Start by start", tested::each(input)),
        ("wear", "Wear and regrinding", answer::wear(input)),
        ("starts", "Every start", Some(starts::table(input))),
        (
            "limits",
            "What to know before trusting this",
            Some(method::limits(input)),
        ),
        ("method", "How it was measured", Some(method::method(input))),
        ("cautions", "Cautions", Some(method::cautions())),
    ];
    all.into_iter()
        .filter_map(|(id, title, body)| {
            Some(Section {
                id,
                title,
                body: body?,
            })
        })
        .collect()
}

fn head(job: &JobInfo, title: &str, sections: &[Section]) -> Markup {
    let facts = [
        ("Site", &job.site),
        ("By", &job.who),
        ("Procedure", &job.procedure),
        ("Note", &job.note),
    ];
    html! {
        header {
            h1 { bdi { (title) } }
            dl.facts {
                @for (what, text) in facts {
                    @if let Some(text) = text { dt { (what) } dd { (name(text)) } }
                }
            }
            nav aria-label="Parts of this page" {
                ul { @for Section { id, title, .. } in sections { li { a href={ "#" (id) } { (title) } } } }
            }
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

/// Colours as variables, the rules of the page, and the night colours of the figures.
fn style() -> String {
    let variables = |value: fn(Theme) -> u32| -> String {
        figure::colours()
            .map(|theme| format!("--{}:#{:06x};", theme.name, value(theme)))
            .collect()
    };
    format!(
        ":root{{{}}}@media screen and (prefers-color-scheme:dark){{:root{{{}}}}}\n{}{}",
        variables(|theme| theme.day),
        variables(|theme| theme.night),
        include_str!("page.css"),
        figure::style()
    )
}

#[cfg(test)]
mod tests;
