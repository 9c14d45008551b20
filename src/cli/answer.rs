//! What the verbs that answer a question share: telling what was not read, writing JSON.

use std::path::Path;

use serde::Serialize;

use super::{Outcome, terminal};
use crate::error::{Error, Result};
use crate::report::text;
use crate::study::gather::Source;

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
