//! What raises an alarm in a batch besides a chart: no light, rough, past a target's poor end.

use std::collections::BTreeMap;

use crate::flag::Flag;
use crate::format::counted;
use crate::job::ROUGH_ATTEMPTS;
use crate::measuring::gather::Detail;
use crate::score::{ROUGH, StartRow, Verdict};
use crate::study::{Alarm, Rule};

/// Starts that did not light, rough ones, and measures past the poor end of their target.
pub(super) fn limit_alarms(rows: &[StartRow], details: &[Detail]) -> Vec<Alarm> {
    let mut alarms = Vec::new();
    for (i, row) in rows.iter().enumerate() {
        let score = details.get(i).and_then(|d| d.score.as_ref());
        if !row.lit() {
            alarms.push(alarm(row, "score", row.score, None, Rule::NoLight));
            continue;
        }
        if row.verdict == Some(Verdict::Rough) {
            let attempts = score.map_or(ROUGH_ATTEMPTS, |score| score.rough_attempts);
            let mut rough = alarm(row, "score", row.score, None, Rule::Rough);
            rough.why = why_rough(row, attempts);
            alarms.push(rough);
        }
        match score {
            Some(score) => alarms.extend(
                score
                    .parts
                    .iter()
                    .filter(|part| part.desirability == 0.0)
                    .map(|part| {
                        alarm(
                            row,
                            part.measure.name(),
                            part.value,
                            Some(part.poor),
                            Rule::Target,
                        )
                    }),
            ),
            None => alarms.extend(flag_alarms(row)),
        }
    }
    alarms
}

/// A table carries no targets, but the flags that its measuring raised.
fn flag_alarms(row: &StartRow) -> impl Iterator<Item = Alarm> {
    let measure_of = |flag: &Flag| match flag {
        Flag::Slow | Flag::NotSettled => Some("start_ms"),
        Flag::Wander => Some("wander_v"),
        Flag::Overshoot => Some("overshoot_pct"),
        _ => None,
    };
    row.flags
        .iter()
        .filter_map(measure_of)
        .map(|measure| alarm(row, measure, row.value(measure), None, Rule::Target))
}

fn alarm(
    row: &StartRow,
    measure: &str,
    value: Option<f64>,
    limit: Option<f64>,
    rule: Rule,
) -> Alarm {
    Alarm {
        recording: row.recording.clone(),
        run: row.run,
        start: row.start,
        measure: measure.into(),
        value,
        limit,
        rule,
        why: rule.says().to_owned(),
    }
}

/// What made a start rough: the same three rules that its verdict goes by.
fn why_rough(row: &StartRow, rough_attempts: u32) -> String {
    let count = |measure: &str| row.value(measure).unwrap_or(0.0);
    let (dropouts, attempts) = (count("dropouts"), count("attempts"));
    let mut why = Vec::new();
    if dropouts > 0.0 {
        why.push(counted(dropouts as usize, "dropout"));
    }
    if attempts > f64::from(rough_attempts) {
        why.push(format!("{attempts} attempts"));
    }
    if row.score.is_some_and(|score| score < ROUGH) {
        why.push(format!("score under {ROUGH}"));
    }
    match why.as_slice() {
        [] => Rule::Rough.says().to_owned(),
        _ => format!("{}: {}", Rule::Rough.says(), why.join(", ")),
    }
}

impl Rule {
    /// The rule in the words of the terminal and the page.
    pub(super) fn says(self) -> &'static str {
        match self {
            Rule::NoLight => "no arc held",
            Rule::Rough => "rough",
            Rule::Target => "past the poor end of its target",
            Rule::Individuals => "out of line with the others",
            Rule::Ewma => "going off: the running average is out",
        }
    }
}

/// By rule, and inside a rule the lowest score first; equal ones keep their order.
pub(super) fn worst_first(alarms: &mut [Alarm], rows: &[StartRow]) {
    let scores: BTreeMap<(&str, u32, u32), f64> = rows
        .iter()
        .filter_map(|row| Some(((row.recording.as_str(), row.run, row.start), row.score?)))
        .collect();
    let score = |a: &Alarm| {
        let key = (a.recording.as_str(), a.run, a.start);
        scores.get(&key).copied().unwrap_or(f64::INFINITY)
    };
    alarms.sort_by(|a, b| a.rule.cmp(&b.rule).then(score(a).total_cmp(&score(b))));
}
