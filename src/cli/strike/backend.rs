//! Lines of the screen go to the terminal by crossterm, those that changed; it is itself again when this is dropped.

use std::io::{self, Stdout, Write};

use crossterm::cursor::{Hide, MoveTo, Show};
use crossterm::style::{ContentStyle, PrintStyledContent, ResetColor};
use crossterm::terminal::{
    Clear, ClearType, EnterAlternateScreen, LeaveAlternateScreen, disable_raw_mode,
    enable_raw_mode, size,
};
use crossterm::{execute, queue};

/// A line of the screen.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// Text that fits the width.
    pub text: String,
    /// How all of it looks.
    pub style: ContentStyle,
}

/// The terminal, in full screen while this lives.
pub struct Terminal {
    out: Stdout,
    /// What is on it, and at which size.
    shown: Vec<Line>,
    size: (u16, u16),
}

impl Terminal {
    /// Takes the whole terminal.
    ///
    /// # Errors
    /// The operating system refused.
    pub fn take() -> io::Result<Terminal> {
        enable_raw_mode()?;
        // From here on it is given back whatever happens.
        let mut terminal = Terminal {
            out: io::stdout(),
            shown: Vec::new(),
            size: (0, 0),
        };
        execute!(terminal.out, EnterAlternateScreen, Hide)?;
        Ok(terminal)
    }

    /// Shows what is drawn for its columns and rows as they are now.
    ///
    /// # Errors
    /// The operating system refused.
    pub fn show(&mut self, draw: impl FnOnce((u16, u16)) -> Vec<Line>) -> io::Result<()> {
        let size = size()?;
        if size != self.size {
            queue!(self.out, Clear(ClearType::All))?;
            self.shown.clear();
            self.size = size;
        }
        let lines = draw(size);
        for (y, line) in (0_u16..).zip(&lines) {
            if self.shown.get(usize::from(y)) != Some(line) {
                // Cleared first: after a letter in the last column, clearing to the end takes it away.
                queue!(self.out, MoveTo(0, y), Clear(ClearType::CurrentLine))?;
                queue!(
                    self.out,
                    PrintStyledContent(line.style.apply(line.text.as_str()))
                )?;
            }
        }
        self.shown = lines;
        self.out.flush()
    }
}

impl Drop for Terminal {
    fn drop(&mut self) {
        let _ = execute!(self.out, ResetColor, Show, LeaveAlternateScreen);
        let _ = disable_raw_mode();
    }
}
