//! What a page shows, and the pieces that several sections share.

use maud::{Markup, PreEscaped, html};
use serde::{Deserialize, Serialize};

use crate::fit::FitFinding;
use crate::format::clock;
use crate::job::{JobInfo, Measuring};
use crate::measuring::gather::{Detail, ReadRecording};
use crate::score::{StartRow, Verdict};
use crate::study::{Comparison, Screening, Wear};
use crate::text::plain;

/// Contents of a page.
#[derive(Debug, Clone, Copy)]
pub struct PageInput<'a> {
    /// Title and letterhead.
    pub job: &'a JobInfo,
    /// The starts.
    pub rows: &'a [StartRow],
    /// Details of each row, as far as the last that was measured; empty for rows from a table.
    pub details: &'a [Detail],
    /// Disagreements between the sheet and the measured starts.
    pub after: &'a [FitFinding],
    /// The comparison; `None` with a single prep.
    pub comparison: Option<&'a Comparison>,
    /// Wear and regrind advice; empty if the sheet does not count starts since the regrind.
    pub wear: &'a [Wear],
    /// Screening, if asked for.
    pub screening: Option<&'a Screening>,
    /// Whether to show every start with its figure, instead of the rough ones only.
    pub every_start: bool,
    /// The recordings that were read, with their findings.
    pub sources: &'a [ReadRecording],
    /// Recordings that were not read, and why.
    pub not_read: &'a [(String, String)],
    /// The files that the page is made from.
    pub files: &'a [InputFile],
    /// When the page is made, for people; the library asks no clock.
    pub made: Option<&'a str>,
    /// Settings of the definitions; `None` for a page from a table, or from jobs with different settings.
    pub measuring: Option<&'a Measuring>,
}

/// Of a row that has no detail.
static NO_DETAIL: Detail = Detail {
    score: None,
    preview: None,
};

impl<'a> PageInput<'a> {
    /// Each row with its detail, be it an empty one.
    pub(super) fn detailed(&self) -> impl Iterator<Item = (&'a StartRow, &'a Detail)> + Clone {
        let details = self.details.iter().chain(std::iter::repeat(&NO_DETAIL));
        self.rows.iter().zip(details)
    }
}

/// A file that the page was made from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct InputFile {
    /// What it is: "job file", "run sheet", "recording", "starts table".
    pub kind: String,
    /// Its path, from the folder of the page.
    pub path: String,
    /// SHA-256 of its bytes.
    pub sha256: String,
}

/// Text from a user, escaped and isolated from the writing direction around it.
pub(super) fn name(text: &str) -> Markup {
    html! { bdi { (plain(text)) } }
}

/// Which start it is: its number, its recording, its run and its time.
pub(super) fn which(row: &StartRow) -> Markup {
    html! { (row.start) " of " (name(&row.recording)) " (run " (row.run) @if row.began_s().is_some() { ", " (at(row)) } ")" }
}

/// When a start began, by the recording's clock.
pub(super) fn at(row: &StartRow) -> String {
    row.began_s().map_or("–".to_owned(), clock)
}

/// A figure that scrolls by itself on a narrow screen.
pub(super) fn shown(svg: &str, wide: bool, caption: Markup) -> Markup {
    html! {
        figure {
            div.scroll.wide[wide] tabindex="0" role="group" aria-label="Figure, scrolls sideways on a narrow screen" { (PreEscaped(svg)) }
            figcaption { (caption) }
        }
    }
}

/// A verdict; the style sheet adds its mark, so that colour is not needed.
pub(super) fn verdict(verdict: Option<Verdict>) -> Markup {
    let Some(verdict) = verdict else {
        return html! { "–" };
    };
    let class = format!("v v-{}", verdict.word().replace(' ', "-"));
    html! { span class=(class) { (verdict.word()) } }
}
