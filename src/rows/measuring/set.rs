//! Rows of starts and all that goes with them, as every question takes them.

use std::collections::BTreeSet;
use std::fmt;
use std::ops::Range;
use std::path::PathBuf;

use serde::{Serialize, Serializer};

use crate::bytes::Identity;
use crate::error::Error;
use crate::job::Job;
use crate::recording::Finding;
use crate::score::{Score, StartRow, headings, job_headings};
use crate::start::Preview;

/// What goes with a row but not into the table.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Detail {
    /// How the score came about.
    pub score: Option<Score>,
    /// The traces.
    pub preview: Option<Box<Preview>>,
}

/// A recording that holds more or fewer starts than its rows of the sheet share out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Miscount {
    /// Its name in the sheet.
    pub file: String,
    /// Starts that the rows share out.
    pub asked: usize,
    /// Starts that were found.
    pub found: usize,
}

impl fmt::Display for Miscount {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Miscount { file, asked, found } = self;
        write!(
            f,
            "The sheet gives its rows {asked} starts of {file}, and {found} were found: a row may hold starts of its neighbour. Look at the times in the starts table, then correct 'starts'."
        )
    }
}

impl Serialize for Miscount {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(self)
    }
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
    /// One entry a row, as far as the last that was measured; empty for rows that come from a table.
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
    /// Recordings that hold more or fewer starts than their rows of the sheet share out.
    pub miscounted: Vec<Miscount>,
}

impl StartSet {
    /// The columns of the sheets, those of runs without a start too.
    pub fn headings(&self) -> BTreeSet<String> {
        let runs = self.jobs.iter().flat_map(|one| job_headings(&one.job));
        runs.chain(headings(&self.rows)).collect()
    }

    /// How the score of a row came about; `None` for one of a table.
    pub fn score_of(&self, row: usize) -> Option<&Score> {
        self.details.get(row)?.score.as_ref()
    }

    /// The rows that were scored here, each with all that went into its score.
    pub fn scored(&self) -> impl Iterator<Item = (&StartRow, &Score)> {
        let both = self.rows.iter().zip(&self.details);
        both.filter_map(|(row, detail)| Some((row, detail.score.as_ref()?)))
    }

    /// The traces of a row, where they were kept.
    pub fn preview_of(&self, row: usize) -> Option<&Preview> {
        self.details.get(row)?.preview.as_deref()
    }
}

/// A job and where its rows stand among all.
#[derive(Debug)]
pub struct JobRows {
    /// The job.
    pub job: Job,
    /// Its rows.
    pub rows: Range<usize>,
}
