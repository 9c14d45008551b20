//! Did this batch start clean, which starts were bad, is a tip going off?

use std::collections::{BTreeMap, BTreeSet};

mod alarms;
mod answer;
mod charts;
mod sampling;

pub use sampling::SamplingOptions;

use crate::error::Result;
use crate::flag::Flag;
use crate::format::counted;
use crate::measuring::gather::StartSet;
use crate::score::{StartRow, Verdict};
use crate::stats;
use crate::study::wear::{REGRIND_SCORE, wear};
use crate::study::{Alarm, Flagged, NotRead, RecordingLine, Rule, Screening};
use alarms::{limit_alarms, worst_first};
use answer::answer;
use charts::{by_group, chart_alarms, charts};
use sampling::sample;

/// How to screen.
#[derive(Debug, Clone, PartialEq)]
pub struct ScreenOptions {
    /// One chart a value of this: `prep` or a column of the run sheet, such as the cell.
    pub by: String,
    /// Measures to chart.
    pub charts: Vec<String>,
    /// Starts at the head of each chart that its limits are made from.
    pub baseline: usize,
    /// Known good starts that the limits are made from instead.
    pub baseline_rows: Option<Vec<StartRow>>,
    /// Confidence level of the wear answers.
    pub level: f64,
    /// Regrind limits of measures, where the user sets them.
    pub regrind: BTreeMap<String, f64>,
    /// Acceptance sampling.
    pub sampling: Option<SamplingOptions>,
}

impl Default for ScreenOptions {
    fn default() -> Self {
        ScreenOptions {
            by: "prep".into(),
            charts: vec!["score".into()],
            baseline: 20,
            baseline_rows: None,
            level: 0.95,
            regrind: BTreeMap::new(),
            sampling: None,
        }
    }
}

/// Screens a batch.
///
/// # Errors
/// A column or measure that no start has; a sampling limit that is not in the standard's table.
pub fn screen(gathered: &StartSet, options: &ScreenOptions) -> Result<Screening> {
    let rows = &gathered.rows;
    let charts = charts(rows, options)?;
    let mut alarms = limit_alarms(rows, &gathered.details);
    for chart in &charts {
        alarms.extend(chart_alarms(chart));
    }
    worst_first(&mut alarms, rows);
    let sampling = match &options.sampling {
        Some(asked) => Some(sample(rows, asked)?),
        None => None,
    };
    let over = match &sampling {
        Some(verdict) => {
            let charted = |a: &Alarm| matches!(a.rule, Rule::Individuals | Rule::Ewma);
            verdict.accepted != Some(true) || alarms.iter().any(charted)
        }
        None => !alarms.is_empty(),
    };
    let mut screening = Screening {
        over_limits: over || rows.is_empty(),
        pass: !over && !rows.is_empty() && gathered.not_read.is_empty(),
        starts: rows.len(),
        by: options.by.clone(),
        not_read: not_read(gathered),
        recordings: recordings(gathered, &alarms),
        groups: charts,
        alarms,
        regrind: wear(rows, &options.by, options.level, |prep, measure| {
            regrind_limit(gathered, options, prep, measure)
        }),
        flags: flags(rows),
        sampling,
        warnings: warnings(gathered, options),
        answer: String::new(),
    };
    screening.answer = answer(&screening, rows);
    Ok(screening)
}

/// Puts the flag `tip_off` on the starts at which a moving average went out.
pub fn mark_tip_off(rows: &mut [StartRow], screening: &Screening) {
    let ewma = screening.alarms.iter().filter(|a| a.rule == Rule::Ewma);
    let off: BTreeSet<(&str, u32, u32)> = ewma
        .map(|a| (a.recording.as_str(), a.run, a.start))
        .collect();
    for row in rows {
        let key = (row.recording.as_str(), row.run, row.start);
        if off.contains(&key) && !row.flags.contains(&Flag::TipOff) {
            row.flags.push(Flag::TipOff);
            row.flags.sort_unstable();
        }
    }
}

fn not_read(gathered: &StartSet) -> Vec<NotRead> {
    let told = gathered.not_read.iter().map(|(recording, why)| NotRead {
        recording: recording.clone(),
        why: why.to_string(),
    });
    told.collect()
}

/// The user's limit, else the project's for the score and the target's poor end for the others.
fn regrind_limit(
    gathered: &StartSet,
    options: &ScreenOptions,
    prep: &str,
    measure: &str,
) -> Option<f64> {
    if let Some(limit) = options.regrind.get(measure) {
        return Some(*limit);
    }
    if measure == "score" {
        return Some(REGRIND_SCORE);
    }
    let poor: Vec<f64> = gathered
        .rows
        .iter()
        .zip(&gathered.details)
        .filter(|(row, _)| row.prep == prep)
        .filter_map(|(_, detail)| detail.score.as_ref())
        .filter_map(|score| {
            score
                .parts
                .iter()
                .find(|part| part.measure.name() == measure)
        })
        .map(|part| part.poor)
        .collect();
    stats::median(&poor)
}

/// Each flag with the number of starts that carry it, in the order of the docs.
fn flags(rows: &[StartRow]) -> Vec<Flagged> {
    let mut counts: BTreeMap<Flag, usize> = BTreeMap::new();
    for flag in rows.iter().flat_map(|row| &row.flags) {
        *counts.entry(*flag).or_default() += 1;
    }
    let flagged = counts
        .into_iter()
        .map(|(flag, starts)| Flagged { flag, starts });
    flagged.collect()
}

fn is_rough(row: &StartRow) -> bool {
    !row.lit() || matches!(row.verdict, Some(Verdict::Rough | Verdict::NoLight))
}

fn recordings(gathered: &StartSet, alarms: &[Alarm]) -> Vec<RecordingLine> {
    let mut order: Vec<&str> = gathered.rows.iter().map(|r| r.recording.as_str()).collect();
    order.extend(gathered.sources.iter().map(|s| s.recording.as_str()));
    let mut by_name: BTreeMap<&str, Vec<&StartRow>> = BTreeMap::new();
    for row in &gathered.rows {
        by_name.entry(&row.recording).or_default().push(row);
    }
    let mut alarms_in: BTreeMap<&str, usize> = BTreeMap::new();
    for alarm in alarms {
        *alarms_in.entry(&alarm.recording).or_default() += 1;
    }
    let mut seen = BTreeSet::new();
    order.retain(|name| seen.insert(*name));
    let line = |name: &str| {
        let rows = by_name.get(name).map_or(&[][..], Vec::as_slice);
        recording_line(name, rows, alarms_in.get(name).copied().unwrap_or(0))
    };
    order.into_iter().map(line).collect()
}

fn recording_line(name: &str, rows: &[&StartRow], alarms: usize) -> RecordingLine {
    let mut preps: Vec<&str> = rows.iter().map(|r| r.prep.as_str()).collect();
    preps.sort_unstable();
    preps.dedup();
    let no_light = rows.iter().filter(|r| !r.lit()).count();
    let scores: Vec<f64> = rows.iter().filter_map(|r| r.score).collect();
    RecordingLine {
        recording: name.into(),
        prep: preps.join(" "),
        starts: rows.len(),
        rough: rows.iter().filter(|r| is_rough(r)).count() - no_light,
        no_light,
        score_median: stats::median(&scores),
        score_worst: scores.iter().copied().min_by(f64::total_cmp),
        alarms,
    }
}

fn warnings(gathered: &StartSet, options: &ScreenOptions) -> Vec<String> {
    let mut warnings = gathered.empty.clone();
    let rows = &gathered.rows;
    let unscored = rows.iter().filter(|r| r.score.is_none()).count();
    if unscored > 0 {
        warnings.push(format!(
            "{} without a score could not be judged.",
            counted(unscored, "start")
        ));
    }
    if options.baseline_rows.is_none() {
        for (id, rows) in by_group(rows, &options.by) {
            let lit = rows.iter().filter(|r| r.lit()).count();
            if lit < options.baseline {
                warnings.push(format!(
                    "{id} has {} on its chart, fewer than the {} that its limits should come from.",
                    counted(lit, "start"),
                    options.baseline
                ));
            }
        }
    }
    warnings
}
