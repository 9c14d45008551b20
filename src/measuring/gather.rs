//! The starts a question is asked about: measured from a job's or a folder's recordings, or read from starts tables.

use std::cmp::Reverse;
use std::collections::HashMap;
use std::ops::Range;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};

use rayon::prelude::*;

use crate::bytes::Identity;
use crate::digits::given;
use crate::error::{Error, ErrorKind, Place, Result};
use crate::fit::FitFinding;
use crate::job::{JOB_FILE, Job, Run, SHEET_FILE, UNNAMED_PREP};
use crate::measuring::cache::Cache;
use crate::measuring::content;
use crate::measuring::dates;
use crate::measuring::folder::{self, Loose};
pub use crate::measuring::part::Detail;
use crate::measuring::part::{
    Measured, OfRecording, OfRun, Part, Source, measure, miscount, recordings,
};
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
    /// What was measured before; not asked where pictures are, for it has none.
    pub cache: Option<&'a Cache>,
    /// Date every start: by the sheet, else by its recording, else by the time of the file.
    pub dates: bool,
    /// Look for recordings in the folders of a folder too.
    pub deep: bool,
    /// Leave out recordings that are still being written; they are listed.
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
    /// What the file was when it was measured.
    pub identity: Option<Identity>,
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
    let Named {
        mut sheets,
        mut loose,
    } = Named::read(inputs, options)?;
    let mut jobs: Vec<&mut Job> = sheets.iter_mut().filter_map(Sheet::job).collect();
    for job in &mut jobs {
        let unused = job.take_patterns().into_iter();
        all.empty
            .extend(unused.map(|pattern| format!("No recording fits {pattern} of the sheet.")));
    }
    if options.sort_out {
        (loose, all.still_written) = folder::at_rest(loose);
        for job in &mut jobs {
            all.still_written
                .extend(folder::take_at_work(&mut job.runs));
        }
    }
    let counted = content::unify(&mut jobs, loose)?;
    all.copies = counted.copies;
    let mut tables = Vec::new();
    for sheet in sheets {
        match sheet {
            Sheet::Job(job) => all.add_job(*job, options),
            Sheet::Table(rows) => {
                let from = all.rows.len();
                tables.push(from..from + rows.len());
                all.add_table(rows);
            }
        }
    }
    if !counted.loose.is_empty() {
        all.add_loose(&counted.loose, inputs, options)?;
    }
    refuse_twice(&all.rows, &tables)?;
    if options.sort_out {
        // Somebody wrote to these after all: the next time will tell.
        let written = |(_, error): &mut (String, Error)| error.kind() == ErrorKind::FileChanged;
        let changed = all.not_read.extract_if(.., written);
        all.still_written.extend(changed.map(|(name, _)| name));
    }
    Ok(all)
}

/// What the inputs name, read but not measured.
#[derive(Default)]
struct Named {
    /// Jobs and tables in the order named.
    sheets: Vec<Sheet>,
    /// Recordings without a run sheet.
    loose: Vec<Loose>,
}

/// A job or the rows of a starts table.
enum Sheet {
    Job(Box<Job>),
    Table(Vec<StartRow>),
}

impl Sheet {
    fn job(&mut self) -> Option<&mut Job> {
        match self {
            Sheet::Job(job) => Some(job),
            Sheet::Table(_) => None,
        }
    }
}

impl Named {
    fn read(inputs: &[PathBuf], options: &GatherOptions<'_>) -> Result<Named> {
        let mut named = Named::default();
        let several = inputs.iter().filter(|i| i.is_dir() && !is_job(i)).count() > 1;
        for input in inputs {
            if is_job(input) {
                let job = of_prep(Job::read(input)?, options.prep)?;
                named.sheets.push(Sheet::Job(Box::new(job)));
                continue;
            }
            if input.is_dir() {
                let found = folder::recordings_in(input, options.deep, several)?;
                named.loose.extend(found);
                continue;
            }
            crate::bytes::regular(input)?;
            if table::is_table(input)? {
                let mut rows = table::read(input)?;
                rows.retain(|row| options.prep.is_none_or(|prep| row.prep == prep));
                named.sheets.push(Sheet::Table(rows));
            } else {
                named.loose.push(folder::named(input));
            }
        }
        Ok(named)
    }
}

/// A start of a table that comes in twice, from a job and its table for example, would be counted twice and look like evidence.
/// Recordings were told apart by their content before.
fn refuse_twice(rows: &[StartRow], tables: &[Range<usize>]) -> Result<()> {
    let mut seen = HashMap::new();
    for (k, row) in rows.iter().enumerate() {
        let in_table = tables.iter().any(|table| table.contains(&k));
        let first = row
            .instants
            .t_first_s
            .or(row.instants.t_open_s)
            .map(f64::to_bits);
        let lit = row.instants.t_lit_s.map(f64::to_bits);
        let key = (&row.recording, row.run, row.start, first, lit);
        if seen
            .insert(key, in_table)
            .is_some_and(|before| before || in_table)
        {
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
    let sheet = match (&rules, options.prep) {
        (Some(rules), None) => with_patterns(rules, &job)?,
        _ => None,
    };
    for (run, file) in job.runs.iter_mut().zip(files) {
        let row = sheet
            .as_ref()
            .and_then(|sheet| sheet.row_for(&file.path, &file.name));
        if let Some(row) = row {
            *run = Run {
                number: run.number,
                path: run.path.clone(),
                by_pattern: true,
                ..row.clone()
            };
        }
        run.file.clone_from(&file.name);
    }
    Ok(job)
}

/// The job of a job file with its run sheet, where that has patterns that recordings elsewhere may fit.
fn with_patterns(rules: &Path, job: &Job) -> Result<Option<Job>> {
    let sheet = std::fs::read(job.folder.join(SHEET_FILE)).unwrap_or_default();
    match sheet.contains(&b'*') {
        true => Job::read(rules).map(Some),
        false => Ok(None),
    }
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

    fn add_table(&mut self, rows: Vec<StartRow>) {
        let from = self.rows.len();
        self.rows.extend(rows);
        self.details.resize(self.rows.len(), Detail::default());
        self.sheets.push(from..self.rows.len());
    }

    /// Measures recordings without a run sheet.
    fn add_loose(
        &mut self,
        files: &[Loose],
        inputs: &[PathBuf],
        options: &GatherOptions<'_>,
    ) -> Result<()> {
        self.add_job(loose_job(files, inputs, options)?, options);
        Ok(())
    }

    fn add_job(&mut self, mut job: Job, options: &GatherOptions<'_>) {
        if options.dates {
            job.runs.iter_mut().for_each(dates::date);
        }
        let (first, earlier) = (self.rows.len(), self.sources.len());
        let recordings = recordings(&job);
        let mut by_run: Vec<(&Run, OfRun)> = Vec::new();
        for (of, measured) in recordings
            .iter()
            .zip(measure_all(&job, &recordings, options))
        {
            let parts = match measured {
                Ok(parts) => parts,
                Err(error) => {
                    self.not_read.push((of.file.to_owned(), error));
                    continue;
                }
            };
            for (part, found) in of.parts().zip(parts) {
                self.add_source(earlier, part, found.source);
                self.miscounted.extend(miscount(part, found.found));
                by_run.extend(part.iter().copied().zip(found.runs));
                self.tell_empty(part, &by_run, found.length_s);
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
                    "No start in {file}: from_s = {} s lies past its end at {length:.2} s.",
                    given(from)
                ),
                _ => format!("No start was found in the part of {file} that the sheet names."),
            });
        }
    }

    /// Notes the recording of a part; `earlier` are the sources of the jobs before.
    fn add_source(&mut self, earlier: usize, part: &Part, found: Source) {
        let is_it = |source: &ReadRecording| source.path == part[0].path;
        let known = match self.sources[earlier..].last() {
            // The parts of a recording come one after the other.
            Some(last) if is_it(last) => Some(self.sources.len() - 1),
            _ => self.sources[..earlier].iter().position(is_it),
        };
        let at = known.unwrap_or_else(|| {
            self.sources.push(ReadRecording {
                recording: part[0].file.clone(),
                path: part[0].path.clone(),
                identity: found.identity,
                findings: found.findings,
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

/// Measures the recordings of a job side by side.
fn measure_all(
    job: &Job,
    recordings: &[OfRecording],
    options: &GatherOptions<'_>,
) -> Vec<Result<Vec<Measured>>> {
    let done = AtomicUsize::new(0);
    // The largest first, each taken when a core is free, so that no core waits long for the last one.
    let mut order: Vec<(usize, &OfRecording)> = recordings.iter().enumerate().collect();
    order.sort_by_cached_key(|(_, of)| Reverse(of.path.metadata().map_or(0, |about| about.len())));
    let mut measured: Vec<(usize, Result<_>)> = order
        .into_iter()
        .par_bridge()
        .map(|(k, of)| {
            let measured = measure(job, of, options.previews, options.cache);
            if let Some(tell) = options.progress {
                tell(1 + done.fetch_add(1, Ordering::Relaxed), recordings.len());
            }
            (k, measured)
        })
        .collect();
    measured.sort_by_key(|(k, _)| *k);
    measured.into_iter().map(|(_, measured)| measured).collect()
}
