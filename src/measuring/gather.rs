//! The starts a question is asked about: measured from a job's or a folder's recordings, or read from starts tables.

use std::cmp::Reverse;
use std::collections::HashSet;
use std::ops::Range;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};

use rayon::prelude::*;

use crate::error::{Error, ErrorKind, Place, Result};
use crate::fit::FitFinding;
use crate::job::{JOB_FILE, Job, Run, SHEET_FILE, UNNAMED_PREP};
use crate::measuring::cache::{Cache, Identity};
use crate::measuring::folder::{self, Loose};
pub use crate::measuring::part::Detail;
use crate::measuring::part::{OfRun, Part, measure_part, miscount, parts};
use crate::measuring::table;
use crate::measuring::tip_age;
use crate::recording::Finding;
use crate::score::{StartRow, after};

/// How to gather.
#[derive(Default)]
pub struct GatherOptions<'a> {
    /// Keep the traces for figures.
    pub previews: bool,
    /// Job file whose logger, measuring and preps serve recordings named by themselves.
    pub job: Option<&'a Path>,
    /// Prep of recordings named by themselves; of jobs and tables only its starts are taken.
    pub prep: Option<&'a str>,
    /// What was measured before; not asked where pictures are.
    pub cache: Option<&'a Cache>,
    /// Look for recordings in the folders of a folder too.
    pub deep: bool,
    /// Leave out recordings that are still being written and copies of others; both are listed.
    pub sort_out: bool,
    /// Told after each recording: how many are done, of how many.
    pub progress: Option<&'a (dyn Fn(usize, usize) + Sync)>,
}

/// A recording as it was found.
#[derive(Debug)]
pub struct ReadRecording {
    /// The name in the rows.
    pub recording: String,
    /// Where it lies.
    pub path: PathBuf,
    /// Its health.
    pub findings: Vec<Finding>,
}

/// Rows and all that goes with them.
#[derive(Debug, Default)]
pub struct StartSet {
    /// One row a start, in the order of runs and time.
    pub rows: Vec<StartRow>,
    /// One entry a row; empty entries for rows that come from a table.
    pub details: Vec<Detail>,
    /// The recordings that were read, each once.
    pub sources: Vec<ReadRecording>,
    /// The recordings that could not be read, and why.
    pub not_read: Vec<(String, Error)>,
    /// Recordings left out because they are still being written.
    pub still_written: Vec<String>,
    /// Recordings left out because they hold the same as another, and that one.
    pub copies: Vec<(String, String)>,
    /// Where the rows of each job and each table stand among all.
    pub sheets: Vec<Range<usize>>,
    /// The jobs that rows were measured by, each with its rows.
    pub jobs: Vec<JobRows>,
    /// A sentence for each recording, or part of one, that holds no start.
    pub empty: Vec<String>,
    /// A sentence for each recording that holds more or fewer starts than its rows of the sheet share out.
    pub miscounted: Vec<String>,
}

/// A job and where its rows stand among all.
#[derive(Debug)]
pub struct JobRows {
    /// The job.
    pub job: Job,
    /// Its rows.
    pub rows: Range<usize>,
}

/// Gathers the starts of jobs, starts tables, folders of recordings, or recordings.
///
/// # Errors
/// A job, a sheet or a table that cannot be used. A recording that cannot be read is no error here: it is listed.
pub fn gather(inputs: &[PathBuf], options: &GatherOptions<'_>) -> Result<StartSet> {
    let mut all = StartSet::default();
    let mut loose: Vec<Loose> = Vec::new();
    let several = inputs.iter().filter(|i| i.is_dir() && !is_job(i)).count() > 1;
    for input in inputs {
        if is_job(input) {
            all.add_job(of_prep(Job::read(input)?, options.prep)?, options);
            continue;
        }
        if input.is_dir() {
            loose.extend(folder::recordings_in(input, options.deep, several)?);
            continue;
        }
        crate::bytes::regular(input)?;
        if table::is_table(input)? {
            let mut rows = table::read(input)?;
            rows.retain(|row| options.prep.is_none_or(|prep| row.prep == prep));
            all.details
                .resize(all.details.len() + rows.len(), Detail::default());
            all.sheets.push(all.rows.len()..all.rows.len() + rows.len());
            all.rows.extend(rows);
        } else {
            loose.push(folder::named(input));
        }
    }
    if !loose.is_empty() {
        all.add_loose(loose, inputs, options)?;
    }
    refuse_twice(&all.rows)?;
    Ok(all)
}

/// A start that comes in twice, from a job and its table for example, would be counted twice and look like evidence.
fn refuse_twice(rows: &[StartRow]) -> Result<()> {
    let mut seen = HashSet::new();
    for row in rows {
        let first = row
            .instants
            .t_first_s
            .or(row.instants.t_open_s)
            .map(f64::to_bits);
        let lit = row.instants.t_lit_s.map(f64::to_bits);
        if !seen.insert((&row.recording, row.run, row.start, first, lit)) {
            let at = format!("{}, run {}, start {}", row.recording, row.run, row.start);
            return Err(Error::new(ErrorKind::CountedTwice, at, "comes in twice, so it would be counted twice")
                .hint("Name each job, table or recording once; not a table beside the job it was made from."));
        }
    }
    Ok(())
}

/// A job with the runs of one prep, where one is asked for.
fn of_prep(mut job: Job, prep: Option<&str>) -> Result<Job> {
    if let Some(name) = prep {
        known_prep(&job, name)?;
        job.runs.retain(|run| run.prep == name);
    }
    Ok(job)
}

/// # Errors
/// A prep that the job file does not have, with those that it has.
fn known_prep(job: &Job, name: &str) -> Result<()> {
    if job.preps.contains_key(name) {
        return Ok(());
    }
    let known = job.preps.keys().cloned().collect::<Vec<_>>();
    if known.is_empty() {
        let problem = format!("no job file says what prep \"{name}\" is");
        return Err(
            Error::new(ErrorKind::UnknownPrep, Place::parameter("prep"), problem)
                .hint("Name the job file whose preps and logger serve these recordings"),
        );
    }
    let problem = format!("no prep \"{name}\" in the job file");
    Err(
        Error::new(ErrorKind::UnknownPrep, Place::parameter("prep"), problem)
            .hint(format!("It has {}", known.join(", "))),
    )
}

fn is_job(path: &Path) -> bool {
    let named = |file: &str| path.join(file).is_file();
    if path.is_dir() {
        return named(JOB_FILE) && named(SHEET_FILE);
    }
    path.extension()
        .is_some_and(|e| e.eq_ignore_ascii_case("toml"))
}

/// A job of recordings named by themselves: its rules from the job file that was named or lies in the folder.
fn loose_job(files: &[Loose], inputs: &[PathBuf], options: &GatherOptions<'_>) -> Result<Job> {
    let beside = inputs
        .iter()
        .map(|i| i.join(JOB_FILE))
        .find(|p| p.is_file());
    let rules = options.job.map(Path::to_path_buf).or(beside);
    let paths: Vec<PathBuf> = files.iter().map(|file| file.path.clone()).collect();
    let mut job = job_by_rules(rules.as_deref(), options.prep, &paths)?;
    for (run, file) in job.runs.iter_mut().zip(files) {
        run.file.clone_from(&file.name);
    }
    Ok(job)
}

/// A job of recordings named by themselves, all of one prep; its rules from a job file, where there is one.
///
/// # Errors
/// A job file that cannot be used, or a prep that is not in it.
pub fn job_by_rules(rules: Option<&Path>, prep: Option<&str>, files: &[PathBuf]) -> Result<Job> {
    let mut job = match rules {
        Some(path) => Job::read_rules(path)?,
        None => Job::bare(Default::default(), Default::default()),
    };
    if let Some(name) = prep {
        known_prep(&job, name)?;
    }
    let prep = prep.unwrap_or(UNNAMED_PREP).to_owned();
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

impl StartSet {
    /// What the measured starts say about the sheets, each job held against its own starts.
    pub fn after(&self) -> Vec<FitFinding> {
        let found = self.jobs.iter().flat_map(|JobRows { job, rows }| {
            let mut found = after(job, &self.rows[rows.clone()]);
            if self.jobs.len() > 1 {
                let named = job.info.title.clone();
                let named = named.unwrap_or_else(|| job.folder.display().to_string());
                found
                    .iter_mut()
                    .for_each(|f| f.prep += &format!(" of {named}"));
            }
            found
        });
        found.collect()
    }

    /// Measures recordings without a run sheet, each once, but those that somebody still writes to.
    fn add_loose(
        &mut self,
        mut files: Vec<Loose>,
        inputs: &[PathBuf],
        options: &GatherOptions<'_>,
    ) -> Result<()> {
        if options.sort_out {
            let (kept, left) = folder::sort_out(files);
            files = kept;
            self.still_written.extend(left.still_written);
            self.copies.extend(left.copies);
        }
        let before: Vec<_> = files.iter().map(|file| Identity::of(&file.path)).collect();
        self.add_job(loose_job(&files, inputs, options)?, options);
        if options.sort_out {
            let pairs = files.into_iter().zip(before);
            let changed = pairs.filter(|(file, before)| Identity::of(&file.path) != *before);
            self.leave_out(changed.map(|(file, _)| file.name).collect());
        }
        Ok(())
    }

    /// Takes recordings of the last job out again that changed while they were measured.
    fn leave_out(&mut self, changed: Vec<String>) {
        let Some(last) = self.jobs.last_mut() else {
            return;
        };
        let rows = self.rows.split_off(last.rows.start);
        let details = self.details.split_off(last.rows.start);
        for (row, detail) in rows.into_iter().zip(details) {
            if !changed.contains(&row.recording) {
                self.rows.push(row);
                self.details.push(detail);
            }
        }
        last.rows.end = self.rows.len();
        if let Some(sheet) = self.sheets.last_mut() {
            sheet.end = self.rows.len();
        }
        self.sources
            .retain(|source| !changed.contains(&source.recording));
        self.not_read.retain(|(name, _)| !changed.contains(name));
        self.still_written.extend(changed);
    }

    fn add_job(&mut self, job: Job, options: &GatherOptions<'_>) {
        let first = self.rows.len();
        let parts = parts(&job);
        let done = AtomicUsize::new(0);
        // The largest first, each taken when a core is free, so that no core waits long for the last one.
        let mut order: Vec<(usize, &Part)> = parts.iter().enumerate().collect();
        order.sort_by_key(|(_, part)| {
            Reverse(part[0].path.metadata().map_or(0, |about| about.len()))
        });
        let mut measured: Vec<(usize, Result<_>)> = order
            .into_iter()
            .par_bridge()
            .map(|(k, part)| {
                let measured = measure_part(&job, part, options.previews, options.cache);
                if let Some(tell) = options.progress {
                    tell(1 + done.fetch_add(1, Ordering::Relaxed), parts.len());
                }
                (k, measured)
            })
            .collect();
        measured.sort_by_key(|(k, _)| *k);
        let mut by_run: Vec<(&Run, OfRun)> = Vec::new();
        for (part, (_, measured)) in parts.iter().zip(measured) {
            match measured {
                Ok(found) => {
                    self.add_source(part, found.findings);
                    self.miscounted.extend(miscount(part, found.found));
                    by_run.extend(part.iter().copied().zip(found.runs));
                    self.tell_empty(part, &by_run, found.length_s);
                }
                Err(error) => self.not_read.push((part[0].file.clone(), error)),
            }
        }
        by_run.sort_by_key(|(run, _)| run.number);
        tip_age::go_on(&job.runs, &mut by_run);
        for (_, of_run) in by_run {
            self.rows.extend(of_run.rows);
            self.details.extend(of_run.details);
        }
        let rows = first..self.rows.len();
        self.sheets.push(rows.clone());
        self.jobs.push(JobRows { job, rows });
    }

    fn tell_empty(&mut self, part: &Part, by_run: &[(&Run, OfRun)], length: f64) {
        let own = &by_run[by_run.len() - part.len()..];
        for (run, _) in own
            .iter()
            .filter(|(run, found)| found.rows.is_empty() && run.skip == 0)
        {
            let file = &run.file;
            self.empty.push(match (run.from_s, run.to_s) {
                (None, None) => format!("No start was found in {file}."),
                (Some(from), _) if from >= length => format!(
                    "No start in {file}: from_s = {from} s lies past its end at {length:.2} s."
                ),
                _ => format!("No start was found in the part of {file} that the sheet names."),
            });
        }
    }

    fn add_source(&mut self, part: &Part, findings: Vec<Finding>) {
        let known = self.sources.iter().position(|s| s.path == part[0].path);
        let at = known.unwrap_or_else(|| {
            self.sources.push(ReadRecording {
                recording: part[0].file.clone(),
                path: part[0].path.clone(),
                findings,
            });
            self.sources.len() - 1
        });
        // What a row of the sheet asks for is no fault, be it of a part of the recording only.
        let findings = &mut self.sources[at].findings;
        for run in part {
            findings.retain(|finding| finding.speaks_against(run.process));
        }
    }
}
