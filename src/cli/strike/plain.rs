//! A session as lines: what changed, a line each.

use crate::cli::strike::shown::{Shown, View};
use crate::cli::terminal;
use crate::error::Result;
use crate::report::text;

/// Prints what is new.
pub struct Lines {
    before: Shown,
    keys: bool,
    begun: bool,
}

impl Lines {
    /// Nothing was printed yet; `keys`: somebody can type.
    pub fn new(keys: bool) -> Lines {
        Lines {
            before: Shown::default(),
            keys,
            begun: false,
        }
    }
}

impl View for Lines {
    fn show(&mut self, shown: &Shown) -> Result<()> {
        let mut lines = Vec::new();
        if !std::mem::replace(&mut self.begun, true) {
            let keys = match self.keys {
                true => " Keys, each with Enter: f fumbled, r tip reground, u undo, q quit.",
                false => "",
            };
            lines.push(format!("{} ({}).{keys}", shown.title, shown.recording));
        }
        let before = &self.before;
        if shown.listening {
            if shown.note != before.note {
                lines.extend(shown.note.clone());
            }
            if shown.last != before.last
                && let Some(last) = &shown.last
            {
                lines.push(format!("{}. {}", upper(&last.large), last.says));
            }
            if shown.stands != before.stands {
                lines.push(shown.stands.clone());
            }
            let next = |of: &Shown| (of.grind.clone(), of.next.clone());
            if !before.listening || next(shown) != next(before) {
                lines.push(to_strike(shown));
            }
            self.before = shown.clone();
        }
        let look = terminal::look();
        let wrapped = lines
            .iter()
            .map(|line| text::wrapped(&text::plain(line), look));
        let text: String = wrapped.collect();
        terminal::out(|out| out.write_all(text.as_bytes()))
    }
}

fn to_strike(shown: &Shown) -> String {
    let Some(next) = &shown.next else {
        return "All is struck: q ends.".to_owned();
    };
    match &shown.grind {
        Some(grind) => format!("NEXT: {next}. {}.", upper_first(grind)),
        None => format!("NEXT: {next}."),
    }
}

fn upper(text: &str) -> String {
    text.to_uppercase()
}

fn upper_first(text: &str) -> String {
    let mut chars = text.chars();
    let first = chars.next().map(|c| c.to_uppercase().to_string());
    first.unwrap_or_default() + chars.as_str()
}
