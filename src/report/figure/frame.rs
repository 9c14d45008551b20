//! Shared parts of all figures: the drawing area, its lettering, its axes.

use plotters::chart::ChartContext;
use plotters::coord::Shift;
use plotters::coord::ranged1d::{DefaultFormatting, KeyPointHint, Ranged};
use plotters::coord::types::RangedCoordf64;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

use crate::figure::palette::{INK, MUTED, PAPER, RULE, Theme, style};
use crate::measure::Quantity;
use crate::output::Form;

/// A part of the drawing area.
pub(super) type Area<'a> = DrawingArea<SVGBackend<'a>, Shift>;

/// Result of drawing, which cannot fail into a string.
pub(super) type Drawn = Result<(), DrawError>;

/// Error of drawing to anything but a string.
pub(super) type DrawError = DrawingAreaErrorKind<std::io::Error>;

/// A numeric axis with its ticks.
pub(super) struct Axis {
    range: RangedCoordf64,
    ticks: Vec<f64>,
}

impl Axis {
    fn new(range: &std::ops::Range<f64>, count: usize) -> Axis {
        Axis {
            range: range.clone().into(),
            ticks: ticks(range, count),
        }
    }
}

impl Ranged for Axis {
    type FormatOption = DefaultFormatting;
    type ValueType = f64;

    fn map(&self, value: &f64, limit: (i32, i32)) -> i32 {
        self.range.map(value, limit)
    }

    fn key_points<Hint: KeyPointHint>(&self, _: Hint) -> Vec<f64> {
        self.ticks.clone()
    }

    fn range(&self) -> std::ops::Range<f64> {
        self.range.range()
    }
}

/// A pair of numeric axes.
pub(super) type Chart<'a> = ChartContext<'a, SVGBackend<'a>, Cartesian2d<Axis, Axis>>;

/// Font size, px.
pub(super) const LETTER: f64 = 14.0;

/// Mean width of a letter relative to its height, so that no font is needed.
const LETTER_WIDTH: f64 = 0.56;

/// Space for the numbers of a vertical axis, px.
pub(super) const LEFT: u32 = 52;

/// Space at the right of the axes, px.
pub(super) const RIGHT: u32 = 20;

/// Space for the numbers and the name of a horizontal axis, px.
pub(super) const BELOW: u32 = 46;

/// Draws a figure; `label` is its description for screen readers.
pub(super) fn svg(size: (u32, u32), label: &str, draw: impl FnOnce(&Area) -> Drawn) -> String {
    let mut text = String::new();
    {
        let root = SVGBackend::with_string(&mut text, size).into_drawing_area();
        let drawn = root
            .fill(&PAPER.rgb())
            .and_then(|()| draw(&root))
            .and_then(|()| root.present());
        drawn.expect("drawing into a string cannot fail");
    }
    // What the backend writes though it is the default, and the line ends between elements.
    let text = text.replace(" opacity=\"1\"", "").replace(">\n<", "><");
    let label = label
        .replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
        .replace('"', "&quot;");
    text.replacen(
        "<svg ",
        &format!("<svg role=\"img\" aria-label=\"{label}\" font-family=\"sans-serif\" "),
        1,
    )
}

/// Makes a figure a file of its own, with the night colours inside.
pub fn alone(svg: &str) -> String {
    svg.replacen('>', &format!(">\n{MARK}\n<style>{}</style>\n", style()), 1)
}

/// Names the program in a file of its own.
const MARK: &str = "<!-- tipstrike -->";

/// A figure as an SVG file.
pub const SVG: Form = Form {
    name: "an SVG figure of this tool",
    is_own: |head| {
        let text = String::from_utf8_lossy(head);
        let mut lines = text.lines();
        lines.next().is_some_and(|line| line.starts_with("<svg ")) && lines.next() == Some(MARK)
    },
};

/// A text style with a height, a colour and an anchor.
pub(super) fn letters(height: f64, colour: Theme, h: HPos, v: VPos) -> TextStyle<'static> {
    // The backend divides by 1.24.
    TextStyle {
        font: ("sans-serif", 1.24 * height).into_font(),
        color: colour.rgb().to_backend_color(),
        pos: Pos::new(h, v),
    }
}

/// The common text style, anchored at the left.
pub(super) fn note(colour: Theme) -> TextStyle<'static> {
    letters(LETTER, colour, HPos::Left, VPos::Top)
}

/// Approximate width of a text, px.
pub(super) fn width_of(text: &str, height: f64) -> f64 {
    use unicode_width::UnicodeWidthStr;
    text.width() as f64 * LETTER_WIDTH * height
}

/// Ranges and names of a pair of axes.
pub(super) struct Axes<'a> {
    pub(super) x: std::ops::Range<f64>,
    pub(super) y: std::ops::Range<f64>,
    /// Name and unit of the horizontal axis; without a name its numbers are left out.
    pub(super) x_name: &'a str,
    /// Name and unit of the vertical axis, written above it.
    pub(super) y_name: &'a str,
    /// Approximate number of ticks on the vertical axis.
    pub(super) y_ticks: usize,
    /// Space at the left if the vertical axis has no numbers.
    pub(super) bare_left: Option<u32>,
}

impl Axes<'_> {
    /// Lays the axes out on a part of the drawing area; `behind` is drawn before the grid.
    pub(super) fn on<'a>(
        &self,
        area: &Area<'a>,
        behind: impl FnOnce(&mut Chart<'a>) -> Drawn,
    ) -> Result<Chart<'a>, DrawError> {
        self.with_ticks(area, self.x_ticks(area), behind)
    }

    fn with_ticks<'a>(
        &self,
        area: &Area<'a>,
        x_ticks: usize,
        behind: impl FnOnce(&mut Chart<'a>) -> Drawn,
    ) -> Result<Chart<'a>, DrawError> {
        let below = if self.x_name.is_empty() { 8 } else { BELOW };
        let mut chart = ChartBuilder::on(area)
            .margin_top(24)
            .margin_right(RIGHT)
            .set_label_area_size(LabelAreaPosition::Left, self.bare_left.unwrap_or(LEFT))
            .set_label_area_size(LabelAreaPosition::Bottom, below)
            .build_cartesian_2d(
                Axis::new(&self.x, x_ticks),
                Axis::new(&self.y, self.y_ticks),
            )?;
        behind(&mut chart)?;
        let x_number = |value: &f64| match self.x_name.is_empty() {
            true => String::new(),
            false => tick_words(*value, step(&self.x, x_ticks)),
        };
        let y_number = |value: &f64| match self.bare_left {
            Some(_) => String::new(),
            None => tick_words(*value, step(&self.y, self.y_ticks)),
        };
        let mut mesh = chart.configure_mesh();
        mesh.light_line_style(TRANSPARENT)
            .bold_line_style(RULE.rgb())
            .axis_style(MUTED.rgb());
        mesh.label_style(letters(LETTER - 1.0, MUTED, HPos::Center, VPos::Center));
        mesh.axis_desc_style(letters(LETTER, INK, HPos::Center, VPos::Center));
        mesh.y_label_formatter(&y_number)
            .x_label_formatter(&x_number);
        if self.x_name.is_empty() {
            mesh.set_tick_mark_size(LabelAreaPosition::Bottom, 0)
                .x_label_style(letters(1.0, PAPER, HPos::Center, VPos::Center).color(&TRANSPARENT));
        } else {
            mesh.x_desc(self.x_name);
        }
        if self.bare_left.is_some() {
            mesh.set_tick_mark_size(LabelAreaPosition::Left, 0)
                .y_label_style(letters(1.0, PAPER, HPos::Center, VPos::Center).color(&TRANSPARENT));
        }
        mesh.draw()?;
        area.draw(&Text::new(
            self.y_name.to_owned(),
            (4, 2),
            letters(LETTER, INK, HPos::Left, VPos::Top),
        ))?;
        Ok(chart)
    }

    /// The axes without numbers or lines for the horizontal one, whose places are names.
    pub(super) fn bare_x<'a>(
        &self,
        area: &Area<'a>,
        behind: impl FnOnce(&mut Chart<'a>) -> Drawn,
    ) -> Result<Chart<'a>, DrawError> {
        self.with_ticks(area, 0, behind)
    }

    /// Number of ticks that the width has room for.
    fn x_ticks(&self, area: &Area) -> usize {
        (area.dim_in_pixel().0 / 90).clamp(3, 10) as usize
    }
}

/// Step between ticks: 1, 2 or 5 times a power of ten, so that there are about `count`.
fn step(range: &std::ops::Range<f64>, count: usize) -> f64 {
    let wished = (range.end - range.start) / count.max(1) as f64;
    let power = 10f64.powf(wished.log10().floor());
    let steps = [1.0, 2.0, 5.0, 10.0].map(|k| k * power);
    *steps
        .iter()
        .find(|step| **step >= wished * (1.0 - 1e-9))
        .unwrap_or(&steps[3])
}

/// Whole multiples of a round step inside a range, none for a count of zero.
fn ticks(range: &std::ops::Range<f64>, count: usize) -> Vec<f64> {
    if count == 0 {
        return Vec::new();
    }
    let step = step(range, count);
    let (first, last) = (
        (range.start / step).ceil() as i64,
        (range.end / step).floor() as i64,
    );
    (first..=last).map(|k| k as f64 * step).collect()
}

/// A tick's number, with as many decimals as the step needs, so that no two look alike.
fn tick_words(value: f64, step: f64) -> String {
    let decimals = (-step.log10().floor()).clamp(0.0, 9.0) as usize;
    let text = format!("{value:.decimals$}").replace('-', "−");
    match text.trim_matches(['−', '0', '.']).is_empty() {
        true => "0".to_owned(),
        false => text,
    }
}

/// Range from the least to the greatest value with some margin, extended to zero if that is near.
pub(super) fn span(values: impl IntoIterator<Item = f64>) -> std::ops::Range<f64> {
    let (low, high) = values
        .into_iter()
        .filter(|v| v.is_finite())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| {
            (low.min(v), high.max(v))
        });
    if low > high {
        return 0.0..1.0;
    }
    let room = 0.06 * (high - low).max(1e-9 + 0.02 * high.abs().max(low.abs()));
    let low = if low >= 0.0 && low < 0.5 * high {
        0.0
    } else {
        low - room
    };
    low..high + room
}

/// [`span`], kept inside what the measure can be: a score lies between 0 and 100, a time or an amplitude is not negative.
pub(super) fn span_of(
    measure: &str,
    values: impl IntoIterator<Item = f64>,
) -> std::ops::Range<f64> {
    let span = span(values);
    match Quantity::named(measure) {
        Quantity::Score => span.start.max(-3.0)..span.end.min(103.0),
        _ => span,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_of_an_axis_are_round_and_distinct() {
        for (range, count) in [
            (107.6..111.4, 6),
            (0.0..1.0, 5),
            (-0.3..0.004, 6),
            (1e-4..3e-4, 8),
            (0.0..12_345.0, 4),
            (99.99..100.01, 5),
        ] {
            let ticks = ticks(&range, count);
            let words: Vec<String> = ticks
                .iter()
                .map(|t| tick_words(*t, step(&range, count)))
                .collect();
            assert!((2..=count + 1).contains(&words.len()), "{words:?}");
            let mut distinct = words.clone();
            distinct.sort();
            distinct.dedup();
            assert_eq!(distinct.len(), words.len(), "{words:?}");
            for (tick, word) in ticks.iter().zip(&words) {
                let read: f64 = word.replace('−', "-").parse().unwrap();
                assert!(
                    (read - tick).abs() < 1e-9 * tick.abs().max(1.0),
                    "{tick} is written {word}"
                );
            }
        }
    }
}
