//! The starts table and the comparison for a terminal 80 columns wide or wider.

use comfy_table::{Attribute, Cell, CellAlignment, Color, ContentArrangement, Table};
use unicode_width::UnicodeWidthStr;

use crate::format::{p_value, percent, percent_points, short, short_or_dash, signed};
use crate::report::text::{TermStyle, fit, plain};
use crate::score::{StartRow, Verdict};
use crate::study::{Comparison, Pair, PairVerdict};

/// Columns that a group's name may take before its middle is left out.
const NAME_COLUMNS: usize = 16;

/// The same for a prep in the starts table.
const PREP_COLUMNS: usize = 8;

/// What the columns of numbers and the verdict take in the starts table, blanks between them included.
const FIGURE_COLUMNS: usize = 56;

/// One line a start: what a welder asks first; below it the flags, where there are any.
pub fn starts(rows: &[StartRow], look: TermStyle) -> String {
    let head = [
        "row",
        "recording",
        "no",
        "prep",
        "verdict",
        "score",
        "start\nms",
        "at-\ntempts",
        "drop-\nouts",
        "lit\nA",
        "run\nA",
        "wander\nV",
    ];
    let mut table = empty(look, &head, &[1, 3, 4]);
    table.set_content_arrangement(ContentArrangement::Disabled);
    let room = recording_columns(rows, look);
    for (row, number) in rows.iter().zip(1..) {
        table.add_row(start_cells(row, number, room, look));
    }
    let lines: Vec<String> = table
        .lines()
        .map(|line| line.trim_end().to_owned())
        .collect();
    let (head, body) = lines.split_at(lines.len() - rows.len());
    let mut out = head.join("\n") + "\n";
    for (line, row) in body.iter().zip(rows) {
        out += &format!("{line}\n");
        if !row.flags.is_empty() {
            let names: Vec<_> = row.flags.iter().map(|flag| flag.name()).collect();
            out += &indented(&format!("└ {}", names.join(", ")), look);
        }
        out += &doubt_line(row, look);
    }
    out
}

/// Why a start is doubtful, below its line; nothing where it is not.
pub(super) fn doubt_line(row: &StartRow, look: TermStyle) -> String {
    let said = row.doubt.as_ref().map(|doubt| {
        let seen = format!("? {}", plain(doubt));
        indented(&seen, look)
    });
    said.unwrap_or_default()
}

/// What is left for the name of the recording.
fn recording_columns(rows: &[StartRow], look: TermStyle) -> usize {
    let longest = rows.iter().map(|row| plain(&row.prep).width()).max();
    let prep = longest.unwrap_or(0).clamp("prep".len(), PREP_COLUMNS);
    let number = rows.len().to_string().len().max("row".len());
    look.width
        .saturating_sub(FIGURE_COLUMNS + prep + 1 + number + 1)
        .max(PREP_COLUMNS)
}

fn start_cells(row: &StartRow, number: usize, room: usize, look: TermStyle) -> Vec<Cell> {
    let m = &row.measures;
    let whole =
        |value: Option<f64>| right(value.map_or("–".to_owned(), |value| format!("{value:.0}")));
    let real = |value| right(short_or_dash(value));
    vec![
        right(number.to_string()),
        Cell::new(fit(&plain(&row.recording), room)),
        right(row.start.to_string()),
        Cell::new(fit(&plain(&row.prep), PREP_COLUMNS)),
        row.verdict
            .map_or(Cell::new("–"), |verdict| verdict_cell(verdict, look)),
        whole(row.score),
        real(m.start_ms),
        whole(m.attempts),
        whole(m.dropouts),
        real(m.lit_a),
        real(m.run_a),
        real(m.wander_v),
    ]
}

/// The answer, then groups, pairs, rates and what spoils the comparison.
pub fn comparison(answer: &Comparison, look: TermStyle) -> String {
    let level = format!("{:.0} %", 100.0 * answer.level);
    let mut parts = vec![wrapped(&plain(&answer.answer), look)];
    parts.push(format!(
        "{}\n{}",
        look.heading("Starts"),
        groups(answer, &level, look)
    ));
    if !answer.pairs.is_empty() {
        let title = look.heading("Differences, second less first");
        parts.push(format!("{title}\n{}", pairs(answer, &level, look)));
    }
    if !answer.rates.is_empty() {
        let title = look.heading("Rates, second less first");
        parts.push(format!("{title}\n{}", rates(answer, &level, look)));
    }
    let warnings = answer
        .warnings
        .iter()
        .map(|text| wrapped(&format!("Note: {}", plain(text)), look));
    parts.extend(warnings);
    parts.join("\n")
}

fn groups(answer: &Comparison, level: &str, look: TermStyle) -> String {
    let interval = format!("{level} interval");
    let mut head = vec![
        &*answer.by,
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
        "medians",
        "shift",
        &interval,
        "p\n(Holm)",
        "in a word",
    ];
    let mut table = empty(look, &head, &[0, 1, 6]);
    for pair in &answer.pairs {
        table.add_row(vec![
            Cell::new(pair_name(&pair.a, &pair.b)),
            Cell::new(plain(&pair.measure)),
            right(format!(
                "{}, {}",
                short(pair.median_a),
                short(pair.median_b)
            )),
            right(signed(pair.shift)),
            right(shift_interval(pair)),
            right(p_value(pair.p_holm)),
            Cell::new(pair_word(pair.verdict, &pair.a, &pair.b, pair.more_starts)),
        ]);
    }
    printed(&table)
}

/// The interval of a shift; an end that the starts are too few to give is said so.
pub(in crate::report) fn shift_interval(pair: &Pair) -> String {
    match (pair.shift_lo, pair.shift_hi) {
        (Some(lo), Some(hi)) => format!("{} to {}", signed(lo), signed(hi)),
        _ => "too few".to_owned(),
    }
}

fn rates(answer: &Comparison, level: &str, look: TermStyle) -> String {
    let interval = format!("{level} interval");
    let head = [
        "pair",
        "event",
        "rates",
        "difference",
        &interval,
        "p\n(Fisher)",
    ];
    let mut table = empty(look, &head, &[0, 1]);
    for rate in &answer.rates {
        table.add_row(vec![
            Cell::new(pair_name(&rate.a, &rate.b)),
            Cell::new(plain(&rate.event.replace('_', " "))),
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
pub(in crate::report) fn pair_word(
    verdict: PairVerdict,
    a: &str,
    b: &str,
    more: Option<usize>,
) -> String {
    let better = |id: &str| format!("{} better", fit(&plain(id), NAME_COLUMNS));
    match (verdict, more) {
        (PairVerdict::ABetter, _) => better(a),
        (PairVerdict::BBetter, _) => better(b),
        (PairVerdict::NoDifference, _) => "no difference worth having".to_owned(),
        (PairVerdict::NotEnough, Some(more)) => format!("not enough starts: {more} more each"),
        (PairVerdict::NotEnough, None) => "not enough starts to tell".to_owned(),
    }
}

fn pair_name(a: &str, b: &str) -> String {
    let short_name = |id: &str| fit(&plain(id), NAME_COLUMNS);
    format!("{}, {}", short_name(a), short_name(b))
}

/// A table without rows; heads of numbers stand to the right as the numbers do.
pub(super) fn empty(look: TermStyle, head: &[&str], left: &[usize]) -> Table {
    let mut table = Table::new();
    table
        .load_style(comfy_table::presets::NOTHING)
        .set_content_arrangement(ContentArrangement::Dynamic);
    table.set_width(u16::try_from(look.width).unwrap_or(u16::MAX));
    match look.colour {
        true => table.enforce_styling(),
        false => table.force_no_tty(),
    };
    table.set_header(head.iter().enumerate().map(|(i, title)| {
        let cell = match left.contains(&i) {
            true => Cell::new(plain_lines(title)),
            false => right(plain_lines(title)),
        };
        cell.add_attribute(Attribute::Bold)
    }));
    for column in table.column_iter_mut() {
        column.set_padding((0, 1));
    }
    table
}

/// A head's own line breaks stay; anything else that controls a terminal does not.
fn plain_lines(title: &str) -> String {
    title.split('\n').map(plain).collect::<Vec<_>>().join("\n")
}

pub(super) fn printed(table: &Table) -> String {
    let lines = table.lines().map(|line| format!("{}\n", line.trim_end()));
    lines.collect()
}

pub(super) fn name(text: &str) -> Cell {
    Cell::new(fit(&plain(text), NAME_COLUMNS))
}

pub(super) fn right(text: String) -> Cell {
    Cell::new(text).set_alignment(CellAlignment::Right)
}

fn verdict_cell(verdict: Verdict, look: TermStyle) -> Cell {
    let cell = Cell::new(verdict.word());
    if !look.colour {
        return cell;
    }
    cell.fg(match verdict {
        Verdict::Crisp => Color::Green,
        Verdict::Fair => Color::Cyan,
        Verdict::Rough => Color::Yellow,
        Verdict::NoLight => Color::Red,
        Verdict::Doubtful => Color::Magenta,
    })
}

/// Text broken at blanks to the width.
pub fn wrapped(text: &str, look: TermStyle) -> String {
    broken(text, look.width, "")
}

/// The same below a table's line.
pub(super) fn indented(text: &str, look: TermStyle) -> String {
    broken(text, look.width, "  ")
}

pub(super) fn broken(text: &str, width: usize, indent: &str) -> String {
    let mut out = String::new();
    let mut column = 0;
    for word in text.split_whitespace() {
        if column > 0 && column + 1 + word.width() > width {
            out.push('\n');
            column = 0;
        }
        let before = if column == 0 { indent } else { " " };
        out += before;
        out += word;
        column += before.len() + word.width();
    }
    out + "\n"
}
