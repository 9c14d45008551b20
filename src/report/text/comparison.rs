//! The comparison for a terminal 80 columns wide or wider.

use comfy_table::Cell;

use crate::format::{Digits, p_value, percent, percent_points, short_or_dash};
use crate::report::text::tables::{NAME_COLUMNS, empty, name, printed, right, wrapped};
use crate::report::text::{TermStyle, fit, plain, titled};
use crate::report::words;
use crate::study::{About, Comparison, Pair, PairVerdict};

/// The answer, then groups, pairs, rates and what spoils the comparison.
pub fn comparison(answer: &Comparison, look: TermStyle) -> String {
    let level = percent(answer.level);
    let mut parts = vec![wrapped(&plain(&words::answer(answer)), look)];
    let mut section =
        |title: &str, table: String| parts.push(format!("{}\n{table}", look.heading(title)));
    section("Starts", groups(answer, &level, look));
    if !answer.pairs.is_empty() {
        section(
            &format!("Differences by tips, {}", less(answer)),
            pairs(answer, &level, look),
        );
    }
    if answer.pairs.iter().any(|pair| pair.about == About::Prep) {
        let title = format!("Start by start (these tips only), {}", less(answer));
        section(&title, by_starts(answer, &level, look));
    }
    if !answer.rates.is_empty() {
        section(
            &format!("Rates (coupons averaged), {}", less(answer)),
            rates(answer, &level, look),
        );
    }
    let shares = words::shares(answer).map(|text| wrapped(&plain(&text), look));
    parts.extend(shares);
    let warnings = answer
        .warnings
        .iter()
        .map(|warning| wrapped(&format!("Note: {}", plain(&warning.says)), look));
    parts.extend(warnings);
    parts.join("\n")
}

/// "B minus A"; of several pairs "second minus first".
fn less(answer: &Comparison) -> String {
    match answer.groups.as_slice() {
        [a, b] => format!("{} minus {}", short_name(&b.id), short_name(&a.id)),
        _ => "second minus first".to_owned(),
    }
}

fn groups(answer: &Comparison, level: &str, look: TermStyle) -> String {
    let interval = format!("{level} interval");
    let mut head = vec![
        &*answer.by,
        "tips",
        "starts",
        "lit",
        "no light",
        "rough",
        "rough rate",
    ];
    // An interval of a fixed number of starts is spoilt by looking after every one.
    let fixed = answer.while_striking.is_empty();
    if fixed {
        head.push(&interval);
    }
    head.push("median\nscore");
    let mut table = empty(look, &head, &[0]);
    for group in &answer.groups {
        let (lo, hi) = (percent(group.rough_lo), percent(group.rough_hi));
        let mut cells = vec![
            name(&group.id),
            right(group.tips.to_string()),
            right(group.starts.to_string()),
            right(group.lit.to_string()),
            right(group.no_light.to_string()),
            right(group.rough.to_string()),
            right(percent(group.rough_rate)),
        ];
        cells.extend(fixed.then(|| right(format!("{lo} to {hi}"))));
        cells.push(right(short_or_dash(group.score_median)));
        table.add_row(cells);
    }
    printed(&table)
}

fn pairs(answer: &Comparison, level: &str, look: TermStyle) -> String {
    let interval = format!("{level}\ninterval");
    let head = [
        "pair",
        "measure",
        "usual",
        "differ-\nence",
        &interval,
        "p\n(Holm)",
        "verdict",
    ];
    let mut table = empty(look, &head, &[0, 1, 6]);
    for pair in &answer.pairs {
        table.add_row(vec![
            Cell::new(pair_name(&pair.a, &pair.b)),
            Cell::new(plain(&titled(&pair.measure))),
            right(usual(pair)),
            right(shift(pair)),
            right(shift_interval(pair)),
            right(pair.p_holm.map_or("–".to_owned(), p_value)),
            Cell::new(pair_word(pair)),
        ]);
    }
    printed(&table)
}

fn digits(pair: &Pair) -> Digits {
    Digits::of(pair.shift, pair.shift_lo, pair.shift_hi)
}

/// The usual values of both, to the digits of their difference.
pub(in crate::report) fn usual(pair: &Pair) -> String {
    let digits = digits(pair);
    format!(
        "{}, {}",
        digits.write(pair.usual_a),
        digits.write(pair.usual_b)
    )
}

/// The difference with its sign.
pub(in crate::report) fn shift(pair: &Pair) -> String {
    digits(pair).signed(pair.shift)
}

/// The interval of a difference; "too few" where nothing bounds it.
pub(in crate::report) fn shift_interval(pair: &Pair) -> String {
    interval(digits(pair), pair.shift_lo, pair.shift_hi)
}

fn interval(digits: Digits, lo: Option<f64>, hi: Option<f64>) -> String {
    match (lo, hi) {
        (Some(lo), Some(hi)) => format!("{} to {}", digits.signed(lo), digits.signed(hi)),
        _ => "too few".to_owned(),
    }
}

/// Shift and interval by starts.
pub(in crate::report) fn by_starts_cells(pair: &Pair) -> [String; 4] {
    let own = &pair.by_starts;
    let digits = Digits::of(own.shift, own.lo, own.hi);
    [
        format!(
            "{}, {}",
            digits.write(pair.median_a),
            digits.write(pair.median_b)
        ),
        digits.signed(own.shift),
        interval(digits, own.lo, own.hi),
        p_value(own.p),
    ]
}

fn by_starts(answer: &Comparison, level: &str, look: TermStyle) -> String {
    let interval = format!("{level}\ninterval");
    let head = ["pair", "measure", "medians", "shift", &interval, "p"];
    let mut table = empty(look, &head, &[0, 1]);
    for pair in &answer.pairs {
        let mut cells = vec![
            Cell::new(pair_name(&pair.a, &pair.b)),
            Cell::new(plain(&titled(&pair.measure))),
        ];
        cells.extend(by_starts_cells(pair).map(right));
        table.add_row(cells);
    }
    printed(&table)
}

fn rates(answer: &Comparison, level: &str, look: TermStyle) -> String {
    let interval = format!("{level} interval");
    let head = ["pair", "event", "rates", "difference", &interval, "p"];
    let mut table = empty(look, &head, &[0, 1]);
    for rate in &answer.rates {
        table.add_row(vec![
            Cell::new(pair_name(&rate.a, &rate.b)),
            Cell::new(rate.event.words()),
            right(format!(
                "{}, {}",
                percent(rate.rate_a),
                percent(rate.rate_b)
            )),
            right(percent_points(rate.diff)),
            right(format!(
                "{} to {}",
                percent_points(rate.diff_lo),
                percent_points(rate.diff_hi)
            )),
            right(p_value(rate.p)),
        ]);
    }
    printed(&table)
}

/// The verdict of a pair in plain words.
pub(in crate::report) fn pair_word(pair: &Pair) -> String {
    let better = |id: &str| match pair.about {
        About::Prep => format!("{} better", short_name(id)),
        About::Tips => format!("tip of {} better", short_name(id)),
    };
    match pair.verdict {
        PairVerdict::ABetter => better(&pair.a),
        PairVerdict::BBetter => better(&pair.b),
        PairVerdict::NoDifference => "no difference worth having".to_owned(),
        PairVerdict::NotEnough => match words::more(pair) {
            Some(more) => format!("not enough: {more} each"),
            None => "not enough to tell".to_owned(),
        },
    }
}

fn short_name(id: &str) -> String {
    fit(&plain(id), NAME_COLUMNS)
}

fn pair_name(a: &str, b: &str) -> String {
    format!("{}, {}", short_name(a), short_name(b))
}
