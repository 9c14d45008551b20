//! The starts a question is asked about: measured from a job's or a folder's recordings, or read from starts tables.

use std::path::{Path, PathBuf};

use rayon::prelude::*;

use super::table;
use crate::error::{Error, Result};
use crate::flag::Finding;
use crate::prep::{JOB_FILE, Job, Run, SHEET_FILE, Score, StartRow};
use crate::recording::Recording;
use crate::start::{self, Context, Picture};

/// How to gather.
#[derive(Default)]
pub struct Asking<'a> {
    /// Keep the traces for figures.
    pub pictures: bool,
    /// Job file whose logger, measuring and preps serve recordings named by themselves.
    pub job: Option<&'a Path>,
    /// Prep of recordings named by themselves.
    pub prep: Option<&'a str>,
    /// Told after each recording: how many are done, of how many.
    pub progress: Option<&'a (dyn Fn(usize, usize) + Sync)>,
}

/// What goes with a row but not into the table.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Detail {
    /// How the score came about.
    pub score: Option<Score>,
    /// The traces.
    pub picture: Option<Picture>,
}

/// A recording as it was found.
#[derive(Debug)]
pub struct Source {
    /// The name in the rows.
    pub recording: String,
    /// Where it lies.
    pub path: PathBuf,
    /// Its health.
    pub findings: Vec<Finding>,
}

/// Rows and all that goes with them.
#[derive(Debug, Default)]
pub struct Gathered {
    /// One row a start, in the order of runs and time.
    pub rows: Vec<StartRow>,
    /// One entry a row; empty entries for rows that come from a table.
    pub details: Vec<Detail>,
    /// The recordings that were read, each once.
    pub sources: Vec<Source>,
    /// The recordings that could not be read, and why.
    pub not_read: Vec<(String, Error)>,
    /// The job, where there is one.
    pub job: Option<Job>,
}

/// Endings of the recordings that are looked for in a folder.
const RECORDING_ENDINGS: [&str; 4] = [".wav", ".csv", ".csv.gz", ".txt"];

/// Gathers the starts of jobs, starts tables, folders of recordings, or recordings.
///
/// # Errors
/// A job, a sheet or a table that cannot be used. A recording that cannot be read is no error here: it is listed.
pub fn gather(inputs: &[PathBuf], asking: &Asking<'_>) -> Result<Gathered> {
    let mut all = Gathered::default();
    let mut loose: Vec<PathBuf> = Vec::new();
    for input in inputs {
        if is_job(input) {
            all.add_job(Job::read(input)?, asking);
        } else if input.is_dir() {
            loose.extend(recordings_in(input)?);
        } else if input.exists() && !input.is_file() {
            let problem = "is a pipe or a device; a file is needed";
            return Err(Error::input(input.display().to_string(), problem));
        } else if !input.exists() {
            let missing = std::io::Error::from(std::io::ErrorKind::NotFound);
            return Err(Error::io(input, "read", missing));
        } else if table::is_table(input)? {
            let rows = table::read(input)?;
            all.details
                .resize(all.details.len() + rows.len(), Detail::default());
            all.rows.extend(rows);
        } else {
            loose.push(input.clone());
        }
    }
    if !loose.is_empty() {
        all.add_job(loose_job(&loose, inputs, asking)?, asking);
    }
    refuse_twice(&all.rows)?;
    Ok(all)
}

/// A start that comes in twice, from a job and its table for example, would be counted twice and look like evidence.
fn refuse_twice(rows: &[StartRow]) -> Result<()> {
    let mut seen = std::collections::HashSet::new();
    for row in rows {
        let first = row
            .instants
            .t_first_s
            .or(row.instants.t_open_s)
            .map(f64::to_bits);
        let lit = row.instants.t_lit_s.map(f64::to_bits);
        if !seen.insert((&row.recording, row.run, row.start, first, lit)) {
            let at = format!("{}, run {}, start {}", row.recording, row.run, row.start);
            return Err(Error::input(at, "comes in twice, so it would be counted twice")
                .hint("Name each job, table or recording once; not a table beside the job it was made from."));
        }
    }
    Ok(())
}

fn is_job(path: &Path) -> bool {
    let named = |file: &str| path.join(file).is_file();
    if path.is_dir() {
        return named(JOB_FILE) && named(SHEET_FILE);
    }
    path.extension()
        .is_some_and(|e| e.eq_ignore_ascii_case("toml"))
}

fn recordings_in(folder: &Path) -> Result<Vec<PathBuf>> {
    let entries = std::fs::read_dir(folder).map_err(|e| Error::io(folder, "read", e))?;
    let mut found: Vec<PathBuf> = entries
        .filter_map(|e| Some(e.ok()?.path()))
        .filter(|p| is_recording(p))
        .collect();
    found.sort();
    if found.is_empty() {
        return Err(
            Error::input(folder.display().to_string(), "no recordings in this folder").hint(
                format!("Recordings end in {}", RECORDING_ENDINGS.join(", ")),
            ),
        );
    }
    Ok(found)
}

fn is_recording(path: &Path) -> bool {
    let name = path
        .file_name()
        .unwrap_or_default()
        .to_string_lossy()
        .to_lowercase();
    path.is_file() && !name.starts_with('.') && RECORDING_ENDINGS.iter().any(|e| name.ends_with(e))
}

/// A job of recordings named by themselves: its rules from the job file that was named or lies in the folder.
fn loose_job(files: &[PathBuf], inputs: &[PathBuf], asking: &Asking<'_>) -> Result<Job> {
    let beside = inputs
        .iter()
        .map(|i| i.join(JOB_FILE))
        .find(|p| p.is_file());
    let mut job = match asking.job.map(Path::to_path_buf).or(beside) {
        Some(path) => Job::read_rules(&path)?,
        None => Job::bare(Default::default(), Default::default()),
    };
    let prep = match asking.prep {
        Some(name) if job.preps.contains_key(name) => name.to_owned(),
        Some(name) => {
            let known = job.preps.keys().cloned().collect::<Vec<_>>().join(", ");
            return Err(Error::input(
                "--prep",
                format!("no prep \"{name}\" in the job file; it has {known}"),
            ));
        }
        None => "-".to_owned(),
    };
    job.runs = files
        .iter()
        .zip(1..)
        .map(|(path, number)| Run {
            prep: prep.clone(),
            ..Run::bare(number, path)
        })
        .collect();
    Ok(job)
}

impl Gathered {
    fn add_job(&mut self, job: Job, asking: &Asking<'_>) {
        let done = std::sync::atomic::AtomicUsize::new(0);
        let measured: Vec<Result<Measured>> = job
            .runs
            .par_iter()
            .map(|run| {
                let measured = measure_run(&job, run, asking.pictures);
                if let Some(tell) = asking.progress {
                    tell(
                        1 + done.fetch_add(1, std::sync::atomic::Ordering::Relaxed),
                        job.runs.len(),
                    );
                }
                measured
            })
            .collect();
        for (run, measured) in job.runs.iter().zip(measured) {
            match measured {
                Ok(found) => self.add_run(run, found),
                Err(error) => self.not_read.push((run.file.clone(), error)),
            }
        }
        self.job = Some(job);
    }

    fn add_run(&mut self, run: &Run, found: Measured) {
        self.rows.extend(found.rows);
        self.details.extend(found.details);
        if !self.sources.iter().any(|s| s.path == run.path) {
            self.sources.push(Source {
                recording: run.file.clone(),
                path: run.path.clone(),
                findings: found.findings,
            });
        }
    }
}

struct Measured {
    rows: Vec<StartRow>,
    details: Vec<Detail>,
    findings: Vec<Finding>,
}

fn measure_run(job: &Job, run: &Run, pictures: bool) -> Result<Measured> {
    let recording = Recording::open(&run.path, &job.logger)?;
    let context = Context {
        mains_hz: job.logger.mains_hz.unwrap_or(Context::default().mains_hz),
        upslope_s: run.upslope_s,
        span_s: run.span_s(),
        pictures,
    };
    let starts = start::find(&recording, &job.measuring, &context)?;
    let mut findings = recording.survey().findings.clone();
    let skew = start::skew(&recording, &job.measuring, &starts)?;
    findings.extend(skew.and_then(|skew| skew.finding()));
    let (rows, details) = starts
        .into_iter()
        .zip(1..)
        .map(|(start, number)| {
            let (row, score) = job.row(run, number, &start);
            (
                row,
                Detail {
                    score,
                    picture: start.picture,
                },
            )
        })
        .unzip();
    Ok(Measured {
        rows,
        details,
        findings,
    })
}
