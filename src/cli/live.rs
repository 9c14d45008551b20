//! `tipstrike measure -` and `--follow`: reports starts one by one while the recording is still running.

use std::fs::{File, Metadata};
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use std::time::Duration;

use crate::bytes::Identity;
use crate::cli::outcome::Outcome;
use crate::cli::terminal;
use crate::error::{Error, ErrorKind, Result};
use crate::measuring::gather::job_by_rules;
use crate::measuring::live::Follow;
use crate::measuring::table;
use crate::report::text;
use crate::score::StartRow;

/// Bytes per read.
const PIECE: usize = 1 << 16;
/// Time between reads of a file that does not grow.
const WAIT: Duration = Duration::from_millis(50);

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
    let stdin = asked.input == Path::new("-");
    let name = match stdin {
        true => PathBuf::from("stdin"),
        false => asked.input.clone(),
    };
    let job = job_by_rules(asked.job, asked.prep, std::slice::from_ref(&name))?;
    let mut follow = Follow::new(&job, &job.runs[0])?;
    let file = if stdin { None } else { Some(growing(&name)?) };
    let mut source: Box<dyn Read> = match &file {
        Some(file) => Box::new(file),
        None => Box::new(io::stdin().lock()),
    };
    let mut out = Teller {
        form: asked.form,
        begun: false,
    };
    let mut piece = vec![0; PIECE];
    let mut read = 0;
    let lost = loop {
        match (source.read(&mut piece), &file) {
            (Ok(0), Some(file)) if asked.follow => match lost(&name, file, read) {
                None => std::thread::sleep(WAIT),
                lost => break lost,
            },
            (Ok(0), _) => break None,
            (Ok(count), _) => {
                read += count as u64;
                out.tell(&follow.push(&piece[..count])?)?;
            }
            (Err(e), _) if e.kind() == io::ErrorKind::Interrupted => {}
            (Err(e), _) => return Err(Error::io(&name, "read", e)),
        }
    };
    out.tell(&follow.finish()?)?;
    let Some(lost) = lost else {
        return Ok(Outcome::Done);
    };
    terminal::say(&format!("tipstrike: {}: {lost}", name.display()));
    Ok(Outcome::SomeNotRead)
}

/// What happened to a file that will not grow on.
fn lost(path: &Path, file: &File, read: u64) -> Option<&'static str> {
    let own = file.metadata().ok().filter(Metadata::is_file)?;
    let inode = |about: &Metadata| Identity::from(about).and_then(|identity| identity.inode());
    match path.metadata() {
        Err(e) if e.kind() == io::ErrorKind::NotFound => {
            Some("was deleted while it was followed. The starts up to there were told")
        }
        Ok(named) if inode(&named) != inode(&own) => Some(
            "was replaced by another file while it was followed. Start again to follow the new one",
        ),
        _ if own.len() < read => {
            Some("was cut while it was followed. Start again to follow it from its beginning")
        }
        _ => None,
    }
}

fn growing(path: &Path) -> Result<File> {
    let file = File::open(path).map_err(|e| Error::io(path, "read", e))?;
    match file.metadata().is_ok_and(|about| about.is_dir()) {
        true => Err(Error::new(
            ErrorKind::NotAFile,
            path.display().to_string(),
            "is a folder",
        )
        .hint("Name the recording that is being written")),
        false => Ok(file),
    }
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
