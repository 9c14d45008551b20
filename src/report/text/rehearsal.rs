//! A rehearsal for the terminal.

use comfy_table::Cell;

use crate::format::Digits;
use crate::rehearsal::{MeasureSpread, Rehearsal};
use crate::text::tables::{empty, printed, right, wrapped};
use crate::text::{TermStyle, plain, titled};
use crate::words::rehearsal as words;

/// What was made and found, how far off each measure is, what shows, what a plan would tell.
pub fn rehearsal(of: &Rehearsal, look: TermStyle) -> String {
    let lines = |lines: Vec<String>| -> String {
        lines
            .iter()
            .map(|line| wrapped(&plain(line), look))
            .collect()
    };
    let mut parts = vec![lines(vec![words::made(of), words::found(of)])];
    if !of.said.is_empty() {
        let title = look.heading("What the recordings say against themselves comes first");
        parts.push(format!("{title}\n{}", lines(of.said.clone())));
    }
    if of.measures.is_empty() {
        let none = "Too few made starts count to tell how far off a measure is, or what a plan would show.";
        parts.push(lines(vec![none.to_owned()]));
        return parts.join("\n");
    }
    let off = "How far off: measured less true, and within what 95 of 100 starts lie";
    parts.push(format!(
        "{}\n{}",
        look.heading(off),
        spreads(&of.measures, look)
    ));
    parts.push(lines(words::shows(of)));
    let plan = format!(
        "{} tips of each prep, {} starts on each, show in 8 comparisons of 10",
        of.tips, of.per_tip
    );
    parts.push(format!(
        "{}\n{}",
        look.heading(&plan),
        lines(words::answer(of))
    ));
    parts.push(lines(vec![words::how_sure(&of.rehearsed)]));
    parts.join("\n")
}

fn spreads(measures: &[MeasureSpread], look: TermStyle) -> String {
    let head = ["measure", "bias", "within", "clean bench", "most of it"];
    let mut table = empty(look, &head, &[0, 2, 3, 4]);
    for of in measures {
        let digits = Digits::of(0.0, Some(of.spread.lo), Some(of.spread.hi));
        table.add_row(vec![
            Cell::new(titled(of.measure.name())),
            right(digits.signed(of.spread.bias)),
            Cell::new(words::limits(&of.spread, digits)),
            Cell::new(
                of.clean
                    .as_ref()
                    .map_or("–".to_owned(), |clean| words::limits(clean, digits)),
            ),
            Cell::new(of.worst.as_ref().map_or("–".to_owned(), words::worst)),
        ]);
    }
    printed(&table)
}
