//! A session on the full screen: what to strike next and how the last start was in large letters, where it stands below.

use std::path::Path;

use crossterm::style::{Color, ContentStyle, Stylize};
use unicode_width::UnicodeWidthStr;

use crate::cli::strike::backend::{Line, Terminal};
use crate::cli::strike::letters;
use crate::cli::strike::shown::{Last, Shown, View};
use crate::cli::terminal;
use crate::error::{Error, Result};
use crate::report::text::{TermStyle, fit, plain, within, wrapped};
use crate::score::Verdict;

/// From this many rows on, the last start's verdict is as large as what to strike next.
const TALL: usize = 30;
const KEYS: &str = " f  fumbled    r  tip reground    u  undo    q  quit";

/// The full screen.
pub struct Screen {
    terminal: Terminal,
    colour: bool,
}

impl Screen {
    /// Takes the terminal.
    ///
    /// # Errors
    /// The operating system refused.
    pub fn open() -> Result<Screen> {
        let colour = terminal::look().colour;
        let terminal = Terminal::take().map_err(refused)?;
        Ok(Screen { terminal, colour })
    }
}

fn refused(error: std::io::Error) -> Error {
    Error::io(Path::new("terminal"), "write", error)
}

impl View for Screen {
    fn show(&mut self, shown: &Shown) -> Result<()> {
        let colour = self.colour;
        let drawn = self.terminal.show(|size| draw(shown, colour, size));
        drawn.map_err(refused)
    }
}

fn usual() -> ContentStyle {
    ContentStyle::new()
}

fn bold() -> ContentStyle {
    usual().bold()
}

/// Draws this many columns and rows, from the top down; what does not fit below is left out, the keys never.
fn draw(shown: &Shown, colour: bool, (width, height): (u16, u16)) -> Vec<Line> {
    let (width, height) = (usize::from(width), usize::from(height));
    let mut page = Page {
        lines: Vec::new(),
        width,
        height,
    };
    page.bar(&shown.title, &shown.recording);
    page.put("", usual());
    page.next(shown);
    page.rule("LAST START");
    match &shown.last {
        Some(last) => page.last(last, colour),
        None => page.text("None yet.", usual(), 1),
    }
    page.rule(if shown.enough {
        "ENOUGH"
    } else {
        "WHERE IT STANDS"
    });
    let left = height.saturating_sub(page.lines.len() + 3);
    let style = if shown.enough { bold() } else { usual() };
    page.text(&shown.stands, style, left);
    if height > 2 {
        page.fill(page.lines.len().max(height - 3));
        page.text(shown.note.as_deref().unwrap_or(""), bold(), 1);
    }
    page.fill(height.saturating_sub(1));
    page.put(&padded(KEYS, width), bold().reverse());
    page.lines
}

/// Filled up to the width.
fn padded(text: &str, width: usize) -> String {
    let room = width.saturating_sub(text.width());
    text.to_owned() + &" ".repeat(room)
}

/// A screen that is written from the top down.
struct Page {
    lines: Vec<Line>,
    width: usize,
    height: usize,
}

impl Page {
    /// One line, at the left edge.
    fn put(&mut self, line: &str, style: ContentStyle) {
        let text = within(line.chars(), self.width).collect();
        self.lines.push(Line { text, style });
    }

    /// This many lines in all: empty ones are added, or those below taken away.
    fn fill(&mut self, lines: usize) {
        let empty = Line {
            text: String::new(),
            style: usual(),
        };
        self.lines.resize(lines, empty);
    }

    /// Wrapped, a column in, in no more than this many lines.
    fn text(&mut self, text: &str, style: ContentStyle, most: usize) {
        let width = self.width.saturating_sub(2);
        for line in wrapped(&plain(text), TermStyle::plain(width))
            .lines()
            .take(most)
        {
            self.put(&format!(" {line}"), style);
        }
    }

    /// The job on the left, the recording on the right.
    fn bar(&mut self, left: &str, right: &str) {
        let right = fit(&plain(right), self.width / 3);
        let room = self.width.saturating_sub(right.width() + 3);
        let left = fit(&plain(left), room);
        let gap = " ".repeat(room.saturating_sub(left.width()) + 1);
        let line = format!(" {left}{gap}{right} ");
        self.put(&line, bold().reverse());
    }

    fn rule(&mut self, title: &str) {
        let rest = self.width.saturating_sub(title.width() + 5);
        self.put(&format!("── {title} {}", "─".repeat(rest)), usual());
    }

    fn next(&mut self, shown: &Shown) {
        let (Some(large), Some(next)) = (&shown.large, &shown.next) else {
            self.large("all struck", usual(), false);
            self.put("", usual());
            return;
        };
        if !shown.listening {
            self.text("Reading what was recorded before …", bold(), 1);
            return;
        }
        self.text("STRIKE NEXT", bold(), 1);
        self.large(large, bold(), false);
        self.text(next, usual(), 2);
        let grind = shown.grind.as_ref().map(|grind| format!("{grind}."));
        let style = bold().reverse();
        self.text(grind.as_deref().unwrap_or(""), style, 2);
    }

    fn last(&mut self, last: &Last, colour: bool) {
        let style = match last.verdict.filter(|_| colour) {
            Some(Verdict::Crisp) => bold().with(Color::DarkGreen),
            Some(Verdict::Fair) => bold().with(Color::DarkYellow),
            Some(Verdict::Rough | Verdict::NoLight) => bold().with(Color::DarkRed),
            Some(Verdict::Doubtful) => bold().with(Color::DarkMagenta),
            None => bold(),
        };
        let small = self.height < TALL;
        self.large(&last.large, style, small);
        self.text(&last.says, usual(), if small { 2 } else { 4 });
    }

    /// In letters as large as there is room for; as words where there is none, or where a letter has no picture.
    fn large(&mut self, text: &str, style: ContentStyle, small: bool) {
        let room = self.width.saturating_sub(2);
        let dots = letters::dots(text).filter(|dots| dots[0].len() <= room);
        let rows = match dots {
            None => vec![fit(&plain(text), room)],
            Some(dots) if small => letters::half_blocks(&dots),
            Some(dots) => {
                let wide = if 2 * dots[0].len() <= room { 2 } else { 1 };
                letters::blocks(&dots, wide)
            }
        };
        for row in rows {
            self.put(&format!(" {row}"), style);
        }
    }
}

#[cfg(test)]
mod tests;
