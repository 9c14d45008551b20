//! Cells of the screen go to the terminal by crossterm; it is itself again when this is dropped.

use std::io::{self, Stdout, Write};

use crossterm::cursor::{Hide, MoveTo, Show};
use crossterm::style::{
    Attribute, Color as TermColor, Print, ResetColor, SetAttribute, SetForegroundColor,
};
use crossterm::terminal::{
    Clear, ClearType as TermClear, EnterAlternateScreen, LeaveAlternateScreen, disable_raw_mode,
    enable_raw_mode, size,
};
use crossterm::{execute, queue};
use ratatui_core::backend::{Backend, ClearType, WindowSize};
use ratatui_core::buffer::Cell;
use ratatui_core::layout::{Position, Size};
use ratatui_core::style::{Color, Modifier};

/// The terminal, in full screen while this lives.
pub struct Terminal(Stdout);

impl Terminal {
    /// Takes the whole terminal.
    ///
    /// # Errors
    /// The operating system refused.
    pub fn take() -> io::Result<Terminal> {
        enable_raw_mode()?;
        // From here on it is given back whatever happens.
        let mut terminal = Terminal(io::stdout());
        execute!(terminal.0, EnterAlternateScreen, Hide)?;
        Ok(terminal)
    }
}

impl Drop for Terminal {
    fn drop(&mut self) {
        let _ = execute!(self.0, ResetColor, Show, LeaveAlternateScreen);
        let _ = disable_raw_mode();
    }
}

/// Colours that the screen uses; all others are the terminal's own.
fn colour(colour: Color) -> TermColor {
    match colour {
        Color::Green => TermColor::DarkGreen,
        Color::Yellow => TermColor::DarkYellow,
        Color::Red => TermColor::DarkRed,
        Color::Magenta => TermColor::DarkMagenta,
        _ => TermColor::Reset,
    }
}

impl Backend for Terminal {
    type Error = io::Error;

    fn draw<'a, I>(&mut self, content: I) -> io::Result<()>
    where
        I: Iterator<Item = (u16, u16, &'a Cell)>,
    {
        for (x, y, cell) in content {
            queue!(self.0, MoveTo(x, y), SetAttribute(Attribute::Reset))?;
            queue!(self.0, SetForegroundColor(colour(cell.fg)))?;
            for (modifier, attribute) in [
                (Modifier::BOLD, Attribute::Bold),
                (Modifier::REVERSED, Attribute::Reverse),
            ] {
                if cell.modifier.contains(modifier) {
                    queue!(self.0, SetAttribute(attribute))?;
                }
            }
            queue!(self.0, Print(cell.symbol()))?;
        }
        queue!(self.0, SetAttribute(Attribute::Reset), ResetColor)
    }

    fn hide_cursor(&mut self) -> io::Result<()> {
        execute!(self.0, Hide)
    }

    fn show_cursor(&mut self) -> io::Result<()> {
        execute!(self.0, Show)
    }

    fn get_cursor_position(&mut self) -> io::Result<Position> {
        // It is hidden: nobody asks for it but a screen inside another.
        Ok(Position::ORIGIN)
    }

    fn set_cursor_position<P: Into<Position>>(&mut self, position: P) -> io::Result<()> {
        let Position { x, y } = position.into();
        execute!(self.0, MoveTo(x, y))
    }

    fn clear(&mut self) -> io::Result<()> {
        execute!(self.0, Clear(TermClear::All))
    }

    fn clear_region(&mut self, region: ClearType) -> io::Result<()> {
        let region = match region {
            ClearType::All => TermClear::All,
            ClearType::AfterCursor => TermClear::FromCursorDown,
            ClearType::BeforeCursor => TermClear::FromCursorUp,
            ClearType::CurrentLine => TermClear::CurrentLine,
            ClearType::UntilNewLine => TermClear::UntilNewLine,
        };
        execute!(self.0, Clear(region))
    }

    fn size(&self) -> io::Result<Size> {
        let (width, height) = size()?;
        Ok(Size { width, height })
    }

    fn window_size(&mut self) -> io::Result<WindowSize> {
        Ok(WindowSize {
            columns_rows: self.size()?,
            pixels: Size::ZERO,
        })
    }

    fn flush(&mut self) -> io::Result<()> {
        self.0.flush()
    }
}
