//! One start's score in words, line by line.

use crate::flag::Flag;
use crate::measure::{Kind, Measure};
use crate::score::desirability::{CRISP, ROUGH};
use crate::score::{Score, ScorePart, StartRow, Verdict};

/// Says in plain words how a start came by its score and its verdict, the costliest measure first.
pub fn explain(row: &StartRow, score: &Score) -> Vec<String> {
    let mut lines = vec![format!(
        "Start {}, prep {}: {:.0} of 100, {}.",
        row.named(),
        row.prep,
        score.value,
        score.verdict.word()
    )];
    lines.push(because(row, score));
    let mut parts: Vec<&ScorePart> = score.parts.iter().collect();
    parts.sort_by(|a, b| b.cost.total_cmp(&a.cost));
    if let Some(worst) = parts.first().filter(|p| p.cost >= 0.5) {
        lines.push(format!(
            "The {} cost the most: with it as good as it need be, the score would be {:.0}.",
            worst.measure.label(),
            score.value + worst.cost
        ));
    }
    lines.extend(parts.iter().map(|part| part_line(part)));
    if !score.missing.is_empty() {
        let labels: Vec<&str> = score.missing.iter().map(|m| m.label()).collect();
        lines.push(format!(
            "Not measured, and left out with its weight: {}. The score is made of {} of {} measures.",
            labels.join(", "),
            score.parts.len(),
            score.parts.len() + score.missing.len()
        ));
    }
    if row.flags.contains(&Flag::SlowRate) {
        lines.push(format!("The sample rate is too low for {}.", too_fast(row)));
    }
    lines
}

/// What a sample rate spoilt: the measures that it leaves empty, else the wander band that it cuts.
fn too_fast(row: &StartRow) -> String {
    let m = &row.measures;
    let written_ac = row.sheet.get("process").is_some_and(|p| p == "ac");
    let spoilt = [
        ("the rise", m.rise_ms().is_none()),
        ("the measures of AC", written_ac && m.ac_hz().is_none()),
    ];
    let names: Vec<&str> = spoilt
        .into_iter()
        .filter_map(|(name, empty)| empty.then_some(name))
        .collect();
    match names.is_empty() {
        true => "the top of the wander band".to_owned(),
        false => names.join(" and "),
    }
}

/// What decided the word.
fn because(row: &StartRow, score: &Score) -> String {
    let attempts = row.measures.attempts().unwrap_or(0.0);
    let dropouts = row.measures.dropouts().unwrap_or(0.0);
    let mut reasons = Vec::new();
    match score.verdict {
        Verdict::Doubtful => reasons.extend(row.doubt.as_deref().map(str::to_owned)),
        Verdict::NoLight => reasons.push("no arc held".to_owned()),
        Verdict::Crisp => reasons.push(format!("{CRISP} or more, first attempt, no dropout")),
        Verdict::Rough => {
            if score.value < ROUGH {
                reasons.push(format!("the score is under {ROUGH}"));
            }
            if dropouts > 0.0 {
                reasons.push(format!("it dropped out ({dropouts}×) after it was lit"));
            }
            if attempts > f64::from(score.rough_attempts) {
                let allowed = score.rough_attempts;
                reasons.push(format!("{attempts} attempts are more than {allowed}"));
            }
        }
        Verdict::Fair => {
            if score.value < CRISP {
                reasons.push(format!("the score is under {CRISP}"));
            }
            if attempts > 1.0 {
                reasons.push(format!("it took {attempts} attempts"));
            }
            if row.measures.attempts().is_none() || row.measures.dropouts().is_none() {
                reasons.push("attempts or dropouts could not be counted".to_owned());
            }
        }
    }
    format!("{}: {}.", capital(score.verdict.word()), reasons.join("; "))
}

fn part_line(part: &ScorePart) -> String {
    let found = match part.value {
        Some(value) => amount(part.measure, value),
        None => "did not settle".to_owned(),
    };
    format!(
        "- {}: {found}; good to {}, poor from {}; desirability {:.2}, weight {}, cost {:.1} points. Targets: {}.",
        part.measure.label(),
        amount(part.measure, part.good),
        amount(part.measure, part.poor),
        part.desirability,
        part.weight,
        part.cost,
        part.origin
    )
}

/// A value to three figures, with its unit.
fn amount(measure: Measure, value: f64) -> String {
    let digits = match value.abs() {
        _ if measure.kind() == Kind::Count => 0,
        v if v >= 100.0 => 0,
        v if v >= 10.0 => 1,
        _ => 2,
    };
    format!("{value:.digits$} {}", measure.unit())
        .trim_end()
        .to_owned()
}

fn capital(word: &str) -> String {
    let mut letters = word.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}
