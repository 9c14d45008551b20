//! What the terminal can show, and writing to it.

use std::io::{self, IsTerminal, Write};
use std::path::Path;

use crate::error::{Error, Result};
use crate::report::text::Look;

/// Columns where the output is no terminal.
const WIDTH_ELSEWHERE: usize = 80;

/// Columns and colour of stdout; `NO_COLOR` (no-color.org) and `TERM=dumb` turn colour off.
pub fn look() -> Look {
    let off = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
    let dumb = std::env::var_os("TERM").is_some_and(|term| term == "dumb");
    if !io::stdout().is_terminal() {
        return Look::plain(WIDTH_ELSEWHERE);
    }
    let width = terminal_size::terminal_size().map_or(WIDTH_ELSEWHERE, |(width, _)| width.0.into());
    Look {
        width,
        colour: !off && !dumb,
    }
}

/// Writes to stdout. A reader that goes away early (`… | head`) is no error.
///
/// # Errors
/// Any other refusal of the system.
pub fn out(fill: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> Result<()> {
    let mut stdout = io::BufWriter::new(io::stdout().lock());
    match fill(&mut stdout).and_then(|()| stdout.flush()) {
        Err(e) if e.kind() != io::ErrorKind::BrokenPipe => {
            Err(Error::io(Path::new("stdout"), "write", e))
        }
        _ => Ok(()),
    }
}

/// Writes to a file, whole, or to stdout where its name is `-`.
///
/// # Errors
/// What the system refuses.
pub fn out_to(path: &Path, fill: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> Result<()> {
    match path == Path::new("-") {
        true => out(fill),
        false => crate::output::whole(path, fill),
    }
}
