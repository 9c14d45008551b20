//! `tipstrike inspect`: shows what is in a recording and whether it is fit to measure.

use std::path::{Path, PathBuf};

use serde::Serialize;

use crate::cli::outcome::Outcome;
use crate::cli::picture::Picture;
use crate::cli::{answer, terminal};
use crate::error::{Error, ErrorKind, Result};
use crate::job::{JOB_FILE, Job, Logger};
use crate::output::Form;
use crate::recording;
use crate::recording::{Fitted, Inspection, Known};
use crate::report::{figure, text};

/// Look into recordings: rate, channels, noise, clipping, hum, gaps; and get a [logger] block to start from
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  tipstrike inspect night-shift.wav
  tipstrike inspect --job kettle-lids/ kettle-lids/*.wav
  tipstrike inspect night-shift.wav --job job.toml --figure night-shift.svg
  tipstrike inspect load-bank.wav --known \"0 A from 0 s to 3 s\" --known \"80 A from 5 s to 9 s\"

Caution: high-frequency ignition is kilovolts and open-circuit voltage can kill. Connect with the power off,
through isolated and fused inputs rated for it. What each finding means: docs/recordings.md.")]
pub struct InspectArgs {
    /// Recordings, WAV or tables of text
    #[arg(value_name = "FILE", required = true)]
    files: Vec<PathBuf>,
    /// Job file or folder whose [logger] gives the scale
    #[arg(long, value_name = "JOB")]
    job: Option<PathBuf>,
    /// A load of known current, to work out the scale; twice for scale and offset
    #[arg(long, value_name = "\"80 A from 2 s to 5 s\"")]
    known: Vec<Known>,
    /// Draw the traces of one recording from end to end into this file: SVG or, by its ending, PNG
    #[arg(long, value_name = "FILE")]
    figure: Option<PathBuf>,
    /// Write what was seen as JSON to this file, - for stdout
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
}

/// The JSON answer, with one entry per readable recording.
#[derive(Serialize)]
struct Entry {
    #[serde(flatten)]
    seen: Inspection,
    fitted: Option<Fitted>,
}

/// The answer as JSON.
const JSON: Form = Form {
    name: "an answer of inspect",
    is_own: |head| {
        let entry =
            head.starts_with(b"[\n  {\n    \"recording\": ") && answer::has(head, "\"rate_hz\": ");
        entry || head == b"[]\n"
    },
};

/// Runs the verb.
///
/// # Errors
/// An unusable job file, an output that cannot be written, or no readable recording.
pub fn run(args: InspectArgs) -> Result<Outcome> {
    let logger = match &args.job {
        Some(job) => Job::read_rules(job)?.logger,
        None => Logger::default(),
    };
    if args.known.len() > 2 || (!args.known.is_empty() && args.files.len() > 1) {
        return Err(Error::new(
            ErrorKind::KnownLoad,
            "--known",
            "expected one or two loads in one recording",
        ));
    }
    if args.figure.is_some() && args.files.len() > 1 {
        return Err(Error::new(
            ErrorKind::InvalidParameter,
            "--figure",
            "only one recording can be drawn at a time",
        ));
    }
    let picture = match &args.figure {
        Some(path) => Picture::by_ending(path)?,
        None => Picture::Svg,
    };
    let outputs = [
        (args.figure.as_deref(), picture.form()),
        (args.json.as_deref(), &JSON),
    ];
    answer::spare(&args.read(), &outputs)?;
    let (mut entries, mut not_read) = (Vec::new(), Vec::new());
    for file in &args.files {
        match look_into(file, &logger, &args.known) {
            Ok(entry) => entries.push(entry),
            Err(error) if args.files.len() == 1 => return Err(error),
            Err(error) => not_read.push((file.display().to_string(), error)),
        }
    }
    if let (Some(path), [entry]) = (&args.figure, &entries[..]) {
        draw(path, &entry.seen)?;
    }
    if let Some(path) = &args.json {
        answer::json(path, &JSON, &entries)?;
    }
    if !answer::takes_stdout(args.json.as_deref()) {
        let look = terminal::look();
        terminal::out(|out| {
            for (k, entry) in entries.iter().enumerate() {
                if k > 0 {
                    writeln!(out)?;
                }
                write!(out, "{}", text::inspection(&entry.seen, look))?;
                if let Some(fitted) = &entry.fitted {
                    write!(out, "\n{}", text::fitted(fitted))?;
                }
            }
            Ok(())
        })?;
    }
    Ok(answer::tell_not_read(&not_read))
}

impl InspectArgs {
    /// Lists all input files.
    fn read(&self) -> Vec<PathBuf> {
        let jobs = self
            .job
            .iter()
            .flat_map(|job| [job.clone(), job.join(JOB_FILE)]);
        self.files.iter().cloned().chain(jobs).collect()
    }
}

fn look_into(file: &Path, logger: &Logger, known: &[Known]) -> Result<Entry> {
    let mut seen = recording::inspect(file, logger)?;
    let fitted = if known.is_empty() {
        None
    } else {
        Some(recording::fit(file, logger, known)?)
    };
    if let Some(fitted) = &fitted {
        seen.take_scale(logger, fitted);
    }
    Ok(Entry { seen, fitted })
}

fn draw(path: &Path, seen: &Inspection) -> Result<()> {
    let picture = Picture::by_ending(path)?;
    let bytes = picture.bytes(&figure::recording(seen));
    crate::output::whole(path, picture.form(), |out| out.write_all(&bytes))
}
