//! The stage of a rehearsal: the recordings of a job, what is borrowed of them, and what the made starts are to be like.

use crate::error::{Error, ErrorKind, Result};
use crate::flag::Flag;
use crate::job::{Context, Job, Measuring, Run};
use crate::measuring::gather::StartSet;
use crate::recording::Recording;
use crate::rehearsal::borrow::Borrowed;
use crate::rehearsal::draw::Chunk;
use crate::rehearsal::lay::{Cause, Laying};
use crate::rehearsal::options::RehearseOptions;
use crate::rehearsal::pairs::{Paired, paired};
use crate::rehearsal::setup::{Setup, Told};
use crate::score::StartRow;
use crate::start;

/// Recordings that lend their rest at the most, evenly taken.
const MOST_RECORDINGS: usize = 12;
/// Less rest than this is none to borrow, s.
const LEAST_REST_S: f64 = 0.2;

/// What is borrowed, and what the made starts are to be like.
pub(super) struct Stage<'a> {
    pub recordings: Vec<Recording>,
    pub rows: Vec<&'a StartRow>,
    pub measuring: Measuring,
    pub context: Context,
    pub setup: Setup,
    pub borrowed: Borrowed,
    pub said: Vec<String>,
}

impl<'a> Stage<'a> {
    pub fn set(set: &'a StartSet, options: &RehearseOptions) -> Result<Stage<'a>> {
        let no_traces = || {
            Error::new(
                ErrorKind::NotAJob,
                "rehearse",
                "a starts table holds no traces to rehearse on",
            )
            .hint("Name the job or a recording")
        };
        let of = set.jobs.first().ok_or_else(no_traces)?;
        let (job, all) = (&of.job, &set.rows[of.rows.clone()]);
        let run = readable(set, job).next().ok_or_else(|| {
            Error::new(
                ErrorKind::NoRecordings,
                "rehearse",
                "no recording could be read",
            )
            .hint("Name a job or a recording that can")
        })?;
        let context = Context {
            span_s: Context::default().span_s,
            ..job.context_of(run)
        };
        let alike: Vec<&Run> = readable(set, job)
            .filter(|other| other.process == run.process && other.upslope_s == run.upslope_s)
            .collect();
        let rows: Vec<&StartRow> = all
            .iter()
            .filter(|row| alike.iter().any(|run| run.number == row.run))
            .collect();
        let (recordings, borrowed) = borrow(job, &alike, &rows, &context)?;
        let trusted = trusted(&rows);
        let sight = recordings[0].survey().sight;
        let setup = Told {
            rate_hz: recordings[0].rate_hz(),
            voltage: recordings[0].has_volts(),
            context,
            rows: &trusted,
            arcs: &borrowed.arcs,
            set_a: options.amps.or_else(|| set_a(&trusted, run)),
            open_v: sight.and_then(|sight| sight.open_v),
            electrode_negative_sign: recordings[0].electrode_negative_sign(),
        }
        .setup();
        Ok(Stage {
            said: said(set, &rows),
            measuring: definitions(&job.measuring),
            recordings,
            rows,
            context,
            setup,
            borrowed,
        })
    }

    /// Lays a made recording through the logger, all but some causes, and measures it.
    pub fn play(&self, chunk: &Chunk, without: &[Cause]) -> Result<Paired> {
        let laying = Laying {
            setup: &self.setup,
            borrowed: &self.borrowed,
            without,
        };
        let [amps, volts] = laying.traces(chunk);
        let laid = self.recordings[0].alike(&amps, &volts, self.context.mains_hz)?;
        let starts = start::find(&laid, &self.measuring, &self.context)?;
        Ok(paired(chunk, starts))
    }
}

/// Runs whose recording was read.
fn readable<'a>(set: &'a StartSet, job: &'a Job) -> impl Iterator<Item = &'a Run> {
    let read = |run: &&Run| set.sources.iter().any(|source| source.path == run.path);
    job.runs.iter().filter(read)
}

/// Opens the recordings of one rate, and borrows of them.
fn borrow(
    job: &Job,
    runs: &[&Run],
    rows: &[&StartRow],
    context: &Context,
) -> Result<(Vec<Recording>, Borrowed)> {
    let mut paths: Vec<&Run> = runs.to_vec();
    paths.sort_by_key(|run| &run.path);
    paths.dedup_by_key(|run| &run.path);
    paths.sort_by_key(|run| run.number);
    let every = paths.len().div_ceil(MOST_RECORDINGS).max(1);
    let mut recordings: Vec<Recording> = Vec::new();
    let mut borrowed = Borrowed::default();
    for run in paths.into_iter().step_by(every) {
        let recording = Recording::open(&run.path, &job.logger)?;
        let alike = |first: &Recording| {
            first.rate_hz() == recording.rate_hz() && first.has_volts() == recording.has_volts()
        };
        if !recordings.first().is_none_or(alike) {
            continue;
        }
        let own: Vec<&StartRow> = rows
            .iter()
            .filter(|row| *row.recording == *run.file)
            .copied()
            .collect();
        let unlit = own.iter().filter(|row| !row.lit() && row.doubt.is_none());
        let lent: Vec<&StartRow> = trusted(&own).into_iter().chain(unlit.copied()).collect();
        borrowed.take(&recording, &lent, context)?;
        recordings.push(recording);
    }
    if borrowed.rest_s < LEAST_REST_S {
        return Err(Error::new(
            ErrorKind::NoRest,
            runs[0].file.as_str(),
            format!("has no rest to borrow: its traces rest for {:.2} s in all", borrowed.rest_s),
        )
        .hint("Record a second or more with the machine off before the first start, then rehearse on that"));
    }
    borrowed.settle(recordings[0].rate_hz(), context.mains_hz);
    Ok((recordings, borrowed))
}

/// Lit starts whose reading can be trusted, or all that lit where there are none.
fn trusted<'a>(rows: &[&'a StartRow]) -> Vec<&'a StartRow> {
    let lit: Vec<&StartRow> = rows.iter().filter(|row| row.lit()).copied().collect();
    let trusted: Vec<&StartRow> = lit.iter().filter(|r| r.doubt.is_none()).copied().collect();
    if trusted.is_empty() { lit } else { trusted }
}

/// The current set, where no start tells one.
fn set_a(rows: &[&StartRow], run: &Run) -> Option<f64> {
    match rows.iter().any(|row| row.measures.run_a().is_some()) {
        true => None,
        false => run.set_a,
    }
}

/// The definitions by which the truth is stated, with the job's levels and band.
fn definitions(of: &Measuring) -> Measuring {
    Measuring {
        conduct_a: of.conduct_a,
        conduct_release: of.conduct_release,
        short_v: of.short_v,
        open_v: of.open_v,
        wander_from_hz: of.wander_from_hz,
        wander_to_hz: of.wander_to_hz,
        ..Measuring::default()
    }
}

/// What speaks against the recordings, and against their starts, each once.
fn said(set: &StartSet, rows: &[&StartRow]) -> Vec<String> {
    let mut said: Vec<String> = Vec::new();
    for finding in set.sources.iter().flat_map(|source| &source.findings) {
        said.push(format!(
            "{}: {}",
            finding.flag.name(),
            finding.flag.sentence()
        ));
    }
    let doubtful: Vec<&str> = rows.iter().filter_map(|r| r.doubt.as_deref()).collect();
    if let Some(first) = doubtful.first() {
        said.push(format!(
            "{}: {} of {} starts of the recordings, the first: {first}",
            Flag::Doubtful.name(),
            doubtful.len(),
            rows.len()
        ));
    }
    if rows.is_empty() {
        said.push(
            "No start was found in the recordings: the made ones are like none of theirs."
                .to_owned(),
        );
    }
    said.sort();
    said.dedup();
    said
}
