//! The starts table for a terminal 80 columns wide or wider.

use std::collections::HashMap;

use comfy_table::{Cell, CellAlignment, ColumnConstraint, ContentArrangement, Table, Width};
use unicode_width::UnicodeWidthStr;

use crate::format::short_or_dash;
use crate::score::{StartRow, Verdict};
use crate::text::{TermStyle, fit, plain, styled};

/// Columns that a group's name may take before its middle is left out.
pub(super) const NAME_COLUMNS: usize = 16;

/// The same for a prep in the starts table.
const PREP_WIDTH: usize = 8;

/// What the columns of numbers and the verdict take in the starts table, blanks between them included.
const FIGURE_COLUMNS: usize = 61;

/// What the run beside the number of the start takes.
const RUN_COLUMNS: usize = 3;

/// Columns that the name of a recording gets at least; where several runs share it, it tells least.
const LEAST_NAME: [usize; 2] = [7, 4];

/// One line a start: what a welder asks first; below it the flags, where there are any.
pub fn starts(rows: &[StartRow], look: TermStyle) -> String {
    let several = several_runs(rows);
    let room = recording_columns(rows, several, look);
    let recording = match room {
        0..7 => "file",
        7..9 => "record-\ning",
        _ => "recording",
    };
    let head = [
        "row",
        recording,
        if several { "run-\nno" } else { "no" },
        "at",
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
    // Cells take many times the room of a row: a long table is made in parts, all as wide as the widest.
    let part = |part: usize| {
        let mut table = empty(look, &head, &[1, 4, 5]);
        table.set_content_arrangement(ContentArrangement::Disabled);
        let first = part * PART;
        for (row, number) in rows[first..].iter().take(PART).zip(first + 1..) {
            table.add_row(start_cells(row, (number, several), room, look));
        }
        table
    };
    let parts = rows.len().div_ceil(PART).max(1);
    let widths = match parts {
        1 => Vec::new(),
        _ => widest((0..parts).map(part)),
    };
    let mut out = String::new();
    for (k, part) in (0..parts).map(part).enumerate() {
        let rows = &rows[k * PART..rows.len().min((k + 1) * PART)];
        out += &listed(part, &widths, rows, k == 0, look);
    }
    out
}

/// Rows of the starts table that are laid out at once.
const PART: usize = 1000;

/// Widths of the columns of several tables that look like one, the blanks between them included.
fn widest(tables: impl Iterator<Item = Table>) -> Vec<u16> {
    let mut widest = Vec::new();
    for mut table in tables {
        widest.resize(table.column_count(), 0);
        let padded = table.column_iter().map(|column| column.padding_width());
        let widths = table.column_max_content_widths().into_iter().zip(padded);
        for (widest, (width, padding)) in widest.iter_mut().zip(widths) {
            *widest = (width + padding).max(*widest);
        }
    }
    widest
}

/// The lines of a part of the starts table, with its head where it is the first; below each start what is noted of it.
fn listed(
    mut table: Table,
    widths: &[u16],
    rows: &[StartRow],
    first: bool,
    look: TermStyle,
) -> String {
    for (column, width) in table.column_iter_mut().zip(widths) {
        column.set_constraint(ColumnConstraint::LowerBoundary(Width::Fixed(*width)));
    }
    let lines: Vec<String> = table
        .lines()
        .map(|line| line.trim_end().to_owned())
        .collect();
    let (head, body) = lines.split_at(lines.len() - rows.len());
    let mut out = match first {
        true => head.join("\n") + "\n",
        false => String::new(),
    };
    for (line, row) in body.iter().zip(rows) {
        out += &format!("{line}\n");
        let aside = row
            .exclude
            .iter()
            .map(|why| format!("set aside: {}", plain(why)));
        let flags = row.flags.iter().map(|flag| flag.name().to_owned());
        let notes: Vec<String> = aside.chain(flags).collect();
        if !notes.is_empty() {
            out += &indented(&format!("└ {}", notes.join(", ")), look);
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

/// A moment of a recording as players show it: 12:05.
fn minutes_and_seconds(seconds: f64) -> String {
    let whole = seconds.max(0.0) as u64;
    format!("{}:{:02}", whole / 60, whole % 60)
}

/// Whether a recording holds several runs, each with its own starts from 1 on.
fn several_runs(rows: &[StartRow]) -> bool {
    let mut runs: HashMap<&str, u32> = HashMap::new();
    rows.iter()
        .any(|row| *runs.entry(&row.recording).or_insert(row.run) != row.run)
}

/// What is left for the name of the recording.
fn recording_columns(rows: &[StartRow], several: bool, look: TermStyle) -> usize {
    let longest = rows.iter().map(|row| plain(&row.prep).width()).max();
    let prep = longest.unwrap_or(0).clamp("prep".len(), PREP_WIDTH);
    let number = rows.len().to_string().len().max("row".len());
    look.width
        .saturating_sub(
            FIGURE_COLUMNS + prep + 1 + number + 1 + if several { RUN_COLUMNS } else { 0 },
        )
        .max(LEAST_NAME[usize::from(several)])
}

fn start_cells(
    row: &StartRow,
    (number, several): (usize, bool),
    room: usize,
    look: TermStyle,
) -> Vec<Cell> {
    let m = &row.measures;
    let whole =
        |value: Option<f64>| right(value.map_or("–".to_owned(), |value| format!("{value:.0}")));
    let real = |value| right(short_or_dash(value));
    vec![
        right(number.to_string()),
        Cell::new(fit(&plain(&row.recording), room)),
        right(match several {
            true => format!("{}-{}", row.run, row.start),
            false => row.start.to_string(),
        }),
        right(row.began_s().map_or("–".to_owned(), minutes_and_seconds)),
        Cell::new(fit(&plain(&row.prep), PREP_WIDTH)),
        row.verdict
            .map_or(Cell::new("–"), |verdict| verdict_cell(verdict, look)),
        whole(row.score),
        real(m.start_ms()),
        whole(m.attempts()),
        whole(m.dropouts()),
        real(m.lit_a()),
        real(m.run_a()),
        real(m.wander_v()),
    ]
}

/// A table without rows; heads of numbers stand to the right as the numbers do.
pub(super) fn empty(look: TermStyle, head: &[&str], left: &[usize]) -> Table {
    let mut table = Table::new();
    table
        .load_style(comfy_table::presets::NOTHING)
        .set_content_arrangement(ContentArrangement::Dynamic);
    table.set_width(u16::try_from(look.width).unwrap_or(u16::MAX));
    let mut table = styled::table(table, look.colour);
    table.set_header(head.iter().enumerate().map(|(i, title)| {
        let cell = match left.contains(&i) {
            true => Cell::new(plain_lines(title)),
            false => right(plain_lines(title)),
        };
        styled::bold(cell)
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
    match look.colour {
        true => styled::coloured(cell, verdict),
        false => cell,
    }
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
