//! The starts a question is asked about: measured from a job's or a folder's recordings, or read from starts tables.

use std::cmp::Reverse;
use std::collections::{BTreeSet, HashMap};
use std::ops::Range;
use std::path::PathBuf;
use std::sync::atomic::{AtomicUsize, Ordering};

use crate::digits::given;
use crate::error::{Error, ErrorKind, Result};
use crate::fit::FitFinding;
use crate::job::Job;
use crate::measuring::content;
use crate::measuring::dates;
use crate::measuring::folder;
pub use crate::measuring::named::job_by_rules;
use crate::measuring::named::{Named, Sheet, loose_job};
pub use crate::measuring::options::GatherOptions;
use crate::measuring::part::{
    Measured, OfRecording, OfRun, Part, Source, measure, miscount, recordings,
};
pub use crate::measuring::set::{Detail, JobRows, Miscount, ReadRecording, StartSet};
use crate::measuring::tip_age::InOrder;
use crate::measuring::twice::repeats;
use crate::parallel;
use crate::score::{StartRow, after, headings, job_headings};

/// Where the recording of each path stands among the sources.
type Places = HashMap<PathBuf, usize>;

/// Gathers the starts of jobs, starts tables, folders of recordings, or recordings.
///
/// # Errors
/// A job, a sheet or a table that cannot be used. A recording that cannot be read is no error here: it is listed.
pub fn gather(inputs: &[PathBuf], options: &GatherOptions<'_>) -> Result<StartSet> {
    gather_for(inputs, options, None)
}

/// Takes rows in the order of the table as soon as they are final, with the columns that the sheets of all rows may have. What was
/// taken is not held.
pub type TakeRows<'a> = dyn FnMut(&BTreeSet<String>, &[StartRow]) -> Result<()> + 'a;

/// [`gather`] for somebody who takes the rows while it goes on: the set has none then.
///
/// # Errors
/// As [`gather`], and what taking gives.
pub fn gather_for(
    inputs: &[PathBuf],
    options: &GatherOptions<'_>,
    taker: Option<&mut TakeRows>,
) -> Result<StartSet> {
    let mut all = StartSet::default();
    let Named {
        mut sheets,
        mut loose,
    } = Named::read(inputs, options.prep, options.deep, options.wanted)?;
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
    if !counted.loose.is_empty() {
        let job = loose_job(&counted.loose, inputs, options.job, options.prep)?;
        sheets.push(Sheet::Job(Box::new(job)));
    }
    let mut taking = taker.map(|taker| Taking::of(&sheets, taker));
    let mut places = Places::new();
    let mut tables = Vec::new();
    for sheet in sheets {
        match sheet {
            Sheet::Job(job) => all.add_job(*job, &mut places, options, &mut taking)?,
            Sheet::Table(rows) => {
                let from = all.rows.len();
                tables.push(from..from + rows.len());
                all.add_table(rows);
            }
        }
    }
    refuse_twice(&all.rows, &tables)?;
    if let Some(taking) = &mut taking {
        taking.waits = false;
        taking.take(&mut all.rows)?;
    }
    if options.sort_out {
        // Somebody wrote to these after all: the next time will tell.
        let written = |(_, error): &mut (String, Error)| error.kind() == ErrorKind::FileChanged;
        let changed = all.not_read.extract_if(.., written);
        all.still_written.extend(changed.map(|(name, _)| name));
    }
    Ok(all)
}

/// A start of a table that comes in twice, from a job and its table for example, would be counted twice and look like evidence.
/// Recordings were told apart by their content before.
fn refuse_twice(rows: &[StartRow], tables: &[Range<usize>]) -> Result<()> {
    if tables.is_empty() {
        return Ok(());
    }
    let bits = |t: Option<f64>| t.map(f64::to_bits);
    let key = |row: &StartRow| {
        (
            row.run,
            row.start,
            bits(row.began_s()),
            bits(row.instants.t_lit_s),
        )
    };
    let in_table = |k: usize| tables.iter().any(|table| table.contains(&k));
    let mut twice = repeats(rows, key).into_iter();
    let Some((first, _)) = twice.find(|(first, again)| in_table(*first) || in_table(*again)) else {
        return Ok(());
    };
    let row = &rows[first];
    let at = format!("{}, run {}, start {}", row.recording, row.run, row.start);
    Err(Error::new(
        ErrorKind::CountedTwice,
        at,
        "comes in twice, so it would be counted twice",
    )
    .hint("Name each job, table or recording once; not a table beside the job it was made from."))
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
        match from {
            // A large table is not held twice.
            0 => self.rows = rows,
            _ => self.rows.extend(rows),
        }
        self.sheets.push(from..self.rows.len());
    }

    fn add_job(
        &mut self,
        mut job: Job,
        places: &mut Places,
        options: &GatherOptions<'_>,
        taking: &mut Option<Taking>,
    ) -> Result<()> {
        if options.dates {
            job.runs.iter_mut().for_each(dates::date);
        }
        let first = self.rows.len();
        if !options.bare {
            self.details.resize(first, Detail::default());
        }
        let recordings = recordings(&job);
        let mut in_order = InOrder::of(&job.runs);
        let done = AtomicUsize::new(0);
        let tell = || {
            let done = 1 + done.fetch_add(1, Ordering::Relaxed);
            options
                .progress
                .into_iter()
                .for_each(|tell| tell(done, recordings.len()));
        };
        for some in recordings.chunks(AT_ONCE) {
            for (of, measured) in some.iter().zip(measure_all(&job, some, options, &tell)) {
                self.add_recording(of, measured, &mut in_order, places);
            }
            for of_run in in_order.final_runs() {
                self.rows.extend(of_run.rows);
                self.details.extend(of_run.details);
            }
            if let Some(taking) = taking {
                taking.take(&mut self.rows)?;
                self.details.truncate(self.rows.len());
            }
        }
        // Rows that somebody took are none of these.
        let rows = first.min(self.rows.len())..self.rows.len();
        self.sheets.push(rows.clone());
        self.jobs.push(JobRows { job, rows });
        Ok(())
    }

    fn add_recording(
        &mut self,
        of: &OfRecording,
        measured: Result<Vec<Measured>>,
        in_order: &mut InOrder,
        places: &mut Places,
    ) {
        let parts = match measured {
            Ok(parts) => parts,
            Err(error) => {
                self.not_read.push((of.file.to_owned(), error));
                let runs = of.parts().flatten();
                return runs.for_each(|run| in_order.put(run, None));
            }
        };
        for (part, found) in of.parts().zip(parts) {
            self.add_source(part, found.source, places);
            self.miscounted.extend(miscount(part, found.found));
            self.tell_empty(part, &found.runs, found.length_s);
            for (run, of_run) in part.iter().zip(found.runs) {
                in_order.put(run, Some(of_run));
            }
        }
    }

    fn tell_empty(&mut self, part: &Part, found: &[OfRun], length: f64) {
        let own = part.iter().zip(found);
        for (run, _) in own.filter(|(run, found)| found.rows.is_empty() && run.skip == 0) {
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

    /// Notes the recording of a part.
    fn add_source(&mut self, part: &Part, found: Source, places: &mut Places) {
        let next = self.sources.len();
        let at = *places.entry(part[0].path.clone()).or_insert(next);
        if at == next {
            self.sources.push(ReadRecording {
                recording: part[0].file.clone(),
                path: part[0].path.clone(),
                identity: found.identity,
                findings: found.findings,
            });
        }
        // What a row of the sheet asks for is no fault, be it of a part of the recording only.
        let findings = &mut self.sources[at].findings;
        for run in part {
            let helium = run.names_helium();
            findings.retain(|finding| finding.speaks_against(run.process, helium));
        }
    }
}

/// This many recordings are measured side by side, then their rows are final: what is held does not grow with their number.
const AT_ONCE: usize = 64;

/// Rows on their way to somebody who takes them.
struct Taking<'a, 'b> {
    taker: &'a mut TakeRows<'b>,
    headings: BTreeSet<String>,
    /// Whether all rows wait for the last: beside a starts table none may come in twice.
    waits: bool,
}

impl<'a, 'b> Taking<'a, 'b> {
    fn of(sheets: &[Sheet], taker: &'a mut TakeRows<'b>) -> Taking<'a, 'b> {
        let headings = sheets.iter().flat_map(|sheet| match sheet {
            Sheet::Job(job) => job_headings(job),
            Sheet::Table(rows) => headings(rows).collect(),
        });
        Taking {
            headings: headings.collect(),
            waits: sheets.iter().any(|sheet| matches!(sheet, Sheet::Table(_))),
            taker,
        }
    }

    fn take(&mut self, rows: &mut Vec<StartRow>) -> Result<()> {
        if self.waits {
            return Ok(());
        }
        (self.taker)(&self.headings, rows)?;
        rows.clear();
        Ok(())
    }
}

/// Measures recordings of a job side by side; `tell` is called after each.
fn measure_all(
    job: &Job,
    recordings: &[OfRecording],
    options: &GatherOptions<'_>,
    tell: &(impl Fn() + Sync),
) -> Vec<Result<Vec<Measured>>> {
    // The largest first, each taken when a core is free, so that no core waits long for the last one.
    let mut order: Vec<(usize, &OfRecording)> = recordings.iter().enumerate().collect();
    order.sort_by_cached_key(|(_, of)| Reverse(of.path.metadata().map_or(0, |about| about.len())));
    let mut measured = parallel::each(&order, |(k, of)| {
        let measured = measure(job, of, options);
        tell();
        (*k, measured)
    });
    measured.sort_by_key(|(k, _)| *k);
    measured.into_iter().map(|(_, measured)| measured).collect()
}
