//! What could this logger, this machine, this plan show? Starts of known truth, made by the arc model, are laid onto the
//! rest of a job's own recordings and measured by the same code as always.
//!
//! A propagation of what disturbs by Monte Carlo, as JCGM 101:2008 (GUM Supplement 1) has it, with the recording's own samples
//! in place of assumed distributions; judged as two ways to measure the same (Bland & Altman 1986).

mod answer;
mod borrow;
mod detect;
mod draw;
mod judge;
mod lay;
mod pairs;
mod setup;

pub use answer::{
    CountRight, Dot, FalseStarts, MeasureSpread, Of, Part, Rehearsal, Shows, Smallest,
    SmallestRate, Spread, Worst,
};
pub use lay::Cause;

use rayon::prelude::*;

use crate::demo::Wave;
use crate::error::{Error, ErrorKind, Result};
use crate::flag::Flag;
use crate::job::{Context, Job, Measuring, Rehearsed, Run};
use crate::measure::Measure;
use crate::measuring::gather::StartSet;
use crate::recording::Recording;
use crate::score::StartRow;
use crate::start;
use crate::stats;
use borrow::{Borrowed, rms};
use detect::Planned;
use draw::{Chunk, EACH};
use judge::Played;
use lay::Laying;
use pairs::{Pair, Paired, paired};
use setup::{Setup, Told};

/// Recordings that lend their rest at the most, evenly taken.
const MOST_RECORDINGS: usize = 12;
/// Less rest than this is none to borrow, s.
const LEAST_REST_S: f64 = 0.2;
/// Made recordings that each cause is left out of.
const LEFT_OUT_OF: usize = 6;
/// Long rests that are looked for false starts, and how long each is, s.
const RESTS: u64 = 8;
const LONG_REST_S: f64 = 60.0;
/// Numbers of their made recordings begin here.
const RESTS_FROM: u64 = 1 << 20;
/// Tips and starts where the job does not say.
const USUAL_TIPS: u64 = 5;
const USUAL_PER_TIP: u64 = 4;

/// How to rehearse.
#[derive(Debug, Clone, PartialEq)]
pub struct RehearseOptions {
    /// Starts to make, rounded up to whole rounds of ten.
    pub starts: usize,
    /// Fixes every random number.
    pub seed: u64,
    /// Level of the intervals.
    pub level: f64,
    /// Tips of each prep; those of the job where not given.
    pub tips: Option<u64>,
    /// Starts on each tip, likewise.
    pub per_tip: Option<u64>,
    /// Current of the made starts, A; that of the recordings where not given.
    pub amps: Option<f64>,
}

impl Default for RehearseOptions {
    fn default() -> Self {
        RehearseOptions {
            starts: 200,
            seed: 1,
            level: 0.95,
            tips: None,
            per_tip: None,
            amps: None,
        }
    }
}

/// Rehearses the first job of a set, or its recordings named by themselves.
///
/// # Errors
/// A set without recordings, recordings without rest, a recording that cannot be read.
pub fn rehearse(set: &StartSet, options: &RehearseOptions) -> Result<Rehearsal> {
    let stage = Stage::set(set, options)?;
    let rounds = options.starts.div_ceil(EACH).max(1) as u64;
    let chunks: Vec<Chunk> = (0..rounds)
        .into_par_iter()
        .map(|number| draw::chunk(&stage.setup, options.seed, number))
        .collect();
    let whole = stage.play(&chunks, &[])?;
    let first = &chunks[..chunks.len().min(LEFT_OUT_OF)];
    let each = Cause::ALL
        .iter()
        .map(|cause| Ok((*cause, pairs_of(stage.play(first, &[*cause])?))));
    let rests: Vec<Chunk> = (0..RESTS)
        .into_par_iter()
        .map(|k| draw::rest(&stage.setup, options.seed, RESTS_FROM + k, LONG_REST_S))
        .collect();
    let mut resting = stage.play(&rests, &[])?;
    let played = Played {
        without: each.collect::<Result<_>>()?,
        clean: pairs_of(stage.play(&chunks, &Cause::ALL)?),
        first: whole[..first.len()]
            .iter()
            .flat_map(|paired| paired.pairs.clone())
            .collect(),
        level: options.level,
        whole: whole.iter().flat_map(|p| p.pairs.clone()).collect(),
    };
    resting.extend(whole);
    Ok(stage.told(&played, &resting, options))
}

fn pairs_of(paired: Vec<Paired>) -> Vec<Pair> {
    paired.into_iter().flat_map(|p| p.pairs).collect()
}

/// What is borrowed, and what the made starts are to be like.
struct Stage<'a> {
    recordings: Vec<Recording>,
    rows: Vec<&'a StartRow>,
    measuring: Measuring,
    context: Context,
    setup: Setup,
    borrowed: Borrowed,
    said: Vec<String>,
}

impl<'a> Stage<'a> {
    fn set(set: &'a StartSet, options: &RehearseOptions) -> Result<Stage<'a>> {
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

    /// Lays made recordings through the logger, all but some causes, and measures them.
    fn play(&self, chunks: &[Chunk], without: &[Cause]) -> Result<Vec<Paired>> {
        let laying = Laying {
            setup: &self.setup,
            borrowed: &self.borrowed,
            without,
        };
        chunks
            .par_iter()
            .map(|chunk| {
                let [amps, volts] = laying.traces(chunk);
                let laid = self.recordings[0].alike(&amps, &volts, self.context.mains_hz)?;
                let starts = start::find(&laid, &self.measuring, &self.context)?;
                Ok(paired(chunk, starts))
            })
            .collect()
    }

    fn told(&self, played: &Played, resting: &[Paired], options: &RehearseOptions) -> Rehearsal {
        let measures = played.measures();
        // Bias is not corrected for: it counts as uncertainty (JCGM 100:2008, F.2.4.5).
        let expanded = |measure| {
            let of = measures.iter().find(|m| m.measure == measure)?;
            Some(2.0 * of.spread.rms())
        };
        let (tips, per_tip) = tips_of(&self.rows);
        let planned = Planned {
            rows: &self.rows,
            tips: options.tips.or(tips).unwrap_or(USUAL_TIPS).max(2),
            per_tip: options.per_tip.or(per_tip).unwrap_or(USUAL_PER_TIP).max(1),
            level: options.level,
        };
        Rehearsal {
            rehearsed: Rehearsed::new(expanded(Measure::StartMs), expanded(Measure::WanderV)),
            made: played.whole.len(),
            seed: options.seed,
            level: options.level,
            of: self.of(),
            said: self.said.clone(),
            found: played.found(),
            doubtful: played.doubtful(),
            false_starts: judge::false_starts(resting, options.level),
            counts: played.counts(),
            smallest_current_a: played.smallest_current_a(),
            shortest_dropout_ms: played.shortest_dropout_ms(),
            tips: planned.tips,
            per_tip: planned.per_tip,
            smallest: planned.smallest(played),
            smallest_rate: planned.smallest_rate(played),
            dots: played.dots(),
            measures,
        }
    }

    fn of(&self) -> Of {
        let rest = |trace: usize| rms(self.borrowed.rests.iter().flat_map(|r| &r[trace]));
        let hum = |trace: usize| {
            let lines = self.borrowed.hum.iter().map(|line| line.amplitude[trace]);
            lines.fold(0.0, f64::max)
        };
        Of {
            recordings: self
                .recordings
                .iter()
                .map(|r| r.name().to_owned())
                .collect(),
            rest_s: self.borrowed.rest_s,
            opens: self.borrowed.opens.len(),
            rate_hz: self.setup.rate_hz,
            voltage: self.setup.voltage,
            process: match self.setup.program.wave {
                Wave::Negative => "dc",
                Wave::Positive => "dcep",
                Wave::Pulse { .. } => "pulse",
                Wave::Ac { .. } => "ac",
            },
            run_a: self.setup.run_a,
            steps: self.borrowed.steps,
            noise: [rest(0), rest(1)],
            hum: [hum(0), hum(1)],
        }
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
            .filter(|row| row.recording == run.file)
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
    match rows.iter().any(|row| row.measures.run_a.is_some()) {
        true => None,
        false => run.set_a,
    }
}

/// The definitions that the truth is told by, with the job's levels and band.
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

/// Tips of each prep and starts on each, as the sheet has them.
fn tips_of(rows: &[&StartRow]) -> (Option<u64>, Option<u64>) {
    let mut tips: std::collections::BTreeMap<(&str, &str), u64> = Default::default();
    for row in rows {
        if let Some(tip) = &row.tip_id {
            *tips.entry((&row.prep, tip)).or_default() += 1;
        }
    }
    let mut preps: std::collections::BTreeMap<&str, u64> = Default::default();
    tips.keys()
        .for_each(|(prep, _)| *preps.entry(prep).or_default() += 1);
    let starts: Vec<f64> = tips.values().map(|n| *n as f64).collect();
    (
        preps.values().min().copied(),
        stats::median(&starts).map(|n| n as u64),
    )
}
