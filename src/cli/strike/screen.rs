//! A session on the full screen: what to strike next and how the last start was in large letters, where it stands below.

use std::path::Path;

use ratatui_core::buffer::Buffer;
use ratatui_core::layout::Rect;
use ratatui_core::style::{Color, Modifier, Style};
use ratatui_core::terminal::Terminal as Drawn;
use unicode_width::UnicodeWidthStr;

use crate::cli::strike::backend::Terminal;
use crate::cli::strike::letters;
use crate::cli::strike::shown::{Last, Shown, View};
use crate::cli::terminal;
use crate::error::{Error, Result};
use crate::report::text::{TermStyle, fit, plain, wrapped};
use crate::score::Verdict;

/// Rows from which on the last start's verdict is as large as what to strike.
const TALL: u16 = 30;
const BOLD: Style = Style::new().add_modifier(Modifier::BOLD);
const KEYS: &str = " f  fumbled    r  tip reground    u  undo    q  quit";

/// The full screen.
pub struct Screen {
    drawn: Drawn<Terminal>,
    colour: bool,
}

impl Screen {
    /// Takes the terminal.
    ///
    /// # Errors
    /// The operating system refused.
    pub fn open() -> Result<Screen> {
        let colour = terminal::look().colour;
        let drawn = Terminal::take().and_then(Drawn::new).map_err(refused)?;
        Ok(Screen { drawn, colour })
    }
}

fn refused(error: std::io::Error) -> Error {
    Error::io(Path::new("terminal"), "write", error)
}

impl View for Screen {
    fn show(&mut self, shown: &Shown) -> Result<()> {
        let colour = self.colour;
        let drawn = self
            .drawn
            .draw(|frame| draw(shown, colour, frame.buffer_mut()));
        drawn.map(drop).map_err(refused)
    }
}

/// Draws from the top down; what does not fit below is left out, the keys never.
fn draw(shown: &Shown, colour: bool, buffer: &mut Buffer) {
    let area = buffer.area;
    let mut page = Page { buffer, y: 0 };
    page.bar(&shown.title, &shown.recording);
    page.y += 1;
    page.next(shown);
    page.rule("LAST START");
    match &shown.last {
        Some(last) => page.last(last, colour),
        None => page.text("None yet.", Style::new(), 1),
    }
    page.rule(if shown.enough {
        "ENOUGH"
    } else {
        "WHERE IT STANDS"
    });
    let left = area.height.saturating_sub(page.y + 3);
    let style = if shown.enough { BOLD } else { Style::new() };
    page.text(&shown.stands, style, usize::from(left));
    if area.height > 2 {
        page.y = page.y.max(area.height - 3);
        page.text(shown.note.as_deref().unwrap_or(""), BOLD, 1);
    }
    page.y = area.height.saturating_sub(1);
    page.put(&padded(KEYS, area), BOLD.add_modifier(Modifier::REVERSED));
}

/// Filled up to the width.
fn padded(text: &str, area: Rect) -> String {
    let room = usize::from(area.width).saturating_sub(text.width());
    text.to_owned() + &" ".repeat(room)
}

/// A screen that is written from the top down.
struct Page<'a> {
    buffer: &'a mut Buffer,
    y: u16,
}

impl Page<'_> {
    fn width(&self) -> usize {
        usize::from(self.buffer.area.width)
    }

    /// One line, at the left edge.
    fn put(&mut self, line: &str, style: Style) {
        if self.y < self.buffer.area.height {
            self.buffer
                .set_stringn(0, self.y, line, self.width(), style);
        }
        self.y += 1;
    }

    /// Wrapped, a column in, in no more than so many lines.
    fn text(&mut self, text: &str, style: Style, most: usize) {
        let width = self.width().saturating_sub(2);
        for line in wrapped(&plain(text), TermStyle::plain(width))
            .lines()
            .take(most)
        {
            self.put(&format!(" {line}"), style);
        }
    }

    /// The job on the left, the recording on the right.
    fn bar(&mut self, left: &str, right: &str) {
        let right = fit(&plain(right), self.width() / 3);
        let room = self.width().saturating_sub(right.width() + 3);
        let left = fit(&plain(left), room);
        let gap = " ".repeat(room.saturating_sub(left.width()) + 1);
        let line = format!(" {left}{gap}{right} ");
        self.put(&line, BOLD.add_modifier(Modifier::REVERSED));
    }

    fn rule(&mut self, title: &str) {
        let rest = self.width().saturating_sub(title.width() + 5);
        self.put(&format!("── {title} {}", "─".repeat(rest)), Style::new());
    }

    fn next(&mut self, shown: &Shown) {
        let (Some(large), Some(next)) = (&shown.large, &shown.next) else {
            self.large("all struck", Style::new(), false);
            self.y += 1;
            return;
        };
        if !shown.listening {
            self.text("Reading what was recorded before …", BOLD, 1);
            return;
        }
        self.text("STRIKE NEXT", BOLD, 1);
        self.large(large, BOLD, false);
        self.text(next, Style::new(), 2);
        let grind = shown.grind.as_ref().map(|grind| format!("{grind}."));
        let style = BOLD.add_modifier(Modifier::REVERSED);
        self.text(grind.as_deref().unwrap_or(""), style, 2);
    }

    fn last(&mut self, last: &Last, colour: bool) {
        let style = match last.verdict.filter(|_| colour) {
            Some(Verdict::Crisp) => BOLD.fg(Color::Green),
            Some(Verdict::Fair) => BOLD.fg(Color::Yellow),
            Some(Verdict::Rough | Verdict::NoLight) => BOLD.fg(Color::Red),
            Some(Verdict::Doubtful) => BOLD.fg(Color::Magenta),
            None => BOLD,
        };
        let small = self.buffer.area.height < TALL;
        self.large(&last.large, style, small);
        self.text(&last.says, Style::new(), if small { 2 } else { 4 });
    }

    /// In letters as large as there is room for; as words where there is none, or where a letter has no picture.
    fn large(&mut self, text: &str, style: Style, small: bool) {
        let room = self.width().saturating_sub(2);
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
