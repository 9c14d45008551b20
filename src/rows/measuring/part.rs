//! The rows of the sheet that are about one recording: it is opened and measured once, then its starts are given to each.

use std::collections::HashMap;
use std::path::Path;

use crate::bytes::Identity;
use crate::error::{Error, Result};
use crate::job::{Context, Job, Run};
use crate::measuring::cache::Found;
use crate::measuring::options::GatherOptions;
use crate::measuring::set::{Detail, Miscount};
use crate::recording::{Finding, Recording};
use crate::score::{Sheets, StartRow, start_row};
use crate::start;
use crate::start::Start;

/// Rows of the sheet that share out the starts of one recording, or of one part of it.
pub(super) type Part<'a> = Vec<&'a Run>;

/// What the rows of a sheet ask of one recording.
pub(super) struct OfRecording<'a> {
    pub(super) path: &'a Path,
    /// Its name in the first row.
    pub(super) file: &'a str,
    /// Parts that are measured by the same settings; these span all of them.
    alike: Vec<(Context, Vec<Part<'a>>)>,
}

impl<'a> OfRecording<'a> {
    /// All parts, in the order they are measured.
    pub(super) fn parts(&self) -> impl Iterator<Item = &Part<'a>> {
        self.alike.iter().flat_map(|(_, parts)| parts)
    }
}

/// The runs by recording, in the order of their first rows.
pub(super) fn recordings(job: &Job) -> Vec<OfRecording<'_>> {
    let mut all: Vec<OfRecording> = Vec::new();
    let mut by_path: HashMap<&Path, usize> = HashMap::new();
    let mut by_settings: HashMap<(usize, String), usize> = HashMap::new();
    let mut by_part: HashMap<(usize, usize, [u64; 2]), usize> = HashMap::new();
    for run in &job.runs {
        let k = *by_path.entry(&run.path).or_insert(all.len());
        if k == all.len() {
            all.push(OfRecording {
                path: &run.path,
                file: &run.file,
                alike: Vec::new(),
            });
        }
        let (context, (from, to)) = (job.context_of(run), run.span_s());
        // Every setting shows in these words, to the last digit.
        let settings = format!("{:?}", spanning(&context, Context::default().span_s));
        let alike = &mut all[k].alike;
        let settled = *by_settings.entry((k, settings)).or_insert(alike.len());
        if settled == alike.len() {
            alike.push((context, Vec::new()));
        }
        let (shared, parts) = &mut alike[settled];
        shared.span_s = (shared.span_s.0.min(from), shared.span_s.1.max(to));
        let key = (k, settled, [from.to_bits(), to.to_bits()]);
        let place = *by_part.entry(key).or_insert(parts.len());
        if place == parts.len() {
            parts.push(Vec::new());
        }
        parts[place].push(run);
    }
    all
}

fn spanning(context: &Context, span_s: (f64, f64)) -> Context {
    Context { span_s, ..*context }
}

/// A recording whose starts are not as many as its rows share out.
pub(super) fn miscount(part: &Part, found: usize) -> Option<Miscount> {
    let asked = part
        .iter()
        .map(|run| run.skip.saturating_add(run.starts.unwrap_or(0)))
        .max()? as usize;
    let all_counted = part.iter().all(|run| run.starts.is_some());
    (found < asked || all_counted && found > asked).then(|| Miscount {
        file: part[0].file.clone(),
        asked,
        found,
    })
}

/// The starts of one run.
pub(super) struct OfRun {
    pub(super) rows: Vec<StartRow>,
    pub(super) details: Vec<Detail>,
}

/// The recording of a part.
#[derive(Clone)]
pub(super) struct Source {
    /// What the file was when it was measured.
    pub(super) identity: Option<Identity>,
    pub(super) findings: Vec<Finding>,
}

/// What was measured of one part.
pub(super) struct Measured {
    /// One entry a run of the part.
    pub(super) runs: Vec<OfRun>,
    pub(super) source: Source,
    pub(super) length_s: f64,
    /// Starts in the part.
    pub(super) found: usize,
}

/// Finds and measures the starts of one recording, and shares them out to the parts and their rows. It is opened once, or not
/// at all where everything asked for was kept.
///
/// # Errors
/// A recording that cannot be read, or that changed while it was.
pub(super) fn measure(
    job: &Job,
    of: &OfRecording,
    options: &GatherOptions,
) -> Result<Vec<Measured>> {
    let before = Identity::of(of.path);
    let measured = measure_parts(job, of, options, before.as_ref());
    // What was read of a file that somebody wrote to is of two contents.
    if before.is_some() && Identity::of(of.path) != before {
        return Err(Error::changed(of.path.display().to_string()));
    }
    measured
}

fn measure_parts(
    job: &Job,
    of: &OfRecording,
    options: &GatherOptions,
    before: Option<&Identity>,
) -> Result<Vec<Measured>> {
    let mut open = None;
    let mut measured = Vec::new();
    for (context, parts) in &of.alike {
        let rules = format!("{:?}\n{:?}\n{context:?}", job.logger, job.measuring);
        let kept = options.cache.filter(|_| !options.previews);
        let found = match kept.and_then(|cache| cache.get(of.path, &rules)) {
            Some(found) => found,
            None => {
                let recording = match &open {
                    Some(recording) => recording,
                    None => open.insert(Recording::open(of.path, &job.logger)?),
                };
                let context = Context {
                    previews: options.previews,
                    ..*context
                };
                let found = find(recording, job, &context)?;
                if let Some(cache) = options.cache {
                    cache.put(of.path, &rules, before.cloned(), &found);
                }
                found
            }
        };
        measured.extend(share_out(job, parts, found, before, options));
    }
    Ok(measured)
}

fn find(recording: &Recording, job: &Job, context: &Context) -> Result<Found> {
    let (began_s, mut starts) = start::find_begun(recording, &job.measuring, context)?;
    let mut findings = recording.survey().findings.clone();
    let skew = start::skew(recording, &job.measuring, &starts)?;
    if let Some(found) = skew.and_then(|skew| skew.finding()) {
        starts.iter_mut().for_each(|start| start.flag(found.flag));
        findings.push(found);
    }
    Ok(Found {
        starts,
        began_s,
        findings,
        length_s: recording.time_s(recording.frames()),
    })
}

/// Gives each part the starts that began in it, and each of its rows its own.
fn share_out(
    job: &Job,
    parts: &[Part],
    found: Found,
    identity: Option<&Identity>,
    options: &GatherOptions,
) -> Vec<Measured> {
    let source = Source {
        identity: identity.cloned(),
        findings: found.findings,
    };
    // Many starts are many bytes: each lies in one place until it becomes a row.
    let mut starts: Vec<Option<Start>> = found.starts.into_iter().map(Some).collect();
    let mut order: Vec<usize> = (0..starts.len()).collect();
    order.sort_by(|a, b| found.began_s[*a].total_cmp(&found.began_s[*b]));
    let mut of_part = |part: &Part| {
        let (from, to) = part[0].span_s();
        let at = |time| order.partition_point(|k| found.began_s[*k] < time);
        let own = &order[at(from)..at(to).max(at(from))];
        let runs = part.iter().map(|run| {
            let takes = run.takes();
            let taken = own.iter().take(takes.end).skip(takes.start);
            let taken = taken.filter_map(|k| starts[*k].take());
            of_run(job, run, taken, options)
        });
        Measured {
            runs: runs.collect(),
            source: source.clone(),
            length_s: found.length_s,
            found: own.len(),
        }
    };
    parts.iter().map(&mut of_part).collect()
}

fn of_run(
    job: &Job,
    run: &Run,
    starts: impl Iterator<Item = Start>,
    options: &GatherOptions,
) -> OfRun {
    let mut sheets = Sheets::default();
    let made = starts.zip(1..).map(|(mut start, number)| {
        let preview = start.preview.take();
        let (mut row, score) = start_row(job, run, number, &start);
        sheets.share(&mut row);
        let detail = (!options.bare).then_some(Detail { score, preview });
        (row, detail)
    });
    let (mut rows, mut details) = (Vec::new(), Vec::new());
    for (row, detail) in made {
        rows.push(row);
        details.extend(detail);
    }
    OfRun { rows, details }
}
