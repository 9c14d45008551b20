//! The rows of the sheet that share out the starts of one recording: measured once, then given to each.

use std::collections::HashMap;
use std::path::Path;

use crate::error::Result;
use crate::job::{Context, Job, Run};
use crate::measuring::cache::{Cache, Found};
use crate::recording::{Finding, Recording};
use crate::score::{Score, StartRow};
use crate::start;
use crate::start::{Preview, Start};

/// What goes with a row but not into the table.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Detail {
    /// How the score came about.
    pub score: Option<Score>,
    /// The traces.
    pub preview: Option<Preview>,
}

/// Rows of the sheet that share out the starts of one recording, or of one part of it.
pub(super) type Part<'a> = Vec<&'a Run>;

/// The runs by what is measured at once, in the order of their first rows.
pub(super) fn parts(job: &Job) -> Vec<Part<'_>> {
    let mut parts: Vec<Part> = Vec::new();
    let mut places: HashMap<(&Path, String), usize> = HashMap::new();
    for run in &job.runs {
        // Every setting shows in these words, to the last digit.
        let key = (run.path.as_path(), format!("{:?}", job.context_of(run)));
        let place = *places.entry(key).or_insert(parts.len());
        if place == parts.len() {
            parts.push(Vec::new());
        }
        parts[place].push(run);
    }
    parts
}

/// What to say where a recording's starts are not as many as its rows share out.
pub(super) fn miscount(part: &Part, found: usize) -> Option<String> {
    let asked = part
        .iter()
        .map(|run| run.skip.saturating_add(run.starts.unwrap_or(0)))
        .max()? as usize;
    let all_counted = part.iter().all(|run| run.starts.is_some());
    (found < asked || all_counted && found > asked).then(|| {
        format!(
            "The sheet gives its rows {asked} starts of {}, and {found} were found: a row may hold starts of its neighbour. Look at the times in the starts table, then correct 'starts'.",
            part[0].file
        )
    })
}

/// The starts of one run.
pub(super) struct OfRun {
    pub(super) rows: Vec<StartRow>,
    pub(super) details: Vec<Detail>,
}

/// What was measured of one part.
pub(super) struct Measured {
    /// One entry a run of the part.
    pub(super) runs: Vec<OfRun>,
    pub(super) findings: Vec<Finding>,
    pub(super) length_s: f64,
    /// Starts in the part.
    pub(super) found: usize,
}

/// Finds and measures the starts of one part, and shares them out to its rows.
///
/// # Errors
/// A recording that cannot be read.
pub(super) fn measure_part(
    job: &Job,
    part: &Part,
    previews: bool,
    cache: Option<&Cache>,
) -> Result<Measured> {
    let run = part[0];
    let context = Context {
        previews,
        ..job.context_of(run)
    };
    let measure = || {
        let recording = Recording::open(&run.path, &job.logger)?;
        let mut starts = start::find(&recording, &job.measuring, &context)?;
        let mut findings = recording.survey().findings.clone();
        let skew = start::skew(&recording, &job.measuring, &starts)?;
        if let Some(found) = skew.and_then(|skew| skew.finding()) {
            starts.iter_mut().for_each(|start| start.flag(found.flag));
            findings.push(found);
        }
        Ok(Found {
            starts,
            findings,
            length_s: recording.time_s(recording.frames()),
        })
    };
    let found = match cache {
        Some(cache) if !previews => {
            // Every setting shows in these words, to the last digit.
            let rules = format!("{:?}\n{:?}\n{context:?}", job.logger, job.measuring);
            cache.found(&run.path, &rules, measure)?
        }
        _ => measure()?,
    };
    let count = found.starts.len();
    let mut starts: Vec<Option<Start>> = found.starts.into_iter().map(Some).collect();
    let runs = part.iter().map(|run| {
        let takes = run.takes();
        let own = starts.iter_mut().take(takes.end).skip(takes.start);
        let own: Vec<Start> = own.filter_map(Option::take).collect();
        of_run(job, run, own)
    });
    Ok(Measured {
        runs: runs.collect(),
        findings: found.findings,
        length_s: found.length_s,
        found: count,
    })
}

fn of_run(job: &Job, run: &Run, starts: Vec<Start>) -> OfRun {
    let (rows, details) = starts
        .into_iter()
        .zip(1..)
        .map(|(start, number)| {
            let (row, score) = job.row(run, number, &start);
            let preview = start.preview;
            (row, Detail { score, preview })
        })
        .unzip();
    OfRun { rows, details }
}
