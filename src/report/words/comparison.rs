//! A comparison's answer.

use crate::format::{Digits, counted, label, list, percent, quantity, trimmed, unit};
use crate::measure::Better;
use crate::study::plan::SECOND_QUESTION;
use crate::study::{
    About, Comparison, Confounder, Event, OTHERS, Pair, PairVerdict, RATE_MARGIN, RateDifference,
    Warning, Withheld, tips_to_begin_with,
};
use crate::words::lead::{headline, tips, winner};
use crate::words::pieces::{grinds, more, rough_counts};
use crate::words::sequential;
use crate::words::several::{each_against_others, many_groups};

/// The answer in a few sentences: what it is, what it rests on, what may mislead.
pub fn answer(comparison: &Comparison) -> String {
    let pairs: Vec<&Pair> = comparison
        .pairs
        .iter()
        .filter(|p| p.measure == comparison.answers)
        .collect();
    let mut sentences = match (comparison.groups.as_slice(), pairs.as_slice()) {
        ([only], _) => vec![format!(
            "All starts are of {}: there is nothing to compare it with.",
            only.id
        )],
        _ if !comparison.while_striking.is_empty() => comparison
            .while_striking
            .iter()
            .map(sequential::says)
            .collect(),
        (_, []) => vec![format!(
            "{} could not be measured in two groups: there is nothing to compare.",
            comparison.answers
        )],
        ([_, _], [pair]) => two_groups(comparison, pair),
        (_, [first, ..]) if first.b == OTHERS => each_against_others(comparison, &pairs),
        _ => many_groups(comparison, &pairs),
    };
    sentences.extend(left_out(comparison));
    sentences.extend(care(comparison));
    sentences.join(" ")
}

fn two_groups(comparison: &Comparison, pair: &Pair) -> Vec<String> {
    let of = |event: Event| comparison.rates.iter().find(|r| r.event == event);
    let rough = of(Event::Rough).expect("two groups always have their rates");
    let rough_winner = rough_winner(rough, comparison.level, pair);
    let first = match (winner(pair), rough_winner) {
        (Some((better, worse)), _) => headline(comparison, pair, better, worse),
        (None, Some((better, worse))) => format!(
            "{better} has fewer rough starts than {worse} ({} against {}); in {} they cannot be told apart.",
            percent(rough.rate_a.min(rough.rate_b)),
            percent(rough.rate_a.max(rough.rate_b)),
            label(&pair.measure)
        ),
        (None, None) => no_winner(pair, comparison),
    };
    let told = winner(pair).is_some() || rough_winner.is_some();
    let mut sentences = vec![first];
    sentences.push(rests_on(comparison, pair, told));
    sentences.push(rough_counts(&comparison.groups, comparison.level));
    sentences
}

pub(super) fn rough_winner<'a>(
    rough: &'a RateDifference,
    level: f64,
    pair: &Pair,
) -> Option<(&'a str, &'a str)> {
    let clear = rough.p < SECOND_QUESTION * (1.0 - level) && pair.better != Better::Neither;
    clear.then_some(if rough.diff > 0.0 {
        (&rough.a, &rough.b)
    } else {
        (&rough.b, &rough.a)
    })
}

/// What the answer rests on: tips, or these tips alone.
fn rests_on(comparison: &Comparison, pair: &Pair, told: bool) -> String {
    let level = percent(comparison.level);
    let mut said = match pair.about {
        About::Prep => format!("That rests on {} ({level} intervals).", tips(pair)),
        About::Tips => only_these_tips(comparison, pair),
    };
    if pair.about == About::Prep && pair.tips_a.min(pair.tips_b) == 2 {
        said += " Two tips show only gross differences.";
    }
    if comparison.extended {
        said += " This is a second look, and its level allows for the first.";
    } else if !told
        && pair.verdict == PairVerdict::NotEnough
        && comparison.while_striking.is_empty()
    {
        said += " Going on and comparing again is a second look: use --extended for it.";
    }
    said
}

fn only_these_tips(comparison: &Comparison, pair: &Pair) -> String {
    let [one, other] = [(pair.tips_a, &pair.a), (pair.tips_b, &pair.b)].map(|(n, id)| match n {
        1 => format!("one tip of {id}"),
        n => format!("{n} of {id}"),
    });
    let grinds = grinds(comparison);
    let each = (pair.n_a + pair.n_b) / (pair.tips_a + pair.tips_b);
    let anew = tips_to_begin_with(each, comparison.level);
    format!(
        "Struck were {one} and {other}, so this is about these tips ({} intervals) and says nothing of the {grinds}. Grind each anew at least {anew} times to say so of the {grinds}.",
        percent(comparison.level)
    )
}

pub(super) fn no_winner(pair: &Pair, comparison: &Comparison) -> String {
    let name = label(&pair.measure);
    let within = pair
        .margin
        .map_or_else(|| "nothing".into(), |m| quantity(&pair.measure, m));
    match (pair.verdict, pair.withheld) {
        (PairVerdict::NoDifference, _) if pair.better == Better::Neither => {
            format!(
                "No difference worth having between {} and {}: {name} within {within}.",
                pair.a, pair.b
            )
        }
        (PairVerdict::NoDifference, _) => format!(
            "No difference worth having between {} and {}: {name} within {within}, and rough and less than crisp starts within {} in 100.",
            pair.a,
            pair.b,
            trimmed(100.0 * RATE_MARGIN)
        ),
        (_, Some(Withheld::PoorStarts)) => format!(
            "The usual start of {} and {} is alike ({name} within {within}), but there are not enough starts to say the same of poor ones ({}).",
            pair.a,
            pair.b,
            poor_range(comparison)
        ),
        (_, Some(Withheld::NoSpread)) => format!(
            "No verdict on {} and {}: the tips of each agree in {name} to the last digit, so chance cannot be judged.",
            pair.a, pair.b
        ),
        (_, Some(Withheld::OneStartATip)) => format!(
            "No verdict on {} and {}: {name} from two or three tips with one start each does not carry one. Strike at least three on each tip, or grind more.",
            pair.a, pair.b
        ),
        (_, Some(Withheld::UnequalTips)) => unequal_tips(pair),
        _ => not_enough(pair, comparison.level),
    }
}

fn unequal_tips(pair: &Pair) -> String {
    let mut two = [(pair.tips_a, &pair.a), (pair.tips_b, &pair.b)];
    two.sort_by_key(|(tips, _)| *tips);
    let [(few, few_of), (many, many_of)] = two;
    format!(
        "No verdict on {} and {}: {few} tips of {few_of} against {many} of {many_of} do not show how much tips of {few_of} differ. Grind {few_of} {} more.",
        pair.a,
        pair.b,
        counted(many - few, "time")
    )
}

/// "rough: B may have 3 fewer to 20 more in 100 than A"
fn poor_range(comparison: &Comparison) -> String {
    let side = |x: f64| {
        let many = (100.0 * x.abs()).round();
        let word = if x < 0.0 { "fewer" } else { "more" };
        format!("{many:.0} {word}")
    };
    let open = comparison.rates.iter().filter(|r| {
        r.event != Event::NoLight && (r.diff_lo <= -RATE_MARGIN || r.diff_hi >= RATE_MARGIN)
    });
    let said = open.map(|r| {
        let (lo, hi) = (side(r.diff_lo), side(r.diff_hi));
        format!(
            "{}: {} may have {lo} to {hi} in 100 than {}",
            r.event.words(),
            r.b,
            r.a
        )
    });
    said.collect::<Vec<_>>().join("; ")
}

fn not_enough(pair: &Pair, level: f64) -> String {
    let unit_of = if pair.about == About::Prep {
        "tips"
    } else {
        "starts"
    };
    let seen = match (pair.shift_lo, pair.shift_hi) {
        (Some(lo), Some(hi)) => {
            let digits = Digits::of(pair.shift, Some(lo), Some(hi));
            let range = format!(
                "between {} and {} {}",
                digits.write(lo),
                digits.write(hi),
                unit(&pair.measure)
            );
            format!(
                "{} of {} less that of {} lies {}",
                label(&pair.measure),
                pair.b,
                pair.a,
                range.trim_end()
            )
        }
        _ => format!(
            "{} against {} cannot bound a difference at {}",
            pair.n_a,
            pair.n_b,
            percent(level)
        ),
    };
    let more = more_sentence(pair).map_or(String::new(), |more| format!(" {more}"));
    format!(
        "Not enough {unit_of} to tell {} from {}: {seen}.{more}",
        pair.a, pair.b
    )
}

fn more_sentence(pair: &Pair) -> Option<String> {
    if pair.about == About::Tips {
        return None;
    }
    let Some(margin) = pair.margin else {
        return Some("Name the difference worth having to learn how many more it takes.".into());
    };
    let margin = quantity(&pair.measure, margin);
    Some(match (more(pair), pair.more_tips) {
        (Some(more), Some(range)) => format!(
            "About {more} of each would show a difference of {margin} if there is one ({} are enough in 80 of 100 cases).",
            range.enough
        ),
        _ if pair.tips_a + pair.tips_b <= 5 => {
            "So few tips do not show how many more it takes: grind each at least twice more.".into()
        }
        _ => format!("No number of tips in reach would show a difference of {margin}."),
    })
}

fn left_out(comparison: &Comparison) -> Option<String> {
    let said = match (comparison.set_aside, comparison.doubtful) {
        (0, 0) => return None,
        (aside, 0) => format!("{} set aside", counted(aside, "start")),
        (0, doubtful) => format!("{} doubtful", counted(doubtful, "start")),
        (aside, doubtful) => format!(
            "{} set aside and {doubtful} doubtful",
            counted(aside, "start")
        ),
    };
    Some(format!("Not counted: {said}."))
}

/// What may explain a difference besides the groups, each once.
pub(super) fn may_explain(comparison: &Comparison) -> Vec<Confounder> {
    let mut about: Vec<Confounder> = Vec::new();
    for confounder in comparison.warnings.iter().map(Warning::about) {
        if confounder.may_mislead() && !about.contains(&confounder) {
            about.push(confounder);
        }
    }
    about
}

/// What differs besides, said with the answer and not only below it.
fn care(comparison: &Comparison) -> Option<String> {
    let about = may_explain(comparison);
    let about: Vec<String> = about.iter().map(|c| c.words().to_owned()).collect();
    (!about.is_empty()).then(|| {
        format!(
            "Read it with care: {} may explain a difference, or hide one (see the notes).",
            list(&about)
        )
    })
}

/// "Between tips of one group lie 23 % of the variance in score (0 to 61), …", of the pairs that can tell it.
pub(crate) fn shares(comparison: &Comparison) -> Option<String> {
    let whole = |x: f64| format!("{:.0}", 100.0 * x);
    let several = comparison.groups.len() > 2;
    let told = comparison.pairs.iter().filter_map(|pair| {
        let share = pair.share?;
        let of = if several {
            format!(" of {} and {}", pair.a, pair.b)
        } else {
            String::new()
        };
        Some(format!(
            "{} %{of} in {} ({} to {})",
            whole(share.share),
            label(&pair.measure),
            whole(share.lo),
            whole(share.hi)
        ))
    });
    let told: Vec<String> = told.collect();
    (!told.is_empty()).then(|| {
        format!(
            "Share of the variance that lies between tips: {}.",
            list(&told)
        )
    })
}
