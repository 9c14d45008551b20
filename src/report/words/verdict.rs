//! The verdict in a few bold words, and the one reason for it: what stands at the head of the page.

use crate::format::{counted, label, list};
use crate::measure::Better;
use crate::score::{StartRow, Verdict};
use crate::study::{About, Comparison, Confounder, Event, Pair, PairVerdict, Screening, Warning};
use crate::words::comparison::{may_explain, no_winner, rough_winner};
use crate::words::lead::{clauses, tips, winner};
use crate::words::pieces::rough_counts;
use crate::words::screen;

/// How good the news is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tone {
    /// A clear answer, or a pass.
    Clear,
    /// Not passed.
    Failed,
    /// Nothing can be said yet, or it is doubtful.
    Open,
}

/// The verdict of a page.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Headline {
    /// The verdict in a few words.
    pub words: String,
    /// The one reason, a sentence.
    pub reason: String,
    /// How good the news is.
    pub tone: Tone,
}

impl Headline {
    fn new(tone: Tone, words: impl Into<String>, reason: impl Into<String>) -> Headline {
        Headline {
            words: words.into(),
            reason: reason.into(),
            tone,
        }
    }
}

/// The measure that a headline may rest on: the one that answers, unless scores are on different targets, which cannot
/// be held against each other; then the start time.
pub fn measure_of(comparison: &Comparison) -> &str {
    match comparison.answers.as_str() {
        "score" if targets_differ(comparison) => "start_ms",
        answers => answers,
    }
}

fn targets_differ(comparison: &Comparison) -> bool {
    comparison.warnings.contains(&Warning::Targets)
}

/// The headline of a comparison.
pub fn of_comparison(comparison: &Comparison) -> Headline {
    let counted_starts: usize = comparison.groups.iter().map(|group| group.starts).sum();
    if comparison.doubtful > counted_starts {
        let reason = format!(
            "{} cannot be trusted, and only {counted_starts} can.",
            counted(comparison.doubtful, "start")
        );
        return Headline::new(Tone::Open, "Doubtful: no verdict", reason);
    }
    let measure = measure_of(comparison);
    let pairs: Vec<&Pair> = comparison
        .pairs
        .iter()
        .filter(|p| p.measure == measure)
        .collect();
    let mut said = match (comparison.groups.as_slice(), pairs.as_slice()) {
        ([only], _) => Headline::new(
            Tone::Open,
            format!("Nothing to compare: only {}", only.id),
            "A comparison takes starts of two preps or more.",
        ),
        (_, []) => Headline::new(
            Tone::Open,
            "Too early to tell",
            format!(
                "The {} could not be measured in two groups.",
                label(measure)
            ),
        ),
        ([_, _], [pair]) => two(comparison, pair),
        _ => many(comparison, &pairs),
    };
    if measure != comparison.answers {
        said.reason = format!(
            "Their scores are held against different targets, so they make no headline. {}",
            said.reason
        );
    }
    said
}

fn two(comparison: &Comparison, pair: &Pair) -> Headline {
    let rough = comparison.rates.iter().find(|r| r.event == Event::Rough);
    let rough = rough.and_then(|rough| rough_winner(rough, comparison.level, pair));
    let (words, reason) = match (winner(pair), rough) {
        (Some((better, worse)), _) => {
            let said = capital(&clauses(comparison, pair, better, worse));
            let said = format!("{said}; from {}.", tips(pair));
            (beats(pair, better, worse), said)
        }
        (None, Some((better, worse))) => (
            format!("{better} has fewer rough starts than {worse}"),
            rough_counts(&comparison.groups, comparison.level),
        ),
        (None, None) => {
            let words = match pair.verdict {
                PairVerdict::NoDifference => {
                    format!(
                        "No difference worth having between {} and {}",
                        pair.a, pair.b
                    )
                }
                _ => format!("Too early to tell: {} or {}", pair.a, pair.b),
            };
            let tone = match pair.verdict {
                PairVerdict::NoDifference => Tone::Clear,
                _ => Tone::Open,
            };
            return Headline::new(tone, words, no_winner(pair, comparison));
        }
    };
    doubted(comparison, words, reason)
}

/// "A better than B", as far as the measure and the tips carry it.
fn beats(pair: &Pair, better: &str, worse: &str) -> String {
    let verb = match (pair.measure.as_str(), pair.better) {
        (_, Better::Neither) => "reads lower than",
        ("score", _) => "better than",
        ("start_ms", _) => "starts faster than",
        _ => "better than",
    };
    match pair.about {
        About::Prep => format!("{better} {verb} {worse}"),
        About::Tips => format!("{better} {verb} {worse}, on these tips only"),
    }
}

/// A verdict that something else may explain is doubtful, and says so in the headline.
fn doubted(comparison: &Comparison, words: String, reason: String) -> Headline {
    let mut about = may_explain(comparison);
    about.retain(|confounder| *confounder != Confounder::Targets);
    let about: Vec<String> = about.iter().map(|c| c.words().to_owned()).collect();
    match about.as_slice() {
        [] => Headline::new(Tone::Clear, words, reason),
        about => Headline::new(
            Tone::Open,
            format!("{words}, but doubtful"),
            format!("{reason} But {} may explain it.", list(about)),
        ),
    }
}

fn many(comparison: &Comparison, pairs: &[&Pair]) -> Headline {
    let beaten = |id: &str| -> Vec<String> {
        let won = pairs.iter().filter_map(|pair| winner(pair));
        won.filter(|(better, _)| *better == id)
            .map(|(_, worse)| worse.to_owned())
            .collect()
    };
    let groups = comparison.groups.iter().map(|group| group.id.as_str());
    let best = groups.max_by_key(|id| beaten(id).len());
    let counts = rough_counts(&comparison.groups, comparison.level);
    match best.map(|id| (id, beaten(id))) {
        Some((id, beaten)) if !beaten.is_empty() => doubted(
            comparison,
            format!("{id} better than {}", list(&beaten)),
            counts,
        ),
        _ if pairs.iter().all(|p| p.verdict == PairVerdict::NoDifference) => Headline::new(
            Tone::Clear,
            "No difference worth having between any two",
            counts,
        ),
        _ => Headline::new(Tone::Open, "Too early to tell", counts),
    }
}

/// The headline of a screening.
pub fn of_screening(found: &Screening) -> Headline {
    let unread = || {
        format!(
            "{} could not be read.",
            counted(found.not_read.len(), "recording")
        )
    };
    let (tone, words) = match found {
        _ if found.pass => (Tone::Clear, "PASSED"),
        _ if found.starts == 0 => (Tone::Open, "CANNOT BE JUDGED"),
        _ if found.alarms.is_empty() && found.doubtful > 0 => (Tone::Open, "NOT PASSED: doubtful"),
        _ if !found.over_limits => (Tone::Open, "NOT PASSED: not everything could be read"),
        _ => (Tone::Failed, "NOT PASSED"),
    };
    let reason = match found.alarms.is_empty() {
        true if !found.pass && found.starts > 0 => {
            let unjudged = screen::not_judged(found);
            let unread = (!found.not_read.is_empty()).then(unread);
            let note = screen::notes(found).into_iter().next();
            let reason = unjudged.or(unread).or(note);
            reason.unwrap_or_else(|| screen::headline(found))
        }
        _ => {
            let groups = screen::failing(found).map(|groups| format!(" {groups}"));
            screen::headline(found) + &groups.unwrap_or_default()
        }
    };
    Headline::new(tone, words, reason)
}

/// The headline of starts that are neither compared nor screened: one sentence. `worst` is what cost the worst its score.
pub fn of_starts(rows: &[StartRow], worst: Option<String>) -> Headline {
    let counts = |row: &&StartRow| row.exclude.is_none() && row.doubt.is_none();
    let judged: Vec<&StartRow> = rows.iter().filter(counts).collect();
    let of = |word| {
        judged
            .iter()
            .filter(|row| row.verdict == Some(word))
            .count()
    };
    let (all, no_light) = (judged.len(), of(Verdict::NoLight));
    let rough = of(Verdict::Rough) + no_light;
    let reason = worst.unwrap_or_else(|| "Nothing cost any of them more than a point.".into());
    let starts = counted(all, "start");
    match (all, rough) {
        (0, _) if rows.is_empty() => Headline::new(
            Tone::Open,
            "No start was found",
            "There is nothing to judge.",
        ),
        (0, _) => Headline::new(
            Tone::Open,
            "Doubtful: no start can be counted",
            format!(
                "{} set aside or not to be trusted.",
                counted(rows.len(), "start")
            ),
        ),
        (_, 0) if of(Verdict::Crisp) == all => {
            Headline::new(Tone::Clear, format!("{starts}, all crisp"), reason)
        }
        (_, 0) => Headline::new(Tone::Clear, format!("{starts}, none rough"), reason),
        _ => Headline::new(
            Tone::Failed,
            format!("{} of {starts}", rough_words(rough, no_light)),
            reason,
        ),
    }
}

/// "5 rough, 1 of them did not light".
pub fn rough_words(rough: usize, no_light: usize) -> String {
    match (rough, no_light) {
        (0, _) => "none rough".to_owned(),
        (rough, 0) => format!("{rough} rough"),
        (rough, dark) if rough == dark => format!(
            "{rough} rough, {} did not light",
            if rough == 1 { "it" } else { "all" }
        ),
        (rough, dark) => format!("{rough} rough, {dark} of them did not light"),
    }
}

/// With a capital, as a sentence begins.
fn capital(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().map(char::to_uppercase);
    first.into_iter().flatten().chain(letters).collect()
}

#[cfg(test)]
#[path = "verdict_tests.rs"]
mod tests;
