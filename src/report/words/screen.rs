//! A screening in words: the answer, why a start is past a limit, what to know before trusting it.

use serde::Serialize;

use crate::format::{counted, measured, percent, short_or_dash, trimmed};
use crate::measure::Measure;
use crate::stats;
use crate::study::{Accepted, Alarm, Chart, Reason, Rule, Sampling, Screening, Wear};
use crate::words::wear;

/// Charts that went out, groups that fail, and copies: more than this are counted, not named.
const NAMED: usize = 3;

/// A screening with its words beside the numbers, as JSON holds it.
#[derive(Debug, Serialize)]
pub struct TellScreening<'a> {
    /// The numbers.
    #[serde(flatten)]
    screening: &'a Screening,
    /// Wear and regrind advice with its sentences, one entry a prep and measure.
    regrind: Vec<TellWear<'a>>,
    /// The answer in plain words.
    answer: String,
    /// What to know before trusting it.
    warnings: Vec<String>,
}

/// A wear answer with its sentence.
#[derive(Debug, Serialize)]
struct TellWear<'a> {
    #[serde(flatten)]
    wear: &'a Wear,
    says: String,
}

impl<'a> TellScreening<'a> {
    /// Puts the words to a screening.
    pub fn new(screening: &'a Screening) -> Self {
        let tell = |wear| TellWear {
            wear,
            says: wear::says(wear),
        };
        TellScreening {
            screening,
            regrind: screening.regrind.iter().map(tell).collect(),
            answer: answer(screening),
            warnings: notes(screening),
        }
    }
}

/// The verdict and the answer, in one line.
pub fn verdict(found: &Screening) -> String {
    let word = if found.pass { "PASS" } else { "NOT PASSED" };
    format!("{word}: {}", answer(found))
}

/// The answer in a few sentences.
pub fn answer(found: &Screening) -> String {
    let mut sentences = Vec::new();
    sentences.extend(not_judged(found));
    sentences.push(headline(found));
    sentences.extend(went_out(&found.charts));
    sentences.extend(failing(found));
    if let Some(accepted) = &found.accepted {
        sentences.push(rate(accepted, found.level));
    } else if found.rough == 0 && found.starts > 0 {
        let upper = 100.0 * stats::zero_events_upper(found.starts as u64, found.level);
        sentences.push(format!(
            "So many clean ones still allow up to {} rough in 100 (one-sided {:.0} % bound).",
            trimmed(upper),
            100.0 * found.level
        ));
    }
    sentences.extend(found.sampling.as_ref().map(sample));
    if !found.not_read.is_empty() {
        let recordings = counted(found.not_read.len(), "recording");
        sentences.push(format!("{recordings} could not be read."));
    }
    if !found.miscounted.is_empty() {
        let recordings = counted(found.miscounted.len(), "recording");
        sentences.push(format!(
            "{recordings} with more or fewer starts than the run sheet gives: which start belongs to which row is not known."
        ));
    }
    sentences.extend(left_out(found));
    sentences.extend(wear::regrind(&found.regrind));
    sentences.join(" ")
}

pub(super) fn not_judged(found: &Screening) -> Option<String> {
    let kinds = [
        (found.doubtful, "doubtful"),
        (found.set_aside, "set aside"),
        (found.unscored, "without a score"),
    ];
    let kinds = kinds.iter().filter(|(count, _)| *count > 0);
    let kinds: Vec<String> = kinds
        .map(|(count, kind)| format!("{count} {kind}"))
        .collect();
    let all = counted(found.not_judged(), "start");
    (found.not_judged() > 0).then(|| format!("{all} cannot be judged ({}).", kinds.join(", ")))
}

pub(super) fn headline(found: &Screening) -> String {
    if found.starts == 0 {
        return "No start was found that can be judged: there is nothing to pass.".into();
    }
    let all = counted(found.starts, "start");
    let (rough, no_light) = (found.rough, found.no_light);
    match (rough, found.past_limits()) {
        (0, 0) if found.pass => format!("Clean: {all}, none rough, none past a limit."),
        (0, 0) => format!("{all}, none rough, none past a limit."),
        (0, past) => format!(
            "{all}, none rough, but {} past a limit.",
            counted(past, "start")
        ),
        _ if no_light > 0 => format!("{rough} of {all} rough, {no_light} of them did not light."),
        _ => format!("{rough} of {all} rough; every one lit."),
    }
}

/// "Getting worse: score of cell 7 since start 31 of a.wav."
fn went_out(charts: &[Chart]) -> Option<String> {
    let began = |chart: &Chart| {
        let k = chart.points.iter().position(|point| point.out)?;
        let point = &chart.points[(k + 1).saturating_sub(chart.points[k].since.max(1))];
        Some(format!(
            "{} of {} from about start {} of {} on",
            label(&chart.measure),
            chart.id,
            point.start,
            point.recording
        ))
    };
    let trends = charts
        .iter()
        .filter(|chart| chart.rule != Rule::Individuals);
    let out: Vec<String> = trends.filter_map(began).collect();
    (!out.is_empty()).then(|| format!("Getting worse: {}.", listed(&out, "more")))
}

/// Which groups fail, where there are several.
pub(super) fn failing(found: &Screening) -> Option<String> {
    let failed: Vec<String> = found
        .groups
        .iter()
        .filter(|group| !group.pass)
        .map(|group| format!("{} ({} of {} rough)", group.id, group.rough, group.starts))
        .collect();
    let several = found.groups.len() > 1 && !failed.is_empty();
    several.then(|| {
        format!(
            "{} of {} by {} not clean, worst first: {}.",
            failed.len(),
            found.groups.len(),
            found.by.join(" and "),
            listed(&failed, "more")
        )
    })
}

fn rate(accepted: &Accepted, level: f64) -> String {
    let (rate, upper) = (percent(accepted.rate), percent(accepted.upper));
    let bound = format!(
        "up to {upper} may be rough (exact one-sided {:.0} % bound)",
        100.0 * level
    );
    match accepted.shown {
        true => format!("The accepted {rate} is kept: {bound}."),
        false => format!(
            "The accepted {rate} is not shown: {bound}. It would take {} starts with no more rough ones.",
            accepted.needed
        ),
    }
}

fn sample(sampling: &Sampling) -> String {
    let plan = format!(
        "{} rough of {} judged in a lot of {}, up to {} allowed (ISO 2859-1, letter {}, AQL {})",
        sampling.rough,
        sampling.judged,
        sampling.lot,
        sampling.accept,
        sampling.letter,
        sampling.aql
    );
    match sampling.accepted {
        Some(true) => format!("The sample passes: {plan}."),
        Some(false) => format!("The sample fails: {plan}."),
        None => format!(
            "The sample is too small, the plan asks for {}: {plan}.",
            sampling.n
        ),
    }
}

/// Recordings left for the next time, and copies.
fn left_out(found: &Screening) -> Vec<String> {
    let mut said = Vec::new();
    if !found.still_written.is_empty() {
        said.push(format!(
            "Still being written and left for the next time: {}.",
            listed(&found.still_written, "more")
        ));
    }
    if !found.copies.is_empty() {
        let pair =
            |copy: &crate::study::Copied| format!("{} (as {})", copy.recording, copy.same_as);
        let copies: Vec<String> = found.copies.iter().map(pair).collect();
        said.push(format!(
            "The same content under another name, counted once: {}.",
            listed(&copies, "more")
        ));
    }
    said
}

/// The first few names, and how many more there are.
pub(crate) fn listed(names: &[String], rest: &str) -> String {
    let more = names.len().saturating_sub(NAMED);
    let mut shown = names[..names.len() - more].join("; ");
    if more > 0 {
        shown += &format!("; and {more} {rest}");
    }
    shown
}

/// What to know before trusting the answer, one sentence each.
pub fn notes(found: &Screening) -> Vec<String> {
    let short = found.short_charts.iter().map(|short| {
        format!(
            "{} has {}, too few for a chart of {}: it takes {}. Strike more, or go on from earlier starts.",
            short.id,
            counted(short.starts, "start"),
            label(&short.measure),
            short.needed
        )
    });
    let miscounted = found.miscounted.iter().map(ToString::to_string);
    let empty = found.empty.iter().cloned();
    miscounted.chain(empty).chain(short).collect()
}

/// Why a start is past a limit, worst reason first.
pub fn why(alarm: &Alarm) -> String {
    let mut said: Vec<String> = Vec::new();
    let rough: Vec<String> = alarm.reasons.iter().filter_map(why_rough).collect();
    for reason in &alarm.reasons {
        let text = match reason.rule {
            Rule::Rough if rough.is_empty() => "rough".to_owned(),
            Rule::Rough => format!("rough: {}", rough.join(", ")),
            _ => of_reason(reason, alarm),
        };
        if !said.contains(&text) {
            said.push(text);
        }
    }
    said.join("; ")
}

fn why_rough(reason: &Reason) -> Option<String> {
    let (value, limit) = (reason.value?, reason.limit?);
    (reason.rule == Rule::Rough).then(|| match reason.measure.as_str() {
        "dropouts" => counted(value as usize, "dropout"),
        "attempts" => counted(value as usize, "attempt"),
        name => format!("{} under {}", label(name), trimmed(limit)),
    })
}

fn of_reason(reason: &Reason, alarm: &Alarm) -> String {
    let name = label(&reason.measure);
    let number = |value: Option<f64>| match value {
        Some(value) => measured(&reason.measure, value),
        None => short_or_dash(None),
    };
    let (value, limit) = (number(reason.value), number(reason.limit));
    match reason.rule {
        Rule::NoLight => "no arc held".to_owned(),
        Rule::Rough => "rough".to_owned(),
        Rule::Target => match (reason.value, reason.limit) {
            (Some(_), Some(_)) => format!("{name} {value}, poor from {limit} on"),
            (None, Some(_)) => format!("{name} not reached, poor from {limit} on"),
            _ => format!("{name} past the poor end of its target"),
        },
        Rule::RankCusum => {
            let since =
                reason
                    .since
                    .as_ref()
                    .map(|since| match since.recording == alarm.recording {
                        true => format!(" since about start {}", since.start),
                        false => {
                            format!(" since about start {} of {}", since.start, since.recording)
                        }
                    });
            format!("{name} getting worse{}", since.unwrap_or_default())
        }
        Rule::Individuals => format!("{name} {value}, limit {limit}"),
        Rule::Ewma => format!("moving average of {name} {value}, limit {limit}"),
    }
}

/// Name of a measure in a sentence.
fn label(measure: &str) -> &str {
    Measure::named(measure).map_or(measure, |known| known.label())
}
