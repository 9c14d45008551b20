//! `tipstrike measure -` and `--follow`: reports starts one by one while the recording is still running.

use std::io;
use std::path::{Path, PathBuf};

use crate::cli::incoming::{Incoming, PIECE, Piece, WAIT};
use crate::cli::outcome::Outcome;
use crate::cli::terminal;
use crate::error::Result;
use crate::measuring::gather::job_by_rules;
use crate::measuring::live::Follow;
use crate::measuring::table;
use crate::report::text;
use crate::score::StartRow;

/// Output format.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LiveForm {
    /// For people.
    Text,
    /// Rows of the starts table as CSV.
    Csv,
    /// Rows of the starts table as JSON Lines.
    JsonLines,
}

/// Options for a recording that is still running.
#[derive(Debug)]
pub struct Asked<'a> {
    /// A file, or `-` for stdin.
    pub input: &'a PathBuf,
    /// Whether to keep reading past the end of the file.
    pub follow: bool,
    /// Job file with logger, measuring and preps.
    pub job: Option<&'a Path>,
    /// Prep of the recording.
    pub prep: Option<&'a str>,
    /// Output format.
    pub form: LiveForm,
}

/// Runs the verb until the input ends.
///
/// # Errors
/// Not a recording, or one that does not fit the job file; an output that cannot be written.
pub fn run(asked: &Asked<'_>) -> Result<Outcome> {
    let mut incoming = Incoming::open(asked.input, asked.follow)?;
    let name = incoming.name.clone();
    let job = job_by_rules(asked.job, asked.prep, std::slice::from_ref(&name))?;
    let mut follow = Follow::new(&job, &job.runs[0])?;
    let mut out = Teller {
        form: asked.form,
        begun: false,
    };
    let mut piece = vec![0; PIECE];
    let lost = loop {
        match incoming.next(&mut piece)? {
            Piece::Bytes(count) => out.tell(&follow.push(&piece[..count])?)?,
            Piece::Nothing => std::thread::sleep(WAIT),
            Piece::End => break None,
            Piece::Lost(lost) => break Some(lost),
        }
    };
    out.tell(&follow.finish()?)?;
    let Some(lost) = lost else {
        return Ok(Outcome::Done);
    };
    terminal::say(&format!("tipstrike: {}: {lost}", name.display()));
    Ok(Outcome::SomeNotRead)
}

/// Writes each start as soon as it is known.
struct Teller {
    form: LiveForm,
    begun: bool,
}

impl Teller {
    /// Writes starts.
    ///
    /// # Errors
    /// As [`terminal::out`].
    fn tell(&mut self, rows: &[StartRow]) -> Result<()> {
        for row in rows {
            let first = !std::mem::replace(&mut self.begun, true);
            terminal::out(|out| out.write_all(&self.written(row, first)?))?;
        }
        Ok(())
    }

    /// Formats a start, with a header before the first one.
    fn written(&self, row: &StartRow, first: bool) -> io::Result<Vec<u8>> {
        let mut written = Vec::new();
        match self.form {
            LiveForm::JsonLines => table::write_jsonl(std::slice::from_ref(row), &mut written)?,
            LiveForm::Csv => {
                table::write_csv(std::slice::from_ref(row), &mut written)?;
                if !first {
                    let head = written
                        .iter()
                        .position(|b| *b == b'\n')
                        .map_or(0, |k| k + 1);
                    written.drain(..head);
                }
            }
            LiveForm::Text => {
                if first {
                    written.extend(text::live_head().bytes());
                }
                written.extend(text::live_line(row, terminal::look()).bytes());
            }
        }
        Ok(written)
    }
}
