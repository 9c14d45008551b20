//! Draws a trace in braille characters of two by four dots.

use crate::format::short;
use crate::start::decimate::gather;
use crate::text::plain;

/// A trace to sketch.
#[derive(Debug, Clone, Copy)]
pub struct Sketch<'a> {
    /// Name and unit for the headline: "current, A".
    pub label: &'a str,
    /// (minimum, maximum) of equal stretches of time; NaN for gaps.
    pub columns: &'a [[f32; 2]],
    /// Start of the first stretch, s.
    pub from_s: f64,
    /// End of the last stretch, s.
    pub to_s: f64,
    /// Instants to name below the sketch, s.
    pub marks: &'a [(f64, &'a str)],
}

/// Width of the numbers at the left, columns.
const GUTTER: usize = 8;

/// Bits of a braille character by column, then row from the top.
const DOTS: [[u32; 4]; 2] = [[0x01, 0x02, 0x04, 0x40], [0x08, 0x10, 0x20, 0x80]];

/// Draws a trace `width` columns wide and `rows` rows high, plus headline and time axis.
pub fn sketch(trace: &Sketch, width: usize, rows: usize) -> String {
    let across = width.saturating_sub(GUTTER + 1).max(8);
    let cells = gather(trace.columns, 2 * across);
    let known = cells.iter().flatten().flatten();
    let (low, high) = known.fold((0f32, 0f32), |(low, high), value| {
        (low.min(*value), high.max(*value))
    });
    let mut out = format!("{}\n", plain(trace.label));
    for (row, line) in raster(&cells, low, high, across, rows).iter().enumerate() {
        let level = match row {
            0 => short(high.into()),
            _ if row + 1 == rows => short(low.into()),
            _ => String::new(),
        };
        out.push_str(format!("{level:>GUTTER$} {line}").trim_end_matches([' ', '\u{2800}']));
        out.push('\n');
    }
    for line in below(trace, across) {
        out.push_str(&format!("{:GUTTER$} {}\n", "", line.trim_end()));
    }
    out
}

fn raster(
    cells: &[Option<[f32; 2]>],
    low: f32,
    high: f32,
    across: usize,
    rows: usize,
) -> Vec<String> {
    let mut bits = vec![vec![0u32; across]; rows];
    // The difference of two f32 may overflow or underflow f32.
    let (high, lowest) = (f64::from(high), 4 * rows - 1);
    let scale = lowest as f64 / (high - f64::from(low)).max(f64::MIN_POSITIVE);
    let dot = |value: f32| (((high - f64::from(value)) * scale).round() as usize).min(lowest);
    for (x, cell) in cells.iter().enumerate() {
        let Some([one, other]) = cell else { continue };
        for y in dot(one.max(*other))..=dot(one.min(*other)) {
            bits[y / 4][x / 2] |= DOTS[x % 2][y % 4];
        }
    }
    let character =
        |bits: &u32| char::from_u32(0x2800 + bits).expect("8 bits on the braille block");
    bits.iter()
        .map(|row| row.iter().map(character).collect())
        .collect()
}

/// Lines below the sketch: the marks, then the ends of the time axis.
fn below(trace: &Sketch, across: usize) -> Vec<String> {
    let span = trace.to_s - trace.from_s;
    let mut lines: Vec<String> = Vec::new();
    for (at, name) in trace.marks {
        let column = ((at - trace.from_s) / span * across as f64).floor();
        if !(0.0..=across as f64).contains(&column) {
            continue;
        }
        let column = (column as usize).min(across - 1);
        let text = format!("↑{}", plain(name));
        let column = column.min(across.saturating_sub(text.chars().count()));
        // Each mark goes to the first line where it does not run into the one before it.
        let free = |line: &String| line.chars().count() < column.max(1) || line.is_empty();
        let k = lines.iter().position(free).unwrap_or(lines.len());
        if k == lines.len() {
            lines.push(String::new());
        }
        let line = &mut lines[k];
        let pad = column - line.chars().count().min(column);
        line.push_str(&" ".repeat(pad));
        line.push_str(&text);
    }
    let (left, right) = (
        format!("{} s", short(trace.from_s)),
        format!("{} s", short(trace.to_s)),
    );
    let between = across.saturating_sub(left.len() + right.len());
    lines.push(format!("{left}{}{right}", " ".repeat(between)));
    lines
}
