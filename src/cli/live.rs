//! `tipstrike measure -` and `--follow`: reports starts one by one while the recording is still running.

use std::fs::File;
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};
use std::time::Duration;

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
    let mut source: Box<dyn Read> = match stdin {
        true => Box::new(io::stdin().lock()),
        false => Box::new(growing(&name)?),
    };
    let mut out = Teller {
        form: asked.form,
        begun: false,
    };
    let mut piece = vec![0; PIECE];
    let mut heard = true;
    while heard {
        match source.read(&mut piece) {
            Ok(0) if asked.follow && !stdin => std::thread::sleep(WAIT),
            Ok(0) => break,
            Ok(count) => heard = out.tell(&follow.push(&piece[..count])?)?,
            Err(e) if e.kind() == io::ErrorKind::Interrupted => {}
            Err(e) => return Err(Error::io(&name, "read", e)),
        }
    }
    if heard {
        out.tell(&follow.finish()?)?;
    }
    Ok(Outcome::Done)
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
    /// Writes starts; returns whether anybody still reads them. A reader that closes early (`… | head`) is not an
    /// error.
    fn tell(&mut self, rows: &[StartRow]) -> Result<bool> {
        for row in rows {
            let first = !std::mem::replace(&mut self.begun, true);
            let mut stdout = io::stdout().lock();
            let done = self
                .written(row, first)
                .and_then(|text| stdout.write_all(&text))
                .and_then(|()| stdout.flush());
            match done {
                Err(e) if e.kind() == io::ErrorKind::BrokenPipe => return Ok(false),
                done => done.map_err(|e| Error::io(Path::new("stdout"), "write", e))?,
            }
        }
        Ok(true)
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
