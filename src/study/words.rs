//! A comparison's answer in the words of the bench.

use crate::measure::{Better, Measure, Quantity};
use crate::study::compare::ROUGH;
use crate::study::warnings::list;
use crate::study::{Comparison, Group, Pair, PairVerdict, RateDifference};

/// The rough-start rate speaks on its own only below this part of 1 − level: it is a second look at
/// the same question, and both together must keep to the chance of a false verdict.
const SECOND_LOOK: f64 = 0.2;

/// Rates this close are alike: a project default, in parts of one.
const RATE_MARGIN: f64 = 0.10;

/// The answer: what the first measure and the rough starts say, in one to three sentences.
pub(super) fn answer(comparison: &Comparison, measure: &str) -> String {
    let pairs: Vec<&Pair> = comparison
        .pairs
        .iter()
        .filter(|p| p.measure == measure)
        .collect();
    match (comparison.groups.as_slice(), pairs.as_slice()) {
        ([only], _) => format!(
            "All starts are of {}: there is nothing to compare it with.",
            only.id
        ),
        _ if !comparison.while_striking.is_empty() => {
            let says = comparison.while_striking.iter().map(|w| w.says.as_str());
            says.collect::<Vec<_>>().join(" ")
        }
        (_, []) => {
            format!("{measure} could not be measured in two groups: there is nothing to compare.")
        }
        ([_, _], [pair]) => two_groups(comparison, pair),
        _ => many_groups(comparison, &pairs),
    }
}

fn two_groups(comparison: &Comparison, pair: &Pair) -> String {
    let rough = comparison
        .rates
        .iter()
        .find(|r| r.event == ROUGH)
        .expect("two groups always have their rates");
    let rough_winner = rough_winner(rough, comparison.level, pair);
    let mut sentences = vec![match (winner(pair), rough_winner) {
        (Some(_), _) => difference(pair, comparison.level),
        (None, Some((better, worse))) => format!(
            "{better} has fewer rough starts than {worse}; in {} they cannot be told apart.",
            label(&pair.measure)
        ),
        (None, None) => no_winner(pair, rough, comparison),
    }];
    sentences.push(rough_counts(&comparison.groups, comparison.level));
    sentences.join(" ")
}

/// (better, worse) by the pair's verdict.
fn winner(pair: &Pair) -> Option<(&str, &str)> {
    match pair.verdict {
        PairVerdict::ABetter => Some((&pair.a, &pair.b)),
        PairVerdict::BBetter => Some((&pair.b, &pair.a)),
        _ => None,
    }
}

fn rough_winner<'a>(
    rough: &'a RateDifference,
    level: f64,
    pair: &Pair,
) -> Option<(&'a str, &'a str)> {
    let clear = rough.p < SECOND_LOOK * (1.0 - level) && pair.better != Better::Neither;
    clear.then_some(if rough.diff > 0.0 {
        (&rough.a, &rough.b)
    } else {
        (&rough.b, &rough.a)
    })
}

/// "B starts better than A: score higher by 12 points (5 to 20 at 95 %), median 81 against 69."
fn difference(pair: &Pair, level: f64) -> String {
    let Some((better, worse)) = winner(pair) else {
        unreachable!("only a pair with a winner is told as a difference");
    };
    let (m_better, m_worse) = if better == pair.a {
        (pair.median_a, pair.median_b)
    } else {
        (pair.median_b, pair.median_a)
    };
    let verb = match (pair.measure.as_str(), pair.better) {
        (_, Better::Neither) => "reads lower than",
        ("score", _) => "starts better than",
        ("start_ms", _) => "starts faster than",
        _ => "is better than",
    };
    let by = match interval(pair, level) {
        Some(range) if pair.shift != 0.0 => {
            let side = if (pair.shift > 0.0) == (better == pair.b) {
                "higher"
            } else {
                "lower"
            };
            format!(
                "{} {side} by {} ({range})",
                label(&pair.measure),
                quantity(&pair.measure, pair.shift.abs())
            )
        }
        _ => format!(
            "{} differs more often than chance gives",
            label(&pair.measure)
        ),
    };
    format!(
        "{better} {verb} {worse}: {by}, median {} against {}.",
        number(m_better),
        number(m_worse)
    )
}

/// "5 to 20 at 95 %", ends as sizes of the difference where they share its side.
fn interval(pair: &Pair, level: f64) -> Option<String> {
    let (lo, hi) = (pair.shift_lo?, pair.shift_hi?);
    let (lo, hi) = if pair.shift < 0.0 {
        (-hi, -lo)
    } else {
        (lo, hi)
    };
    Some(format!(
        "{} to {} at {} %",
        number(lo),
        number(hi),
        percent(level)
    ))
}

fn no_winner(pair: &Pair, rough: &RateDifference, comparison: &Comparison) -> String {
    let alike = rough.diff_lo > -RATE_MARGIN && rough.diff_hi < RATE_MARGIN;
    let name = label(&pair.measure);
    match pair.verdict {
        PairVerdict::NoDifference if alike => format!(
            "No difference worth having between {} and {}: {name} within {}, and rough starts within {} in 100.",
            pair.a,
            pair.b,
            margin_text(pair),
            percent(RATE_MARGIN)
        ),
        PairVerdict::NoDifference => format!(
            "The usual start of {} and {} is alike ({name} within {}), but there are not enough starts to say the same of rough ones ({}).",
            pair.a,
            pair.b,
            margin_text(pair),
            rough_range(rough)
        ),
        _ => not_enough(pair, comparison.level),
    }
}

fn margin_text(pair: &Pair) -> String {
    pair.margin
        .map_or_else(|| "nothing".into(), |m| quantity(&pair.measure, m))
}

/// "the difference may be 3 fewer to 20 more in 100"
fn rough_range(rough: &RateDifference) -> String {
    let side = |x: f64| {
        let many = (100.0 * x.abs()).round();
        if x < 0.0 {
            format!("{many:.0} fewer")
        } else {
            format!("{many:.0} more")
        }
    };
    format!(
        "{} may have {} to {} in 100 than {}",
        rough.b,
        side(rough.diff_lo),
        side(rough.diff_hi),
        rough.a
    )
}

fn not_enough(pair: &Pair, level: f64) -> String {
    let seen = match (pair.shift_lo, pair.shift_hi) {
        (Some(lo), Some(hi)) => format!(
            "{} of {} less that of {} lies between {} and {} at {} %",
            label(&pair.measure),
            pair.b,
            pair.a,
            number(lo),
            quantity(&pair.measure, hi),
            percent(level)
        ),
        _ => format!(
            "{} against {} cannot bound a difference at all",
            pair.n_a, pair.n_b
        ),
    };
    let more = match pair.more_starts {
        Some(n) => format!("About {n} more of each would tell, if it goes on like this."),
        None => "No number of starts in reach would tell: they are too alike to matter, or a margin must be named.".into(),
    };
    format!(
        "Not enough starts to tell {} from {}: {seen}. {more}",
        pair.a, pair.b
    )
}

/// "Rough starts: A 2 of 40; B 0 of 12, which still allows up to 26.5 in 100 (95 % interval)."
fn rough_counts(groups: &[Group], level: f64) -> String {
    let each: Vec<String> = groups
        .iter()
        .map(|group| {
            if group.rough > 0 {
                return format!("{} {} of {}", group.id, group.rough, group.starts);
            }
            // The end of the interval that stands in the table, so that there is one bound and not two.
            format!(
                "{} 0 of {}, which still allows up to {} in 100 ({} % interval)",
                group.id,
                group.starts,
                number(100.0 * group.rough_hi),
                percent(level)
            )
        })
        .collect();
    format!("Rough starts: {}.", each.join("; "))
}

fn many_groups(comparison: &Comparison, pairs: &[&Pair]) -> String {
    let beats = |id: &str| {
        pairs
            .iter()
            .filter(|p| winner(p).is_some_and(|w| w.0 == id))
            .count()
    };
    let others = comparison.groups.len() - 1;
    let first = match comparison.groups.iter().find(|g| beats(&g.id) == others) {
        Some(best) => {
            let rest: Vec<String> = comparison
                .groups
                .iter()
                .filter(|g| g.id != best.id)
                .map(|g| g.id.clone())
                .collect();
            format!(
                "{} is better than {} in {}.",
                best.id,
                list(&rest),
                label(&pairs[0].measure)
            )
        }
        None => some_pairs(pairs),
    };
    format!(
        "{first} {}",
        rough_counts(&comparison.groups, comparison.level)
    )
}

/// Which pairs can be told apart and which not, where no group beats all others.
fn some_pairs(pairs: &[&Pair]) -> String {
    let told: Vec<String> = pairs
        .iter()
        .filter_map(|p| winner(p))
        .map(|(better, worse)| format!("{better} is better than {worse}"))
        .collect();
    let open: Vec<&&Pair> = pairs
        .iter()
        .filter(|p| p.verdict == PairVerdict::NotEnough)
        .collect();
    let name = label(&pairs[0].measure);
    let mut text = match (told.as_slice(), open.len()) {
        ([], 0) => return format!("No difference worth having in {name} between any two of them."),
        ([], _) => format!("No winner yet in {name}."),
        _ => format!("In {name} {}.", list(&told)),
    };
    if !open.is_empty() {
        let names: Vec<String> = open
            .iter()
            .map(|p| format!("{} from {}", p.a, p.b))
            .collect();
        text += &format!(" Not enough starts to tell {}", list(&names));
        let most = open.iter().map(|p| p.more_starts).max().flatten();
        text += &most.map_or(".".into(), |n| format!(": about {n} more of each."));
    }
    text
}

/// Short name of a measure for people.
pub(super) fn label(measure: &str) -> &str {
    Measure::named(measure).map_or(measure, |known| known.label())
}

/// A value with its unit.
pub(super) fn quantity(measure: &str, value: f64) -> String {
    let unit = match measure {
        "score" => "points",
        _ => Quantity::named(measure).unit(),
    };
    format!("{} {unit}", number(value)).trim_end().to_string()
}

/// Three digits that count, and no more decimals than help.
pub(super) fn number(value: f64) -> String {
    let decimals = match value.abs() {
        x if x >= 100.0 => 0,
        x if x >= 10.0 => 1,
        x if x >= 1.0 => 2,
        _ => 3,
    };
    let text = format!("{value:.decimals$}");
    let text = if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.')
    } else {
        &text
    };
    if text == "-0" {
        "0".into()
    } else {
        text.replace('-', "−")
    }
}

fn percent(part: f64) -> String {
    number(100.0 * part)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_has_three_digits_that_count_and_no_decimals_for_show() {
        let cases = [
            (123.4, "123"),
            (100.04, "100"),
            (12.34, "12.3"),
            (1.234, "1.23"),
            (0.1234, "0.123"),
            (2.0, "2"),
            (-0.0001, "0"),
            (-5.25, "−5.25"),
        ];
        for (value, text) in cases {
            assert_eq!(number(value), text);
        }
    }
}
