//! What the measured starts say about the sheet: balance, amps, tip.

use crate::fit::tables::USUAL_EN_PCT;
use crate::fit::{CLEANING_END_PCT, FitFinding, Level, Remark};
use crate::job::Job;
use crate::job::run::Run;
use crate::score::StartRow;
use crate::score::row::BALANCE_TOLERANCE_PCT;

/// Amps run at and amps set may differ by this share (this project's own number; the in-service
/// tolerance usual for a machine's setting is of that order).
const AMPS_TOLERANCE: f64 = 0.1;
/// And by this much at least, A.
const AMPS_TOLERANCE_A: f64 = 3.0;
/// Starts needed before the first half of a run is held against its second.
const TREND_STARTS: usize = 10;
/// A fall of the median score from the first half to the second that is called going off, points.
const GONE_OFF_POINTS: f64 = 10.0;

/// Findings of every run, from the rows measured of it.
pub fn after(job: &Job, rows: &[StartRow]) -> Vec<FitFinding> {
    let mut findings = Vec::new();
    for run in &job.runs {
        let of_run: Vec<&StartRow> = rows
            .iter()
            .filter(|row| row.run == run.number && row.recording == run.file && row.lit())
            .collect();
        let remarks = [
            process(run, &of_run),
            balance(run, &of_run),
            amps(run, &of_run),
            lit_amps(run, &of_run),
            tip(run, &of_run),
        ];
        findings.extend(remarks.into_iter().flatten().map(|remark| FitFinding {
            prep: run.prep.clone(),
            rows: vec![run.line],
            remark,
        }));
    }
    findings
}

/// Median of a measure over the starts that have it.
fn median(rows: &[&StartRow], measure: &str) -> Option<f64> {
    let mut values: Vec<f64> = rows.iter().filter_map(|row| row.value(measure)).collect();
    values.sort_unstable_by(f64::total_cmp);
    let n = values.len();
    (n > 0).then(|| (values[(n - 1) / 2] + values[n / 2]) / 2.0)
}

/// AC where DC is written down, or the other way round.
fn process(run: &Run, rows: &[&StartRow]) -> Option<Remark> {
    let written = run.process?;
    // Every lit start of an AC run has a frequency; one that was too short for it is no proof of DC.
    let alternating = rows.iter().filter(|row| row.measures.ac_hz.is_some());
    let seen_ac = 2 * alternating.count() > rows.len();
    (!rows.is_empty() && seen_ac != written.is_ac()).then(|| Remark {
        level: Level::Look,
        about: "process",
        what: format!(
            "{} was measured, {} is written down",
            if seen_ac { "AC" } else { "DC" },
            written.name()
        ),
        why: "targets and tables for the one do not fit the other".to_owned(),
        source: "measured".to_owned(),
        to_try: "correct the process in the run sheet".to_owned(),
    })
}

fn balance(run: &Run, rows: &[&StartRow]) -> Option<Remark> {
    let measured = median(rows, "en_share_pct")?;
    let at_cleaning_end = measured < CLEANING_END_PCT;
    let off = run
        .set_en_pct
        .is_some_and(|set| (set - measured).abs() > BALANCE_TOLERANCE_PCT);
    if !at_cleaning_end && !off {
        return None;
    }
    let against = match run.set_en_pct {
        Some(set) => format!(", {set} % written down"),
        None => String::new(),
    };
    let (low, high) = USUAL_EN_PCT;
    Some(Remark {
        level: Level::Look,
        about: "balance",
        what: format!("{measured:.0} % electrode negative was measured{against}"),
        why: match at_cleaning_end {
            true => "this is the cleaning end: usually left there after a tip was rounded, it overheats the tip and spoils it for the next starts",
            false => "the run was not welded as written down, or the machine shows the cleaning side",
        }
        .to_owned(),
        source: format!("measured; common practice runs about {low:.0}–{high:.0} %"),
        to_try: "set the balance, grind the tip anew, and strike the run again".to_owned(),
    })
}

fn amps(run: &Run, rows: &[&StartRow]) -> Option<Remark> {
    let (set, measured) = (run.set_a?, median(rows, "run_a")?);
    let pulsed = median(rows, "pulse_hz").is_some();
    let off = (measured - set).abs() > AMPS_TOLERANCE_A.max(AMPS_TOLERANCE * set);
    (off && !pulsed).then(|| Remark {
        level: Level::Look,
        about: "current",
        what: format!("it ran at {measured:.0} A, {set} A were set"),
        why: "targets, tables and comparisons go by the amps set".to_owned(),
        source: "measured".to_owned(),
        to_try: "look for a pedal not fully down, an up-slope, a wrong scale of the logger, or a machine out of calibration"
            .to_owned(),
    })
}

fn lit_amps(run: &Run, rows: &[&StartRow]) -> Option<Remark> {
    let (set, lit) = (run.set_a?, median(rows, "lit_a")?);
    let ramped = run.upslope_s.is_some_and(|s| s > 0.0);
    if (0.5..=1.3).contains(&(lit / set)) || ramped {
        return None;
    }
    let hot = lit > set;
    Some(Remark {
        level: Level::Note,
        about: "current",
        what: format!("it lit at {lit:.0} A, {set} A were set"),
        why: match hot {
            true => "a hot start lights well and can burn a thin edge or the tip",
            false => "fewer amps heat the tip more slowly: part of the start time is the machine's, not the prep's",
        }
        .to_owned(),
        source: "measured: mean of the first 20 ms".to_owned(),
        to_try: "compare preps only at the same start settings; write an up-slope into the sheet".to_owned(),
    })
}

/// The welder's eye on the tip beside what the starts did.
fn tip(run: &Run, rows: &[&StartRow]) -> Option<Remark> {
    let seen = run.tip_after.as_deref()?;
    let (first, second) = rows.split_at(rows.len() / 2);
    let scores = (median(first, "score"), median(second, "score"));
    let (Some(before), Some(later)) = scores else {
        return None;
    };
    let few = rows.len() < TREND_STARTS;
    let gone_off = before - later >= GONE_OFF_POINTS;
    let starts = match (few, gone_off) {
        (true, _) => format!("{} starts are too few to tell a trend", rows.len()),
        (_, true) => format!("the starts went off: median score {before:.0}, then {later:.0}"),
        (_, false) => format!("the starts held: median score {before:.0}, then {later:.0}"),
    };
    Some(Remark {
        level: if gone_off && !few { Level::Look } else { Level::Note },
        about: "tip",
        what: format!("tip after the run: \"{seen}\"; {starts}"),
        why: "eye and recording should tell the same story; where they do not, one of them looked at the wrong thing"
            .to_owned(),
        source: "measured: first half of the run against the second".to_owned(),
        to_try: match gone_off && !few {
            true => "grind before a run as long as this one",
            false => "keep on writing the tip down after each run",
        }
        .to_owned(),
    })
}
