//! Findings of preps against jobs, for a terminal.

use anstyle::{AnsiColor, Style};

use crate::fit::{FitFinding, Level};
use crate::format::trimmed;
use crate::job::{Job, Prep};
use crate::score::{Score, ScorePart, StartRow};
use crate::text::tables::broken;
use crate::text::{TermStyle, plain};
use crate::words;

/// Prep by prep: what was found, why it matters, who says so, what to try.
pub fn preps(job: &Job, findings: &[FitFinding], look: TermStyle) -> String {
    let mut out = String::new();
    for (name, prep) in &job.preps {
        out += &format!("{}\n", look.heading(&heading(name, prep)));
        for finding in findings.iter().filter(|f| f.prep == *name) {
            out += &one(finding, look);
        }
        out.push('\n');
    }
    let between: Vec<_> = findings
        .iter()
        .filter(|f| !job.preps.contains_key(&f.prep))
        .collect();
    if let Some(first) = between.first() {
        let title = format!("{} compared", plain(&first.prep));
        out += &format!("{}\n", look.heading(&title));
        out.extend(between.iter().map(|finding| one(finding, look)));
        out.push('\n');
    }
    let count = |level| findings.iter().filter(|f| f.level() == level).count();
    out += &broken(
        &format!(
            "{} to change, {} to look at, {} to know. Tables disagree and people differ: \
             the recording decides which prep starts better.",
            count(Level::Change),
            count(Level::Look),
            count(Level::Note)
        ),
        look.width,
        "",
    );
    out
}

/// What the sheet says and the measured starts do not; nothing where they agree.
pub fn after(findings: &[FitFinding], look: TermStyle) -> String {
    if findings.is_empty() {
        return String::new();
    }
    let mut out = format!("{}\n", look.heading("The sheet against what was measured"));
    out.extend(findings.iter().map(|finding| one(finding, look)));
    out
}

/// The targets that the starts were held against: one entry a prep and origin.
pub fn targets<'a>(
    scored: impl Iterator<Item = (&'a StartRow, &'a Score)>,
    look: TermStyle,
) -> String {
    let mut sets: Vec<((&str, &str), Vec<String>)> = Vec::new();
    for (row, score) in scored {
        for part in &score.parts {
            let key = (&*row.prep, &*part.origin);
            let at = sets.iter().position(|set| set.0 == key).unwrap_or_else(|| {
                sets.push((key, Vec::new()));
                sets.len() - 1
            });
            let told = in_words(part);
            if !sets[at].1.contains(&told) {
                sets[at].1.push(told);
            }
        }
    }
    if sets.is_empty() {
        return String::new();
    }
    let title = "Targets: good to, poor from, weight in the score";
    let mut out = format!("{}\n", look.heading(title));
    for ((prep, origin), told) in sets {
        let line = format!("{prep}, {origin}: {}.", told.join("; "));
        out += &broken(&plain(&line), look.width, "  ");
    }
    out
}

/// Label, good, poor with its unit, weight, and the shape where it is not 1.
fn in_words(part: &ScorePart) -> String {
    let (label, unit) = (part.measure.label(), part.measure.unit());
    let (good, poor) = (trimmed(part.good), trimmed(part.poor));
    let shape = match part.shape == 1.0 {
        true => String::new(),
        false => format!(", shape {}", trimmed(part.shape)),
    };
    let poor = format!("{poor} {unit}");
    format!(
        "{label} {good}, {}, {}{shape}",
        poor.trim_end(),
        trimmed(part.weight)
    )
}

fn heading(name: &str, prep: &Prep) -> String {
    let columns = prep.columns();
    let told = ["class", "diameter", "taper_deg", "tip", "tip_flat", "marks"].map(|key| {
        let value = columns.get(key)?;
        Some(match key {
            "taper_deg" => format!("{value}° included"),
            "tip" => format!("{value} tip"),
            "tip_flat" => format!("flat of {value}"),
            "marks" => format!("{value} marks"),
            _ => value.clone(),
        })
    });
    let length = prep
        .taper_length()
        .map(|length| format!("taper {length} long"));
    let told: Vec<String> = told.into_iter().flatten().chain(length).collect();
    match told.is_empty() {
        true => plain(name),
        false => plain(&format!("{name}: {}", told.join(", "))),
    }
}

fn one(finding: &FitFinding, look: TermStyle) -> String {
    let (level, remark) = (finding.level(), finding.remark());
    let rows = words::in_rows(&finding.rows);
    let first = format!(
        "{}: {}{rows}: {}",
        level.word(),
        finding.about(),
        remark.what
    );
    // Colour takes no columns, so it comes after the line is broken.
    let word = look.paint(level.word(), style(level));
    let mut text =
        broken(&plain(&ended(&first)), look.width, "  ").replacen(level.word(), &word, 1);
    for (label, told) in [
        ("Why", &remark.why),
        ("Source", &remark.source),
        ("Try", &remark.to_try),
    ] {
        text += &broken(
            &plain(&ended(&format!("{label}: {told}"))),
            look.width,
            "    ",
        );
    }
    text
}

/// The sentence with its full stop, unless it asks.
fn ended(sentence: &str) -> String {
    match sentence.ends_with('?') {
        true => sentence.to_owned(),
        false => format!("{sentence}."),
    }
}

fn style(level: Level) -> Style {
    match level {
        Level::Change => Style::new().bold().fg_color(Some(AnsiColor::Red.into())),
        Level::Look => Style::new().bold(),
        Level::Note => Style::new(),
    }
}
