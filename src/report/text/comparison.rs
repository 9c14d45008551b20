//! The comparison for a terminal 80 columns wide or wider.

use comfy_table::Cell;

use crate::format::{Digits, p_value, percent, percent_points, short_or_dash};
use crate::study::{About, Comparison, Group, Pair, PairVerdict};
use crate::text::tables::{NAME_COLUMNS, empty, name, printed, right, wrapped};
use crate::text::{TermStyle, fit, plain, titled};
use crate::words;

/// The answer, then groups, pairs, rates and what spoils the comparison.
pub fn comparison(answer: &Comparison, look: TermStyle) -> String {
    let level = percent(answer.level);
    let many = answer.groups.len() > MANY_GROUPS;
    let told = |text: &str| match many {
        true => brief(&plain(text)),
        false => plain(text),
    };
    let mut parts = vec![wrapped(&told(&words::answer(answer)), look)];
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
    let shares = words::shares(answer).map(|text| wrapped(&told(&text), look));
    parts.extend(shares);
    let warnings = answer
        .warnings
        .iter()
        .take(if many { MOST_NOTES } else { usize::MAX })
        .map(|warning| wrapped(&format!("Note: {}", told(&words::spoils(warning))), look));
    parts.extend(warnings);
    parts.join("\n")
}

/// With more groups than this, each table shows its worst rows, and sentences that go through all groups are cut.
const MANY_GROUPS: usize = 12;
/// Rows of a table of many groups.
const MOST_ROWS: usize = 20;
/// Notes on many groups.
const MOST_NOTES: usize = 6;
/// Letters of a sentence on many groups.
const MOST_LETTERS: usize = 500;

/// The beginning of a text that is long.
fn brief(text: &str) -> String {
    match text.char_indices().nth(MOST_LETTERS) {
        None => text.to_owned(),
        Some((end, _)) => {
            let cut = text[..end].rfind(' ').unwrap_or(end);
            format!("{} … (--json has all of it)", &text[..cut])
        }
    }
}

/// The rows of a table: all in their order, or of many groups the worst ones, and how many are left.
fn worst<'a, T>(
    rows: &'a [T],
    answer: &Comparison,
    key: impl Fn(&T) -> [f64; 2],
) -> (Vec<&'a T>, String) {
    let mut shown: Vec<&T> = rows.iter().collect();
    if answer.groups.len() <= MANY_GROUPS || rows.len() <= MOST_ROWS {
        return (shown, String::new());
    }
    let by_key = |a: &&T, b: &&T| {
        let ([a1, a2], [b1, b2]) = (key(a), key(b));
        a1.total_cmp(&b1).then(a2.total_cmp(&b2))
    };
    shown.sort_by(by_key);
    shown.truncate(MOST_ROWS);
    let left = rows.len() - MOST_ROWS;
    (
        shown,
        format!("… and {left} more; --json has all of them\n"),
    )
}

/// Pairs that are told apart best come first.
fn clearest(pair: &Pair) -> [f64; 2] {
    [pair.p_holm.unwrap_or(2.0), -pair.shift.abs()]
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
    let key = |group: &Group| [-group.rough_rate, group.score_median.unwrap_or(0.0)];
    let (shown, rest) = worst(&answer.groups, answer, key);
    for group in shown {
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
    printed(&table) + &rest
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
    let (shown, rest) = worst(&answer.pairs, answer, clearest);
    for pair in shown {
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
    printed(&table) + &rest
}

fn digits(pair: &Pair) -> Digits {
    Digits::of(pair.shift, pair.shift_lo, pair.shift_hi)
}

/// The usual values of both, to the digits of their difference.
pub(crate) fn usual(pair: &Pair) -> String {
    let digits = digits(pair);
    format!(
        "{}, {}",
        digits.write(pair.usual_a),
        digits.write(pair.usual_b)
    )
}

/// The difference with its sign.
pub(crate) fn shift(pair: &Pair) -> String {
    digits(pair).signed(pair.shift)
}

/// The interval of a difference; "too few" where nothing bounds it.
pub(crate) fn shift_interval(pair: &Pair) -> String {
    interval(digits(pair), pair.shift_lo, pair.shift_hi)
}

fn interval(digits: Digits, lo: Option<f64>, hi: Option<f64>) -> String {
    match (lo, hi) {
        (Some(lo), Some(hi)) => format!("{} to {}", digits.signed(lo), digits.signed(hi)),
        _ => "too few".to_owned(),
    }
}

/// Shift and interval by starts.
pub(crate) fn by_starts_cells(pair: &Pair) -> [String; 4] {
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
    let (shown, rest) = worst(&answer.pairs, answer, clearest);
    for pair in shown {
        let mut cells = vec![
            Cell::new(pair_name(&pair.a, &pair.b)),
            Cell::new(plain(&titled(&pair.measure))),
        ];
        cells.extend(by_starts_cells(pair).map(right));
        table.add_row(cells);
    }
    printed(&table) + &rest
}

fn rates(answer: &Comparison, level: &str, look: TermStyle) -> String {
    let interval = format!("{level} interval");
    let head = ["pair", "event", "rates", "difference", &interval, "p"];
    let mut table = empty(look, &head, &[0, 1]);
    let (shown, rest) = worst(&answer.rates, answer, |rate| [rate.p, -rate.diff.abs()]);
    for rate in shown {
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
    printed(&table) + &rest
}

/// The verdict of a pair in plain words.
pub(crate) fn pair_word(pair: &Pair) -> String {
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
