//! What is past a limit: one alarm a start, with all its reasons.

use std::cmp::Ordering;
use std::collections::BTreeMap;

use crate::flag::Flag;
use crate::job::ROUGH_ATTEMPTS;
use crate::measuring::DATE_FROM;
use crate::measuring::gather::Detail;
use crate::score::{ROUGH, Score, StartRow, Verdict};
use crate::study::screen::batch::Batch;
use crate::study::screen::found::{Alarm, Reason, Rule};

/// The alarms of a batch, worst first; `charted` is what the charts raise.
pub(super) fn alarms(
    batch: &Batch,
    details: &[Detail],
    charted: Vec<(usize, Reason)>,
) -> Vec<Alarm> {
    let mut reasons: BTreeMap<usize, Vec<Reason>> = BTreeMap::new();
    for (place, row) in batch.judged() {
        let score = details.get(place).and_then(|d| d.score.as_ref());
        let past = past_limits(row, score);
        if !past.is_empty() {
            reasons.insert(place, past);
        }
    }
    for (place, reason) in charted {
        reasons.entry(place).or_default().push(reason);
    }
    let mut alarms: Vec<Alarm> = reasons
        .into_iter()
        .map(|(place, reasons)| alarm(batch.rows[place], &batch.group[place], reasons))
        .collect();
    alarms.sort_by(worst_first);
    alarms
}

/// By rule, then the lowest score.
pub(super) fn worst_first(a: &Alarm, b: &Alarm) -> Ordering {
    let score = |alarm: &Alarm| alarm.score.unwrap_or(f64::INFINITY);
    a.rule.cmp(&b.rule).then(score(a).total_cmp(&score(b)))
}

fn alarm(row: &StartRow, group: &str, mut reasons: Vec<Reason>) -> Alarm {
    reasons.sort_by_key(|reason| reason.rule);
    let first = reasons[0].clone();
    Alarm {
        group: group.to_owned(),
        prep: row.prep.clone(),
        tip_id: row.tip_id.clone(),
        recording: row.recording.clone(),
        run: row.run,
        start: row.start,
        date: row.date.clone(),
        date_from: row.sheet.get(DATE_FROM).cloned(),
        at_s: row.instants.t_first_s.or(row.instants.t_open_s),
        t_lit_s: row.instants.t_lit_s,
        score: row.score,
        measure: first.measure,
        value: first.value,
        limit: first.limit,
        rule: first.rule,
        reasons,
    }
}

/// What a start is past by itself: no light, rough, measures at the poor end of their target.
fn past_limits(row: &StartRow, score: Option<&Score>) -> Vec<Reason> {
    if !row.lit() {
        return vec![reason(Rule::NoLight, "score", row.score, None)];
    }
    let mut past = Vec::new();
    if row.verdict == Some(Verdict::Rough) {
        past = why_rough(
            row,
            score.map_or(ROUGH_ATTEMPTS, |score| score.rough_attempts),
        );
    }
    match score {
        Some(score) => {
            let poor = score.parts.iter().filter(|part| part.desirability == 0.0);
            past.extend(poor.map(|part| {
                reason(
                    Rule::Target,
                    part.measure.name(),
                    part.value,
                    Some(part.poor),
                )
            }));
        }
        None => past.extend(by_flags(row)),
    }
    past
}

/// A table carries no targets, but the flags that its measuring raised.
fn by_flags(row: &StartRow) -> impl Iterator<Item = Reason> {
    let measure_of = |flag: &Flag| match flag {
        Flag::Slow | Flag::NotSettled => Some("start_ms"),
        Flag::Wander => Some("wander_v"),
        Flag::Overshoot => Some("overshoot_pct"),
        _ => None,
    };
    let mut measures: Vec<&str> = row.flags.iter().filter_map(measure_of).collect();
    measures.dedup();
    let past = measures.into_iter();
    past.map(|measure| reason(Rule::Target, measure, row.value(measure), None))
}

fn reason(rule: Rule, measure: &str, value: Option<f64>, limit: Option<f64>) -> Reason {
    Reason {
        rule,
        measure: measure.to_owned(),
        value,
        limit,
        since: None,
    }
}

/// What made a start rough: the same three rules that its verdict goes by. A verdict that none of them
/// explains was given by another limit.
fn why_rough(row: &StartRow, rough_attempts: u32) -> Vec<Reason> {
    let rough =
        |measure: &str, limit: f64| reason(Rule::Rough, measure, row.value(measure), Some(limit));
    let above = |measure: &str, limit: f64| row.value(measure).is_some_and(|value| value > limit);
    let mut why = Vec::new();
    if above("dropouts", 0.0) {
        why.push(rough("dropouts", 0.0));
    }
    if above("attempts", f64::from(rough_attempts)) {
        why.push(rough("attempts", f64::from(rough_attempts)));
    }
    if row.score.is_some_and(|score| score < ROUGH) {
        why.push(rough("score", ROUGH));
    }
    if why.is_empty() {
        why.push(reason(Rule::Rough, "score", row.score, None));
    }
    why
}
