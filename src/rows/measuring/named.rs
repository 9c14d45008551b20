//! What a call names: jobs, starts tables, folders of recordings, and recordings by themselves with the rules that serve them.

use std::path::{Path, PathBuf};

use crate::error::{Error, ErrorKind, Place, Result};
use crate::job::{JOB_FILE, Job, Run, SHEET_FILE, UNNAMED_PREP};
use crate::measuring::folder::{self, Loose};
use crate::measuring::table;
use crate::measuring::table::Wanted;
use crate::score::StartRow;

/// What the inputs name, read but not measured.
#[derive(Default)]
pub(super) struct Named {
    /// Jobs and tables in the order named.
    pub(super) sheets: Vec<Sheet>,
    /// Recordings without a run sheet.
    pub(super) loose: Vec<Loose>,
}

/// A job or the rows of a starts table.
pub(super) enum Sheet {
    Job(Box<Job>),
    Table(Vec<StartRow>),
}

impl Sheet {
    pub(super) fn job(&mut self) -> Option<&mut Job> {
        match self {
            Sheet::Job(job) => Some(job),
            Sheet::Table(_) => None,
        }
    }
}

impl Named {
    /// Reads what is named: of jobs and tables the starts of one prep, where one is asked for; `deep` looks into the folders
    /// of a folder too, `wanted` are the measures taken of tables.
    ///
    /// # Errors
    /// A job, a sheet or a table that cannot be used.
    pub(super) fn read(
        inputs: &[PathBuf],
        prep: Option<&str>,
        deep: bool,
        wanted: Wanted,
    ) -> Result<Named> {
        let mut named = Named::default();
        let several = inputs.iter().filter(|i| i.is_dir() && !is_job(i)).count() > 1;
        for input in inputs {
            if is_job(input) {
                let mut job = of_prep(Job::read(input)?, prep)?;
                job.runs.retain(|run| !run.is_to_come());
                named.sheets.push(Sheet::Job(Box::new(job)));
                continue;
            }
            if input.is_dir() && !table::is_partitioned(input) {
                let found = folder::recordings_in(input, deep, several)?;
                named.loose.extend(found);
                continue;
            }
            if !input.is_dir() {
                crate::bytes::regular(input)?;
            }
            if input.is_dir() || table::is_table(input)? {
                let mut rows = table::read_wanted(input, wanted)?;
                rows.retain(|row| prep.is_none_or(|prep| *row.prep == *prep));
                named.sheets.push(Sheet::Table(rows));
            } else {
                named.loose.push(folder::named(input));
            }
        }
        Ok(named)
    }
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
pub(super) fn loose_job(
    files: &[Loose],
    inputs: &[PathBuf],
    rules: Option<&Path>,
    prep: Option<&str>,
) -> Result<Job> {
    let beside = inputs
        .iter()
        .map(|i| i.join(JOB_FILE))
        .find(|p| p.is_file());
    let rules = rules.map(Path::to_path_buf).or(beside);
    let paths: Vec<PathBuf> = files.iter().map(|file| file.path.clone()).collect();
    let mut job = job_by_rules(rules.as_deref(), prep, &paths)?;
    let sheet = match (&rules, prep) {
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
