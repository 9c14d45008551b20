//! One start, its run and its prep become a row of the starts table.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use crate::flag::Flag;
use crate::job::builtin::Basis;
use crate::job::file::Job;
use crate::job::run::{Process, Run};
use crate::job::targets;
use crate::job::targets::Targets;
use crate::measure::{Measure, MeasureValues, Measures};
use crate::score::desirability::score;
use crate::score::{Score, StartRow};
use crate::start::{Doubt, Start};

/// Share measured and share written down may differ by this much, percent of the time.
///
/// This project's own number: machines show whole steps of 1 to 5 % and count the zero crossing
/// to either side.
pub const BALANCE_TOLERANCE_PCT: f64 = 5.0;

/// What a start of a run is held against: the prep's targets, over the job's, over the built-in
/// ones for the process, the amps set (measured, where the sheet has none) and the tip.
pub fn targets_for(job: &Job, run: &Run, start: &Start) -> Targets {
    let prep = job.prep_of(run);
    // Without a sheet the trace itself says whether it is AC.
    let alternates = start.measures.ac_hz.is_some();
    let seen = if alternates { Process::Ac } else { Process::Dc };
    let process = run.process.unwrap_or(seen);
    let amps = run.set_a.or(start.measures.run_a);
    targets::merge(
        &Basis::new(prep, process, amps),
        &job.targets,
        &prep.targets,
    )
}

/// Makes the row of start number `number` (from 1) of a run, and its score.
///
/// The score is `None` where the start lit and nothing with a target could be measured.
pub fn start_row(job: &Job, run: &Run, number: u32, start: &Start) -> (StartRow, Option<Score>) {
    let targets = targets_for(job, run, start);
    let mut start = start.clone();
    let alternates = start.measures.ac_hz.is_some();
    if let Some(doubt) = Doubt::of_set_current(start.measures.run_a, run.set_a, alternates) {
        start.doubt(doubt);
    }
    let score = score(&start, &targets);
    let mut measures = MeasureValues::from(&start.measures);
    let counted = |first: u32| f64::from(first) + f64::from(number) - 1.0;
    measures.set(Measure::SinceRegrind, run.since_regrind.map(counted));
    let mut flags = start.flags.clone();
    flags.extend(flags_by_targets(&start.measures, &targets));
    flags.extend(flags_by_sheet(&start.measures, run));
    flags.sort_unstable();
    flags.dedup();
    let told: Vec<String> = start.doubts.iter().map(Doubt::to_string).collect();
    let text = |given: &Option<String>| given.as_deref().map(Arc::from);
    let row = StartRow {
        recording: run.file.as_str().into(),
        run: run.number,
        prep: run.prep.as_str().into(),
        tip_id: text(&run.tip_id),
        coupon: text(&run.coupon),
        cell: text(&run.cell),
        shift: text(&run.shift),
        date: text(&run.date),
        start: number,
        exclude: text(&run.exclude),
        instants: start.instants,
        measures,
        flags,
        doubt: (!start.doubts.is_empty()).then(|| told.join("; ").into()),
        score: score.as_ref().map(|s| s.value),
        verdict: score.as_ref().map(|s| s.verdict),
        sheet: Arc::new(sheet_of(job, run)),
    };
    (row, score)
}

/// The columns of the sheet that its rows may have, whatever is found in its recordings.
pub fn job_headings(job: &Job) -> BTreeSet<String> {
    let sheets = job.runs.iter().map(|run| sheet_of(job, run));
    sheets.flat_map(BTreeMap::into_keys).collect()
}

fn sheet_of(job: &Job, run: &Run) -> BTreeMap<String, String> {
    let mut sheet = job.prep_of(run).columns();
    // A sheet that names its loggers knows them better than their scales do.
    let logger = job.logger.calibration();
    sheet.extend(logger.map(|words| ("logger".to_owned(), words)));
    sheet.extend(run.columns());
    sheet
}

/// The columns of the sheet that some rows have.
pub fn headings(rows: &[StartRow]) -> impl Iterator<Item = String> {
    rows.iter().flat_map(|row| row.sheet.keys().cloned())
}

fn flags_by_targets(measures: &Measures, targets: &Targets) -> impl Iterator<Item = Flag> {
    let over_poor = |measure: Measure| {
        let poor = targets.get(measure).map(|t| t.poor);
        let value = measures.get(measure).map(f64::abs);
        matches!((value, poor), (Some(value), Some(poor)) if value > poor)
    };
    let any = |count: Option<f64>, least: f64| count.is_some_and(|n| n > least);
    [
        (Flag::Slow, over_poor(Measure::StartMs)),
        (Flag::Wander, over_poor(Measure::WanderV)),
        (Flag::Overshoot, over_poor(Measure::OvershootPct)),
        (Flag::Retry, any(measures.attempts, 1.0)),
        (Flag::Dropout, any(measures.dropouts, 0.0)),
        (Flag::Touch, any(measures.touches, 0.0)),
    ]
    .into_iter()
    .filter_map(|(flag, seen)| seen.then_some(flag))
}

fn flags_by_sheet(measures: &Measures, run: &Run) -> Option<Flag> {
    let off = (measures.en_share_pct? - run.set_en_pct?).abs() > BALANCE_TOLERANCE_PCT;
    off.then_some(Flag::BalanceOff)
}
