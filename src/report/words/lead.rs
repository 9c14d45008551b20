//! The headline: what a welder feels first, then the score.

use crate::format::{Digits, counted, label, unit};
use crate::measure::Better;
use crate::study::{About, Comparison, Group, Pair, PairVerdict};

/// Told first, in this order.
const FELT: [&str; 2] = ["start_ms", "wander_v"];

/// (better, worse) by the pair's verdict.
pub(super) fn winner(pair: &Pair) -> Option<(&str, &str)> {
    match pair.verdict {
        PairVerdict::ABetter => Some((&pair.a, &pair.b)),
        PairVerdict::BBetter => Some((&pair.b, &pair.a)),
        _ => None,
    }
}

/// "A starts better than B: 26 ms sooner (9 to 44), 0.15 V less wander (0.08 to 0.21), 0 of 24 starts rough against 7 of
/// 24, score 21 points higher (12 to 30)."
pub(super) fn headline(comparison: &Comparison, pair: &Pair, better: &str, worse: &str) -> String {
    let verb = match (pair.measure.as_str(), pair.better, pair.about) {
        (_, Better::Neither, _) => "reads lower than",
        ("score", _, About::Prep) => "starts better than",
        ("score", _, About::Tips) => "started better than",
        ("start_ms", _, _) => "starts faster than",
        _ => "is better than",
    };
    let clauses = clauses(comparison, pair, better, worse);
    format!("{better} {verb} {worse}: {clauses}.")
}

/// What speaks for the better group: what a welder feels, then the measure that answers.
pub(super) fn clauses(comparison: &Comparison, pair: &Pair, better: &str, worse: &str) -> String {
    let of_two = |p: &&Pair| p.a == pair.a && p.b == pair.b;
    let felt = FELT
        .iter()
        .filter(|name| **name != pair.measure)
        .filter_map(|name| {
            let own = comparison
                .pairs
                .iter()
                .filter(of_two)
                .find(|p| p.measure == *name)?;
            Some(clause(own, better))
        });
    let mut clauses = match pair.measure.as_str() {
        "score" | "start_ms" | "wander_v" => felt.collect(),
        _ => Vec::new(),
    };
    if FELT.contains(&pair.measure.as_str()) {
        clauses.insert(0, clause(pair, better));
    }
    if pair.better != Better::Neither {
        clauses.extend(rough(&comparison.groups, better, worse));
    }
    if !FELT.contains(&pair.measure.as_str()) {
        clauses.push(clause(pair, better));
    }
    clauses.join(", ")
}

/// "26 ms sooner (9 to 44)", seen from the better group.
fn clause(pair: &Pair, better: &str) -> String {
    let sign = if better == pair.b { 1.0 } else { -1.0 };
    let (Some(lo), Some(hi)) = (pair.shift_lo, pair.shift_hi) else {
        return format!("{} without an interval", label(&pair.measure));
    };
    if lo <= 0.0 && hi >= 0.0 {
        return format!("{} not told apart", label(&pair.measure));
    }
    let digits = Digits::of(pair.shift, Some(lo), Some(hi));
    let size = |x: f64| digits.write(x.abs());
    let (near, far) = if pair.shift > 0.0 { (lo, hi) } else { (hi, lo) };
    let by = format!("{} {}", size(pair.shift), unit(&pair.measure));
    let by = by.trim_end();
    let range = format!("({} to {})", size(near), size(far));
    let more = pair.shift * sign > 0.0;
    match (pair.measure.as_str(), more) {
        ("start_ms", false) => format!("{by} sooner {range}"),
        ("start_ms", true) => format!("{by} later {range}"),
        ("wander_v", false) => format!("{by} less wander {range}"),
        ("wander_v", true) => format!("{by} more wander {range}"),
        (measure, true) => format!("{} {by} higher {range}", label(measure)),
        (measure, false) => format!("{} {by} lower {range}", label(measure)),
    }
}

/// "0 of 24 starts rough against 7 of 24".
fn rough(groups: &[Group], better: &str, worse: &str) -> Option<String> {
    let of = |id: &str| groups.iter().find(|group| group.id == id);
    let (first, second) = (of(better)?, of(worse)?);
    Some(format!(
        "{} of {} starts rough against {} of {}",
        first.rough, first.starts, second.rough, second.starts
    ))
}

/// "6 tips each, 4 starts on a tip", "6 tips of A and 5 of B, about 4 starts on a tip".
pub(super) fn tips(pair: &Pair) -> String {
    let tips = match pair.tips_a == pair.tips_b {
        true => format!("{} each", counted(pair.tips_a, "tip")),
        false => format!(
            "{} of {} and {} of {}",
            counted(pair.tips_a, "tip"),
            pair.a,
            pair.tips_b,
            pair.b
        ),
    };
    let (starts, all) = (pair.n_a + pair.n_b, pair.tips_a + pair.tips_b);
    let each = counted((starts + all / 2) / all, "start");
    let about = if starts % all == 0 { "" } else { "about " };
    format!("{tips}, {about}{each} on a tip")
}
