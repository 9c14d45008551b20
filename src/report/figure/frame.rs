//! Shared parts of all figures: the drawing area, its lettering, its axes.

use plotters::chart::ChartContext;
use plotters::coord::Shift;
use plotters::coord::types::RangedCoordf64;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

use crate::format::trimmed;
use crate::output::Form;
use crate::report::figure::palette::{INK, MUTED, PAPER, RULE, Theme, style};

/// A part of the drawing area.
pub(super) type Area<'a> = DrawingArea<SVGBackend<'a>, Shift>;

/// Result of drawing, which cannot fail into a string.
pub(super) type Drawn = Result<(), DrawError>;

/// Error of drawing to anything but a string.
pub(super) type DrawError = DrawingAreaErrorKind<std::io::Error>;

/// A pair of numeric axes.
pub(super) type Chart<'a> =
    ChartContext<'a, SVGBackend<'a>, Cartesian2d<RangedCoordf64, RangedCoordf64>>;

/// Font size, px.
pub(super) const LETTER: f64 = 14.0;

/// Mean width of a letter relative to its height, so that no font is needed.
const LETTER_WIDTH: f64 = 0.56;

/// Space for the numbers of a vertical axis, px.
pub(super) const LEFT: u32 = 52;

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
    let label = label
        .replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('"', "&quot;");
    text.replacen(
        "<svg ",
        &format!("<svg role=\"img\" aria-label=\"{label}\" font-family=\"sans-serif\" "),
        1,
    )
}

/// Makes a figure a file of its own, with the night colours inside.
pub fn alone(svg: &str) -> String {
    svg.replacen(
        ">\n",
        &format!(">\n{MARK}\n<style>{}</style>\n", style()),
        1,
    )
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
    ) -> Result<Chart<'a>, DrawingAreaErrorKind<std::io::Error>> {
        let below = if self.x_name.is_empty() { 8 } else { BELOW };
        let mut chart = ChartBuilder::on(area)
            .margin_top(24)
            .margin_right(20)
            .set_label_area_size(LabelAreaPosition::Left, self.bare_left.unwrap_or(LEFT))
            .set_label_area_size(LabelAreaPosition::Bottom, below)
            .build_cartesian_2d(self.x.clone(), self.y.clone())?;
        behind(&mut chart)?;
        let number = |value: &f64| trimmed((*value * 1e6).round() / 1e6);
        let mut mesh = chart.configure_mesh();
        mesh.light_line_style(TRANSPARENT)
            .bold_line_style(RULE.rgb())
            .axis_style(MUTED.rgb());
        mesh.label_style(letters(LETTER - 1.0, MUTED, HPos::Center, VPos::Center));
        mesh.axis_desc_style(letters(LETTER, INK, HPos::Center, VPos::Center));
        mesh.y_labels(self.y_ticks)
            .x_labels(8)
            .y_label_formatter(&number)
            .x_label_formatter(&number);
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
