//! The screening's answer in a few sentences.

use crate::format::{counted, trimmed as number};
use crate::score::StartRow;
use crate::stats;
use crate::study::screen::is_rough;

use crate::study::{Sampling, Screening};

pub(super) fn answer(screening: &Screening, rows: &[StartRow]) -> String {
    let starts = screening.starts;
    if starts == 0 {
        return "No start was found: there is nothing to pass.".into();
    }
    let all = counted(starts, "start");
    let rough = rows.iter().filter(|r| is_rough(r)).count();
    let no_light = rows.iter().filter(|r| !r.lit()).count();
    let mut sentences = vec![match (rough, screening.pass) {
        (0, true) => format!("Clean: {all}, none rough, none past a limit."),
        (0, false) if screening.alarms.is_empty() => {
            format!("{all}, none rough, but not all could be judged.")
        }
        (0, false) => format!(
            "{all}, none rough, but {} past a limit.",
            times(screening.alarms.len())
        ),
        _ if no_light > 0 => {
            format!("{rough} of {all} rough, {no_light} of them did not light.")
        }
        _ => format!("{rough} of {all} rough; every one lit."),
    }];
    if rough == 0 {
        let upper = 100.0 * stats::zero_events_upper(starts as u64, 0.95);
        sentences.push(format!(
            "So many clean ones still allow up to {} rough in 100 (one-sided 95 % bound).",
            number(upper)
        ));
    }
    if let Some(sampling) = &screening.sampling {
        sentences.push(sampling_sentence(sampling));
    }
    if !screening.not_read.is_empty() {
        let recordings = counted(screening.not_read.len(), "recording");
        sentences.push(format!("{recordings} could not be read."));
    }
    sentences.join(" ")
}

fn times(count: usize) -> String {
    match count {
        1 => "once".to_owned(),
        many => format!("{many} times"),
    }
}

fn sampling_sentence(sampling: &Sampling) -> String {
    let plan = format!(
        "{} rough of {} drawn from {}, up to {} allowed (ISO 2859-1, letter {}, AQL {})",
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
            "The sample is too small, {} are asked for: {plan}.",
            sampling.n
        ),
    }
}
