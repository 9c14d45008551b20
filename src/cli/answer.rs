//! Shared parts of the verbs that answer a question: notices about recordings, output checks, JSON.

use std::path::{Path, PathBuf};

use serde::Serialize;

use crate::bytes::Identity;
use crate::cli::outcome::Outcome;
use crate::cli::terminal;
use crate::error;
use crate::error::{Error, ErrorKind, Result};
use crate::format::counted;
use crate::job::{JOB_FILE, SHEET_FILE, length};
use crate::measuring::cache::Cache;
use crate::measuring::gather::StartSet;
use crate::output;
use crate::output::Form;
use crate::report::text;

/// A run sheet that was read a moment ago and is written again.
pub const SHEET: Form = Form {
    name: "a run sheet",
    is_own: |_| true,
};

/// Maximum number of recordings whose findings are listed one by one.
const TOLD: usize = 8;
/// Maximum number of recordings that could not be read and are listed one by one.
const NOT_READ_TOLD: usize = 10;

/// Lists recordings with findings and their flags on stderr; `inspect` explains them.
pub fn tell_health(gathered: &StartSet, quiet: bool) {
    if quiet {
        return;
    }
    tell_empty(gathered);
    tell_doubts(gathered);
    let ailing = || {
        gathered
            .sources
            .iter()
            .filter(|source| !source.findings.is_empty())
    };
    for source in ailing().take(TOLD) {
        let mut flags: Vec<_> = source.findings.iter().map(|f| f.flag.name()).collect();
        flags.dedup();
        let (recording, path) = (&source.recording, source.path.display());
        let flags = flags.join(", ");
        terminal::say(&format!(
            "{recording}: {flags} (tipstrike inspect {path} says more)"
        ));
    }
    let rest = ailing().count().saturating_sub(TOLD);
    if rest > 0 {
        terminal::say(&format!("… and {rest} more recordings with findings"));
    }
}

/// Lists recordings that count once with others on stderr.
pub fn tell_copies(gathered: &StartSet) {
    for (copy, first) in gathered.copies.iter().take(TOLD) {
        terminal::say(&format!("{copy} holds the same as {first}: counted once"));
    }
    let rest = gathered.copies.len().saturating_sub(TOLD);
    if rest > 0 {
        terminal::say(&format!("… and {rest} more recordings counted once"));
    }
}

/// What was measured before, in the user's cache folder; where there is none, or all is asked `anew`, everything is measured.
pub fn kept(anew: bool) -> Option<Cache> {
    let folder = cache_folder()
        .filter(|_| !anew)?
        .join(env!("CARGO_PKG_NAME"));
    let tool = format!("{} {:?}", env!("CARGO_PKG_VERSION"), program()?);
    Cache::open(&folder.join("measured"), &tool).ok()
}

/// The user's cache folder. In a browser it lasts as long as the page.
fn cache_folder() -> Option<PathBuf> {
    match cfg!(target_family = "wasm") {
        true => Some(PathBuf::from("/kept")),
        false => dirs::cache_dir(),
    }
}

/// Which build this is, by its file. A page in a browser holds one build only.
fn program() -> Option<Option<Identity>> {
    match cfg!(target_family = "wasm") {
        true => Some(None),
        false => Identity::of(&std::env::current_exe().ok()?).map(Some),
    }
}

/// Says how many starts are doubtful, and why the first of them is.
fn tell_doubts(gathered: &StartSet) {
    let doubts: Vec<&str> = gathered
        .rows
        .iter()
        .filter_map(|row| row.doubt.as_deref())
        .collect();
    if let Some(first) = doubts.first() {
        let count = counted(doubts.len(), "doubtful start");
        let the_first = if doubts.len() > 1 { ", the first" } else { "" };
        terminal::say(&format!("{count}{the_first}: {first}"));
    }
}

/// Lists recordings, or parts of them, without a start on stderr.
pub fn tell_empty(gathered: &StartSet) {
    gathered
        .miscounted
        .iter()
        .for_each(|miscount| terminal::say(&miscount.to_string()));
    for said in gathered.empty.iter().take(TOLD) {
        terminal::say(said);
    }
    let rest = gathered.empty.len().saturating_sub(TOLD);
    if rest > 0 {
        terminal::say(&format!("… and {rest} more recordings without a start"));
    }
}

/// Lists recordings that could not be read on stderr.
pub fn tell_not_read(not_read: &[(String, Error)]) -> Outcome {
    let (first, rest) = not_read.split_at(not_read.len().min(NOT_READ_TOLD));
    for (recording, error) in first {
        let said = format!("{} was left out: {error}", text::plain(recording));
        for line in said.lines() {
            terminal::say(&format!("tipstrike: {line}"));
        }
    }
    let rest = rest.iter().map(|(_, error)| error);
    if let Some(said) = error::counted_by_kind(rest) {
        terminal::say(&format!("tipstrike: {said}"));
    }
    if not_read.is_empty() {
        Outcome::Done
    } else {
        Outcome::SomeNotRead
    }
}

/// Leaves what was read to the system, which takes all of it back at once when the program ends, as it does next: giving back a
/// million rows one by one is a tenth of a second's work for nobody.
pub fn leave<T>(read: T) {
    std::mem::forget(read);
}

/// An output asked for, and its form.
pub type Output<'a> = (Option<&'a Path>, &'a Form);

/// Checks that no output overwrites an input, or anything but a file of its own form.
///
/// # Errors
/// An output that is an input, a recording, a job file or its run sheet; what [`output::check`] refuses.
pub fn spare_inputs(inputs: &[PathBuf], gathered: &StartSet, outputs: &[Output]) -> Result<()> {
    let folders = gathered.jobs.iter().map(|of| &of.job.folder);
    let beside = folders.flat_map(|f| [f.join(JOB_FILE), f.join(SHEET_FILE)]);
    let sources = gathered.sources.iter().map(|s| s.path.clone());
    let read: Vec<PathBuf> = inputs
        .iter()
        .cloned()
        .chain(sources)
        .chain(beside)
        .collect();
    spare(&read, outputs)
}

/// Checks that no output overwrites one of these files, or anything but a file of its own form.
///
/// # Errors
/// An output that is one of them; what [`output::check`] refuses.
pub fn spare(read: &[PathBuf], outputs: &[Output]) -> Result<()> {
    let read: Vec<PathBuf> = read
        .iter()
        .filter_map(|path| path.canonicalize().ok())
        .collect();
    let files: Vec<(&Path, &Form)> = outputs
        .iter()
        .filter_map(|(path, form)| Some(((*path)?, *form)))
        .filter(|(path, _)| !takes_stdout(Some(path)))
        .collect();
    for (output, _) in &files {
        if output.canonicalize().is_ok_and(|path| read.contains(&path)) {
            return Err(Error::new(
                ErrorKind::OutputExists,
                output.display().to_string(),
                "is an input of this answer",
            )
            .hint("Name another file: inputs are not overwritten"));
        }
    }
    files
        .into_iter()
        .try_for_each(|(path, form)| output::check(path, form))
}

/// Writes an answer as JSON to a file, or to stdout for `-`.
///
/// # Errors
/// The operating system refused.
pub fn json(path: &Path, form: &Form, answer: &impl Serialize) -> Result<()> {
    terminal::out_to(path, form, |out| {
        serde_json::to_writer_pretty(&mut *out, answer)?;
        out.write_all(b"\n")
    })
}

/// Whether a text has a part.
pub fn has(text: &[u8], part: &str) -> bool {
    memchr::memmem::find(text, part.as_bytes()).is_some()
}

/// Whether an output named `-` occupies stdout.
pub fn takes_stdout(path: Option<&Path>) -> bool {
    path == Some(Path::new("-"))
}

/// Refuses two outputs that would mix on stdout.
///
/// # Errors
/// More than one output named `-`.
pub fn one_to_stdout(outputs: &[Option<&Path>]) -> Result<()> {
    match outputs.iter().filter(|path| takes_stdout(**path)).count() {
        0 | 1 => Ok(()),
        _ => Err(Error::new(
            ErrorKind::OutputUnclear,
            "-",
            "two outputs cannot share stdout",
        )
        .hint("Name a file for one of them")),
    }
}

/// Reads a number; the decimal sign may be a comma, but not where it could part thousands.
pub fn number(text: &str) -> Result<f64, String> {
    let text = text.trim();
    if let Some((_, rest)) = text.split_once(',')
        && rest.len() == 3
    {
        return Err("the comma can be read in two ways: write the number with a point".into());
    }
    length::number(text).ok_or_else(|| format!("{text} is not a number; expected one such as 30.5"))
}

/// Reads a confidence level.
pub fn level(text: &str) -> Result<f64, String> {
    match number(text) {
        Ok(level) if (0.5..=0.9999).contains(&level) => Ok(level),
        _ => Err("expected a number from 0.5 to 0.9999, such as 0.95".into()),
    }
}

/// Reads `NAME=VALUE` with a number.
pub fn named_number(text: &str) -> Result<(String, f64), String> {
    let (name, value) = named(text)?;
    Ok((name, number(&value)?))
}

/// Reads `NAME=TEXT`.
pub fn named(text: &str) -> Result<(String, String), String> {
    let (name, value) = text
        .split_once('=')
        .ok_or("expected NAME=VALUE, such as start_ms=20")?;
    Ok((name.trim().into(), value.trim().into()))
}
