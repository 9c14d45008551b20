//! A rehearsal, in the words of the bench.

use crate::format::{Digits, counted, list, measured, percent, quantity, short, trimmed};
use crate::job::Rehearsed;
use crate::measure::Measure;
use crate::rehearsal::{Cause, Part, Rehearsal, Shows, Smallest, SmallestRate, Spread, Worst};

/// What was made, and of what.
pub fn made(of: &Rehearsal) -> String {
    let about = &of.of;
    let voltage = match about.voltage {
        true => "",
        false => ", current only",
    };
    format!(
        "{} of {} A ({}{voltage}) and {} of less made and laid onto {} s of rest from {}, {} samples a second.",
        counted(of.found.of, "start"),
        trimmed(about.run_a),
        about.process,
        of.made - of.found.of,
        short(about.rest_s),
        counted(about.recordings.len(), "recording"),
        trimmed(about.rate_hz),
    )
}

/// How many were found, doubted and invented.
pub fn found(of: &Rehearsal) -> String {
    let rest = of.false_starts;
    let invented = match rest.count {
        0 => "No false start".to_owned(),
        n => counted(n, "false start"),
    };
    format!(
        "Found {} of the first{}; {} of those doubtful. {invented} in {} min of rest: at most {} an hour.",
        of_all(of.found),
        interval(of.found),
        of_all(of.doubtful),
        trimmed(rest.rest_s / 60.0),
        short(rest.per_hour_hi),
    )
}

fn of_all(part: Part) -> String {
    match part.count {
        count if count == part.of => format!("all {count}"),
        0 => "none".to_owned(),
        count => format!("{count} of {}", part.of),
    }
}

fn interval(part: Part) -> String {
    match part.count == part.of {
        true => format!(" (at least {})", percent(part.lo)),
        false => format!(" ({} to {})", percent(part.lo), percent(part.hi)),
    }
}

/// The smallest things that show.
pub fn shows(of: &Rehearsal) -> Vec<String> {
    let line = |what: &str, unit: &str, shows: &Shows| {
        let part = shows.found?;
        Some(format!(
            "The {what} that shows: {} {unit} ({} from there on).",
            short(shows.from?),
            match part.count == part.of {
                true => format!("all {} found", part.of),
                false => format!("{} of {} found", part.count, part.of),
            },
        ))
    };
    let none = |what: &str, shows: &Shows, unit: &str| match shows.made.1 > 0.0 {
        true => Some(format!(
            "No {what} shows: the largest made was {} {unit}.",
            short(shows.made.1)
        )),
        false => None,
    };
    let (current, dropout) = (&of.smallest_current_a, &of.shortest_dropout_ms);
    let current = line("smallest current", "A", current).or(none("small current", current, "A"));
    let dropout = line("shortest dropout", "ms", dropout).or(none("dropout", dropout, "ms"));
    let counts = of.counts.iter().map(|count| {
        format!(
            "{} counted right in {}{}.",
            capital(count.measure.label()),
            of_all(count.right),
            interval(count.right)
        )
    });
    counts.chain(current).chain(dropout).collect()
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().into_iter().flat_map(char::to_uppercase);
    first.chain(letters).collect()
}

/// What a plan of this many tips and starts shows.
pub fn answer(of: &Rehearsal) -> Vec<String> {
    let smallest = of.smallest.iter().map(difference);
    let rate = of.smallest_rate.as_ref().map(rough_rates);
    smallest.chain(rate).collect()
}

fn rough_rates(rate: &SmallestRate) -> String {
    let told = match rate.from {
        Some(from) => format!(
            "Rough starts: {} told from {}",
            percent(from),
            percent(rate.at)
        ),
        None => format!("Rough starts: no rate is told from {}", percent(rate.at)),
    };
    let misjudged = match rate.missed + rate.invented > 0.0 {
        true => format!(
            " ({} of rough ones are missed here, {} of others taken for rough)",
            percent(rate.missed),
            percent(rate.invented)
        ),
        false => String::new(),
    };
    format!("{told}{misjudged}.")
}

fn difference(of: &Smallest) -> String {
    let name = of.measure.name();
    let alone = measured(name, of.logger_alone);
    let label = capital(of.measure.label());
    let at = measured(name, of.at);
    match (of.see, of.logger_share) {
        (Some(see), Some(share)) => format!(
            "{label}: a difference of {} at {at}, of whose spread {} is the logger's (starts all alike would show {alone}).",
            measured(name, see),
            percent(share),
        ),
        _ => format!(
            "{label}: {alone} at {at} if starts were all alike; the recordings hold too few starts to tell how they differ."
        ),
    }
}

/// The limits of a spread, in the digits of another: "−0.2 to 0.4".
pub fn limits(spread: &Spread, digits: Digits) -> String {
    format!("{} to {}", digits.write(spread.lo), digits.write(spread.hi))
}

/// What most of a measure's error comes from: "hum: ±0.6, without it ±0.2".
pub fn worst(of: &Worst) -> String {
    let digits = |spread: &Spread| format!("±{}", short(spread.reach()));
    format!(
        "{}: {}, without {}",
        cause(of.cause),
        digits(&of.with),
        digits(&of.without)
    )
}

/// A cause's name.
pub fn cause(of: Cause) -> &'static str {
    match of {
        Cause::Noise => "noise",
        Cause::Hum => "hum",
        Cause::Zero => "zero",
        Cause::Open => "sparks",
        Cause::Ripple => "ripple",
        Cause::Steps => "steps",
    }
}

/// One line for a page: how sure a start time and a wander are.
pub fn how_sure(of: &Rehearsed) -> String {
    let sure = [
        (Measure::StartMs, of.u_start_ms),
        (Measure::WanderV, of.u_wander_v),
    ];
    let sure = sure.into_iter().filter_map(|(measure, u)| {
        Some(format!(
            "{} to within {}",
            measure.label(),
            quantity(measure.name(), u?)
        ))
    });
    let sure: Vec<String> = sure.collect();
    match sure.is_empty() {
        true => {
            "Rehearsed on this logger: neither start time nor wander could be measured.".to_owned()
        }
        false => format!("Rehearsed on this logger: {} (k = 2).", list(&sure)),
    }
}
