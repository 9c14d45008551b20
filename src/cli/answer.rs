//! What the verbs that answer a question share: telling what was not read, writing JSON.

use std::path::{Path, PathBuf};

use serde::Serialize;

use super::{Outcome, terminal};
use crate::error::{Error, Result};
use crate::prep::{JOB_FILE, SHEET_FILE};
use crate::report::text;
use crate::study::gather::{Gathered, Source};

/// Recordings whose health is told one by one.
const TOLD: usize = 8;

/// Names each recording that has findings on stderr, with its flags; what they mean, `inspect` says.
pub fn tell_health(sources: &[Source], quiet: bool) {
    let ailing = || sources.iter().filter(|source| !source.findings.is_empty());
    if quiet || ailing().next().is_none() {
        return;
    }
    for source in ailing().take(TOLD) {
        let mut flags: Vec<_> = source.findings.iter().map(|f| f.flag.name()).collect();
        flags.dedup();
        let path = text::plain(&source.path.display().to_string());
        eprintln!(
            "{}: {} (tipstrike inspect {path} says more)",
            text::plain(&source.recording),
            flags.join(", "),
        );
    }
    let rest = ailing().count().saturating_sub(TOLD);
    if rest > 0 {
        eprintln!("… and {rest} more recordings with findings");
    }
}

/// Names each recording that could not be read on stderr.
pub fn tell_not_read(not_read: &[(String, Error)]) -> Outcome {
    for (recording, error) in not_read {
        let said = format!("{recording} was left out: {error}");
        for line in said.lines() {
            eprintln!("tipstrike: {}", text::plain(line));
        }
    }
    if not_read.is_empty() {
        Outcome::Done
    } else {
        Outcome::SomeNotRead
    }
}

/// Holds outputs against everything that was read: none may be written over.
///
/// # Errors
/// An output that is an input, a recording, a job file or its run sheet.
pub fn spare_inputs(
    inputs: &[PathBuf],
    gathered: &Gathered,
    outputs: &[Option<&Path>],
) -> Result<()> {
    let folder = gathered.job.as_ref().map(|job| job.folder.clone());
    let beside = folder
        .into_iter()
        .flat_map(|f| [f.join(JOB_FILE), f.join(SHEET_FILE)]);
    let sources = gathered.sources.iter().map(|s| s.path.clone());
    let read: Vec<PathBuf> = inputs
        .iter()
        .cloned()
        .chain(sources)
        .chain(beside)
        .filter_map(|path| path.canonicalize().ok())
        .collect();
    for output in outputs.iter().flatten() {
        if output.canonicalize().is_ok_and(|path| read.contains(&path)) {
            return Err(
                Error::input(output.display().to_string(), "was read for this answer")
                    .hint("Name another file: what was read is not written over"),
            );
        }
    }
    Ok(())
}

/// Writes an answer as JSON to a file, or to stdout where it is named `-`.
///
/// # Errors
/// What the system refuses.
pub fn json(path: &Path, answer: &impl Serialize) -> Result<()> {
    terminal::out_to(path, |out| {
        serde_json::to_writer_pretty(&mut *out, answer)?;
        out.write_all(b"\n")
    })
}

/// Whether stdout is taken by a file named `-`, so that nothing else may go there.
pub fn takes_stdout(path: Option<&Path>) -> bool {
    path == Some(Path::new("-"))
}

/// Reads `NAME=VALUE` with a number.
pub fn named_number(text: &str) -> Result<(String, f64), String> {
    let (name, value) = named(text)?;
    match value.parse::<f64>() {
        Ok(number) if number.is_finite() => Ok((name, number)),
        _ => Err(format!("{value} is no number")),
    }
}

/// Reads `NAME=TEXT`.
pub fn named(text: &str) -> Result<(String, String), String> {
    let (name, value) = text
        .split_once('=')
        .ok_or("expected NAME=VALUE, such as start_ms=20")?;
    Ok((name.trim().into(), value.trim().into()))
}
