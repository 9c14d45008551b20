//! Capabilities of the terminal, and writing to it.

use std::io::{self, IsTerminal, Write};
use std::path::Path;

use unicode_width::UnicodeWidthStr;

use crate::error::{Error, Result};
use crate::output;
use crate::output::Form;
use crate::report::text::{TermStyle, plain, wrapped};

/// Width of output that is not a terminal, columns.
const WIDTH_ELSEWHERE: usize = 80;

/// Width and colour of stdout; `NO_COLOR` (no-color.org) and `TERM=dumb` turn colour off.
pub fn look() -> TermStyle {
    let off = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
    let dumb = std::env::var_os("TERM").is_some_and(|term| term == "dumb");
    if !io::stdout().is_terminal() {
        return TermStyle::plain(WIDTH_ELSEWHERE);
    }
    let width = terminal_size::terminal_size().map_or(WIDTH_ELSEWHERE, |(width, _)| width.0.into());
    TermStyle {
        width,
        colour: !off && !dumb,
    }
}

/// Writes to stdout.
///
/// # Errors
/// The operating system refused, or nobody reads on: see [`nobody_reads`].
pub fn out(fill: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> Result<()> {
    let mut stdout = io::BufWriter::new(io::stdout().lock());
    let done = fill(&mut stdout).and_then(|()| stdout.flush());
    done.map_err(|e| Error::io(Path::new("stdout"), "write", e))
}

/// Whether the reader of stdout went away (`… | head`): it knows, so the exit code says it and no message does.
pub fn nobody_reads(error: &Error) -> bool {
    let kind = error.cause().map(io::Error::kind);
    error.place().file.as_deref() == Some("stdout") && kind == Some(io::ErrorKind::BrokenPipe)
}

/// Prints a line on stderr, with control characters escaped, wrapped where that is a terminal; if nobody reads stderr, the line
/// is lost.
pub fn say(line: &str) {
    let mut stderr = io::stderr();
    let width = width_of(&stderr);
    let _ = stderr.write_all(as_told(line, width).as_bytes());
}

#[cfg(not(target_family = "wasm"))]
fn width_of(stderr: &io::Stderr) -> Option<usize> {
    terminal_size::terminal_size_of(stderr).map(|(width, _)| usize::from(width.0))
}

/// In a browser there is no terminal.
#[cfg(target_family = "wasm")]
fn width_of(_: &io::Stderr) -> Option<usize> {
    None
}

/// A line as stderr shows it: a file or another program gets it whole.
fn as_told(line: &str, width: Option<usize>) -> String {
    let line = plain(line);
    match width {
        Some(width) if line.width() > width => wrapped(&line, TermStyle::plain(width)),
        _ => line + "\n",
    }
}

/// Writes file contents to a terminal, with control characters escaped.
fn harmless(fill: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> Result<()> {
    let mut bytes = Vec::new();
    fill(&mut bytes).map_err(|e| Error::io(Path::new("stdout"), "write", e))?;
    let text = shown(&String::from_utf8_lossy(&bytes));
    out(|out| out.write_all(text.as_bytes()))
}

/// Escapes control characters except line ends and tabs.
fn shown(text: &str) -> String {
    let line = |line: &str| {
        let cells = line.trim_end_matches(['\r', '\n']).split('\t').map(plain);
        cells.collect::<Vec<_>>().join("\t") + "\n"
    };
    text.split_inclusive('\n').map(line).collect()
}

/// Writes a file of a form, or to stdout for `-`.
///
/// # Errors
/// As [`output::whole`].
pub fn out_to(
    path: &Path,
    form: &Form,
    fill: impl FnOnce(&mut dyn Write) -> io::Result<()>,
) -> Result<()> {
    match path == Path::new("-") {
        true if io::stdout().is_terminal() => harmless(fill),
        true => out(fill),
        false => output::whole(path, form, fill),
    }
}

#[cfg(test)]
mod tests {
    #[test]
    fn a_long_line_is_wrapped_on_a_terminal_alone() {
        let line = "lid.wav: hum, offset_drift (tipstrike inspect lid.wav says more)";
        let wrapped = super::as_told(line, Some(40));
        assert!(wrapped.lines().all(|line| line.len() <= 40), "{wrapped}");
        assert_eq!(
            wrapped.split_whitespace().collect::<Vec<_>>().join(" "),
            line
        );
        assert_eq!(super::as_told(line, None), format!("{line}\n"));
    }

    #[test]
    fn a_table_on_a_terminal_cannot_steer_it() {
        assert_eq!(
            super::shown("a,\u{1b}[2J\tb\r\n\u{9b}c\n"),
            "a,\\u{1b}[2J\tb\n\\u{9b}c\n"
        );
    }
}
