//! Tables and sketches for the terminal; functions return text, and the caller prints it.

mod comparison;
mod inspection;
mod live;
mod pauses;
mod prep;
mod rehearsal;
mod screening;
mod sketch;
mod styled;
mod tables;

use crate::measure::Measure;
pub use comparison::comparison;
pub(super) use comparison::{by_starts_cells, pair_word, shift, shift_interval, usual};
pub use inspection::{fitted, inspection};
pub use live::{live_head, live_line};
pub use pauses::pauses;
pub use prep::{after, preps, targets};
pub use rehearsal::rehearsal;
pub use screening::{screening, verdict_line};
pub use sketch::{Sketch, sketch};
pub use tables::{starts, wrapped};

use anstyle::Style;

/// Width of the terminal, and whether it shows colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TermStyle {
    /// Columns.
    pub width: usize,
    /// Colour as an addition; no message relies on it alone.
    pub colour: bool,
}

impl TermStyle {
    /// A style without colour.
    pub fn plain(width: usize) -> TermStyle {
        TermStyle {
            width,
            colour: false,
        }
    }

    /// Paints text in a style if colour is on.
    fn paint(self, text: &str, style: Style) -> String {
        match self.colour {
            true => format!("{style}{text}{style:#}"),
            false => text.to_owned(),
        }
    }

    fn heading(self, text: &str) -> String {
        self.paint(text, Style::new().bold())
    }
}

/// Escapes characters of foreign text that would control the terminal or change the writing direction.
pub fn plain(text: &str) -> String {
    let mut shown = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            c if c.is_control() || steers(c) => shown.extend(c.escape_unicode()),
            c => shown.push(c),
        }
    }
    shown
}

/// Whether a format character reorders or hides its surroundings (Unicode UAX #9, bidirectional controls; line and
/// paragraph separators; zero-width space and no-break space; tags).
fn steers(c: char) -> bool {
    matches!(c, '\u{61c}' | '\u{200b}' | '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}'
        | '\u{2066}'..='\u{2069}' | '\u{feff}' | '\u{e0000}'..='\u{e007f}')
}

/// Label of a measure with its unit, for people.
pub fn titled(measure: &str) -> String {
    match Measure::named(measure) {
        Some(known) if known.unit().is_empty() => known.label().to_owned(),
        Some(known) => format!("{}, {}", known.label(), known.unit()),
        None => fit(&plain(measure), 24),
    }
}

/// Shortens text to a number of columns by leaving out the middle, since names differ at their ends.
pub fn fit(text: &str, columns: usize) -> String {
    use unicode_width::UnicodeWidthStr;
    if text.width() <= columns {
        return text.to_owned();
    }
    let room = columns.saturating_sub(1);
    let head = within(text.chars(), room.div_ceil(2));
    let mut tail: Vec<char> = within(text.chars().rev(), room / 2).collect();
    tail.reverse();
    head.chain(['…']).chain(tail).collect()
}

/// The first letters, as many as fit into this many columns.
pub fn within(letters: impl Iterator<Item = char>, columns: usize) -> impl Iterator<Item = char> {
    use unicode_width::UnicodeWidthChar;
    let mut used = 0;
    letters.take_while(move |c| {
        used += c.width().unwrap_or(0);
        used <= columns
    })
}

#[cfg(test)]
mod tests;
