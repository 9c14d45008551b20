//! Who, what and when, in short lines: for the first sheet and for the record.

use std::collections::{BTreeMap, BTreeSet};

use maud::{Markup, html};

use crate::page::parts::{PageInput, name};
use crate::score::StartRow;
use crate::study::prep_names;

/// Who, what and when.
pub(super) fn facts(input: &PageInput) -> Markup {
    let own = |text: &Option<String>| text.clone();
    let lines = [
        ("Site", own(&input.job.site)),
        ("By", own(&input.job.who)),
        ("Procedure", own(&input.job.procedure)),
        ("Tested", tested(input.rows)),
        ("Welded", welded(&sheets(input.rows))),
        ("Recorded", recorded(input.rows)),
        ("Page made", Some(made(input))),
    ];
    html! {
        dl.facts { @for (what, text) in lines { @if let Some(text) = text { dt { (what) } dd { (name(&text)) } } } }
    }
}

/// When and by which version the page was made.
pub(super) fn made(input: &PageInput) -> String {
    let by = concat!("by tipstrike ", env!("CARGO_PKG_VERSION"));
    input
        .made
        .map_or(by.to_owned(), |when| format!("{when} {by}"))
}

/// Each prep in a few words: "A: WLa20, 2.4 mm, 30°, flat"; `None` where there are more than fit a line each.
fn tested(rows: &[StartRow]) -> Option<String> {
    const MOST: usize = 4;
    let names = prep_names(rows);
    let words = |prep: &&str| {
        let row = rows.iter().find(|row| *row.prep == **prep)?;
        let cell = |key: &str| row.sheet.get(key).cloned();
        let angle = cell("taper_deg").map(|deg| format!("{deg}°"));
        let parts = [
            cell("class"),
            cell("diameter"),
            angle,
            cell("tip"),
            cell("marks"),
        ];
        let parts: Vec<String> = parts.into_iter().flatten().collect();
        (!parts.is_empty()).then(|| format!("{prep}: {}", parts.join(", ")))
    };
    let said: Vec<String> = names.iter().take(MOST).filter_map(words).collect();
    (!said.is_empty() && names.len() <= MOST).then(|| said.join("; "))
}

/// Process, start method, amps, gas and material, as the sheet has them.
fn welded(sheets: &[&Sheet]) -> Option<String> {
    let unit = |key: &str, unit: &str| joined(sheets, key).map(|text| format!("{text}{unit}"));
    let parts = [
        unit("process", "").map(|text| text.to_uppercase()),
        unit("start_method", ""),
        unit("set_a", " A"),
        unit("gas", ""),
        unit("material", ""),
        unit("thickness", ""),
    ];
    let parts: Vec<String> = parts.into_iter().flatten().collect();
    (!parts.is_empty()).then(|| parts.join(", "))
}

/// The days of the runs.
pub(super) fn recorded(rows: &[StartRow]) -> Option<String> {
    let days = rows.chunk_by(|a, b| a.date == b.date);
    let days: BTreeSet<&str> = days.filter_map(|rows| rows[0].date.as_deref()).collect();
    let (first, last) = (*days.first()?, *days.last()?);
    Some(match first == last {
        true => first.to_owned(),
        false => format!("{first} to {last}"),
    })
}

/// The other columns of a start's run.
type Sheet = BTreeMap<String, String>;

/// The sheets of some starts, once where starts in a row share one.
pub(super) fn sheets<'a>(rows: impl IntoIterator<Item = &'a StartRow>) -> Vec<&'a Sheet> {
    let mut sheets: Vec<&Sheet> = rows.into_iter().map(|row| &*row.sheet).collect();
    sheets.dedup_by(|a, b| std::ptr::eq(*a, *b));
    sheets
}

/// The different cells of a column of the sheet, in the order they come; `None` where there is none.
pub(super) fn joined(sheets: &[&Sheet], key: &str) -> Option<String> {
    const NAMED: usize = 4;
    let mut cells: Vec<&str> = Vec::new();
    for cell in sheets.iter().filter_map(|sheet| sheet.get(key)) {
        if !cells.contains(&cell.as_str()) {
            cells.push(cell);
        }
        if cells.len() > NAMED {
            break;
        }
    }
    let more = if cells.len() > NAMED { ", …" } else { "" };
    cells.truncate(NAMED);
    (!cells.is_empty()).then(|| cells.join(", ") + more)
}
