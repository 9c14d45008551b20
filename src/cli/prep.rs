//! `tipstrike prep`: does each prep suit its job, by the tables?

use std::path::PathBuf;

use serde::Serialize;

use crate::cli::outcome::Outcome;
use crate::cli::{answer, terminal};
use crate::error::Result;
use crate::fit::{FitFinding, fit};
use crate::job::{JOB_FILE, Job, SHEET_FILE};
use crate::output::Form;
use crate::report::text;

/// Check the prep sheet against the tables and common practice, before anything is welded
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  tipstrike prep kettle-lids/
  tipstrike prep kettle-lids/job.toml --json -

The recordings need not be there yet. Whatever is found, the exit code is 0; only a job file or a
run sheet that cannot be used ends with 2. What the tables say, and where they disagree:
docs/electrodes.md. How to strike so that grinds are compared fairly: docs/good-starts.md.")]
pub struct PrepArgs {
    /// Job file or its folder
    #[arg(value_name = "JOB")]
    job: PathBuf,
    /// Write the findings as JSON to this file, - for stdout
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
}

/// The JSON answer.
#[derive(Serialize)]
struct Answer<'a> {
    preps: Vec<&'a String>,
    runs: usize,
    findings: &'a [FitFinding],
}

/// The answer as JSON.
const JSON: Form = Form {
    name: "an answer of prep",
    is_own: |head| {
        head.starts_with(b"{\n  \"preps\": [") && answer::has(head, "\n  \"findings\": [")
    },
};

/// Runs the verb.
///
/// # Errors
/// A job file or run sheet that cannot be used, an output that cannot be written.
pub fn run(args: PrepArgs) -> Result<Outcome> {
    let job = Job::read(&args.job)?;
    let read = [
        args.job.clone(),
        job.folder.join(JOB_FILE),
        job.folder.join(SHEET_FILE),
    ];
    answer::spare(&read, &[(args.json.as_deref(), &JSON)])?;
    let findings = fit(&job);
    if let Some(path) = &args.json {
        let answer = Answer {
            preps: job.preps.keys().collect(),
            runs: job.runs.len(),
            findings: &findings,
        };
        answer::json(path, &JSON, &answer)?;
    }
    if !answer::takes_stdout(args.json.as_deref()) {
        let text = text::preps(&job, &findings, terminal::look());
        terminal::out(|out| out.write_all(text.as_bytes()))?;
    }
    Ok(Outcome::Done)
}
