//! One start: current and voltage with named instants and shaded states.

use std::ops::Range;

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, VPos};

use crate::figure::frame::{
    Area, Axes, BELOW, Chart, Drawn, LETTER, letters, note, span, svg, width_of,
};
use crate::figure::palette::{
    BAND_ATTEMPTS, BAND_OPEN, BAND_SETTLED, BAND_SETTLING, CURRENT, INK, MUTED, Theme, VOLTAGE,
};
use crate::score::StartRow;
use crate::start::decimate::{ends, gather, lines};
use crate::start::{Instants, Preview};
use crate::text::{fit, plain};

const SIZE: (u32, u32) = (1000, 560);

/// Height of the title line and of a row of instant names, px.
const TITLE: u32 = 28;
const ROW: u32 = 19;

/// Rows of names above the traces, enough for five instants.
const ROWS: u32 = 4;

/// Fraction of the width for the close-up.
const CLOSE_UP_SHARE: f64 = 0.6;

/// The close-up is left out if the whole start is no longer than this many times it.
const CLOSE_UP_WORTH: f64 = 2.0;

/// A voltage below this while current flows is a touch: the default of `short_v` in `[measuring]`.
const TOUCHING_V: f32 = 5.0;

/// Draws one start: a close-up from circuit open to settled, and the whole start beside it.
pub fn start(row: &StartRow, preview: &Preview) -> String {
    let zero = zero(&row.instants, preview);
    let label = format!(
        "Current and voltage of start {} in {}, prep {}: {}",
        row.start,
        plain(&row.recording),
        plain(&row.prep),
        in_words(row)
    );
    svg(SIZE, &label, |root| {
        root.draw(&Text::new(
            title(row),
            (4, 4),
            letters(LETTER + 2.0, INK, HPos::Left, VPos::Top),
        ))?;
        let (_, body) = root.split_vertically(TITLE);
        let whole = ms(preview.from_s, zero)
            ..ms(
                preview.from_s + preview.step_s * preview.amps.len() as f64,
                zero,
            );
        match close_up(&row.instants, zero, &whole) {
            Some(close) => {
                let (left, right) =
                    body.split_horizontally(((SIZE.0 as f64) * CLOSE_UP_SHARE) as u32);
                View {
                    row,
                    preview,
                    zero,
                    window: close.clone(),
                    name: "close up, ms from the first current",
                    numbers: true,
                    named: &|t| t < close.end,
                }
                .draw(&left)?;
                let named = |t: f64| !close.contains(&t);
                View {
                    row,
                    preview,
                    zero,
                    window: whole,
                    name: "the whole start, ms",
                    numbers: false,
                    named: &named,
                }
                .draw(&right)
            }
            None => View {
                row,
                preview,
                zero,
                window: whole,
                name: "ms from the first current",
                numbers: true,
                named: &|_| true,
            }
            .draw(&body),
        }
    })
}

/// Zero of the time axis: the first current, or otherwise the opening of the circuit.
fn zero(instants: &Instants, preview: &Preview) -> f64 {
    instants
        .t_first_s
        .or(instants.t_open_s)
        .unwrap_or(preview.from_s)
}

fn ms(t_s: f64, zero_s: f64) -> f64 {
    1e3 * (t_s - zero_s)
}

fn title(row: &StartRow) -> String {
    let at = row
        .instants
        .t_first_s
        .map_or(String::new(), |t| format!(" at {t:.3} s"));
    format!(
        "Start {}{at} of {}, prep {}: {}",
        row.start,
        fit(&plain(&row.recording), 32),
        fit(&plain(&row.prep), 16),
        in_words(row)
    )
}

fn in_words(row: &StartRow) -> String {
    let word = row.verdict.map_or("not scored", |verdict| verdict.word());
    row.score
        .map_or(word.to_owned(), |score| format!("{word}, score {score:.0}"))
}

/// Time range of the strike, ms, if it is short compared with the whole.
fn close_up(instants: &Instants, zero: f64, whole: &Range<f64>) -> Option<Range<f64>> {
    let last = ms(instants.t_settled_s.or(instants.t_lit_s)?, zero);
    let first = instants
        .t_open_s
        .map_or(0.0, |t| ms(t, zero))
        .max(whole.start);
    let length = (last - first).max(10.0);
    let close = (first - 0.12 * length).max(whole.start)..(last + 0.35 * length).min(whole.end);
    let worth = whole.end - whole.start > CLOSE_UP_WORTH * (close.end - close.start);
    worth.then_some(close)
}

/// A pair of panels over one range of time.
struct View<'a> {
    row: &'a StartRow,
    preview: &'a Preview,
    zero: f64,
    window: Range<f64>,
    name: &'a str,
    numbers: bool,
    /// Whether to name an instant in this view.
    named: &'a dyn Fn(f64) -> bool,
}

impl View<'_> {
    fn draw(&self, area: &Area) -> Drawn {
        let (_, traces) = area.split_vertically(ROW * ROWS);
        let (_, height) = traces.dim_in_pixel();
        let two = !self.preview.volts.is_empty();
        let (upper, lower) = traces.split_vertically(if two {
            (height - BELOW) * 11 / 20
        } else {
            height
        });
        let current = self.panel(&upper, &self.preview.amps, "current, A", CURRENT, !two)?;
        if !two {
            return self.instants(area, &current, &current);
        }
        let voltage = self.panel(&lower, &self.preview.volts, "voltage, V", VOLTAGE, true)?;
        self.name_states(&lower, &voltage)?;
        self.instants(area, &current, &voltage)
    }

    fn panel<'a>(
        &self,
        area: &Area<'a>,
        columns: &[[f32; 2]],
        name: &str,
        colour: Theme,
        lowest: bool,
    ) -> Result<Chart<'a>, DrawingAreaErrorKind<std::io::Error>> {
        let axes = Axes {
            x: self.window.clone(),
            y: span(ends(columns).into_iter().flatten().map(f64::from)),
            x_name: if lowest { self.name } else { "" },
            y_name: if self.numbers { name } else { "" },
            y_ticks: 6,
            bare_left: (!self.numbers).then_some(10),
        };
        let mut chart = axes.on(area, |chart| self.shade(chart))?;
        let (pixels, _) = chart.plotting_area().dim_in_pixel();
        for line in self.lines(columns, pixels as usize) {
            chart.draw_series(LineSeries::new(line, colour.rgb().stroke_width(1)))?;
        }
        Ok(chart)
    }

    /// The part of a trace within the window as lines, in ms and its unit.
    fn lines(&self, columns: &[[f32; 2]], pixels: usize) -> Vec<Vec<(f64, f64)>> {
        let step = 1e3 * self.preview.step_s;
        let from = ms(self.preview.from_s, self.zero);
        let place = |t: f64| (((t - from) / step).round().max(0.0) as usize).min(columns.len());
        let (first, last) = (place(self.window.start), place(self.window.end));
        let cells = gather(&columns[first..last], pixels.min(last - first));
        let wide = (last - first) as f64 * step / cells.len().max(1) as f64;
        let at = |x: usize| from + first as f64 * step + (x as f64 + 0.5) * wide;
        let lines = lines(&cells).into_iter();
        lines
            .map(|line| line.into_iter().map(|(x, y)| (at(x), y.into())).collect())
            .collect()
    }

    /// Shades the states behind the trace.
    fn shade(&self, chart: &mut Chart) -> Drawn {
        let y = chart.y_range();
        let bands = self.states().into_iter().map(|(from, to, colour)| {
            let clip = |t: f64| t.clamp(self.window.start, self.window.end);
            Rectangle::new(
                [(clip(from), y.start), (clip(to), y.end)],
                colour.rgb().filled(),
            )
        });
        chart.draw_series(bands).map(drop)
    }

    /// Names the states above the lower traces, where there is room.
    fn name_states(&self, area: &Area, chart: &Chart) -> Drawn {
        let left = area.get_base_pixel().0;
        let taken = if self.numbers {
            width_of("voltage, V ", LETTER)
        } else {
            0.0
        };
        let place = |t: f64| {
            f64::from(
                chart
                    .backend_coord(&(t.clamp(self.window.start, self.window.end), 0.0))
                    .0
                    - left,
            )
        };
        for (from, to, colour) in self.states() {
            let name = self.state_name(colour);
            let (from, to) = (place(from).max(taken), place(to));
            if to - from > width_of(name, LETTER) {
                let at = ((from + to) / 2.0) as i32;
                area.draw(&Text::new(
                    name,
                    (at, 5),
                    letters(LETTER - 1.0, MUTED, HPos::Center, VPos::Top),
                ))?;
            }
        }
        Ok(())
    }

    fn state_name(&self, band: Theme) -> &'static str {
        match band {
            BAND_OPEN => "circuit open",
            BAND_ATTEMPTS if self.touches_first() => "touching",
            BAND_ATTEMPTS => "attempts",
            BAND_SETTLING => "settling",
            _ => "settled",
        }
    }

    /// Whether the tungsten touched for most of the time from the first current to lit, according to current and
    /// voltage: a lift or scratch start, whose single attempt is not a struggle.
    fn touches_first(&self) -> bool {
        let (Some(first), Some(lit)) = (self.row.instants.t_first_s, self.row.instants.t_lit_s)
        else {
            return false;
        };
        let place = |t: f64| ((t - self.preview.from_s) / self.preview.step_s).max(0.0) as usize;
        let volts = &self.preview.volts;
        let stretch = volts.get(place(first)..place(lit).min(volts.len()));
        let cells = stretch.unwrap_or_default();
        let touching = |cell: &&[f32; 2]| cell[0].abs().max(cell[1].abs()) < TOUCHING_V;
        2 * cells.iter().filter(touching).count() > cells.len()
    }

    /// The states between instants, ms.
    fn states(&self) -> Vec<(f64, f64, Theme)> {
        let Instants {
            t_open_s,
            t_first_s,
            t_lit_s,
            t_settled_s,
            t_out_s,
        } = self.row.instants;
        let end = t_out_s.map_or(self.window.end, |t| ms(t, self.zero));
        let ladder = [
            (t_open_s, BAND_OPEN),
            (t_first_s, BAND_ATTEMPTS),
            (t_lit_s, BAND_SETTLING),
            (t_settled_s, BAND_SETTLED),
        ];
        let known: Vec<_> = ladder
            .into_iter()
            .filter_map(|(t, colour)| Some((ms(t?, self.zero), colour)))
            .collect();
        let ends = known.iter().skip(1).map(|(t, _)| *t).chain([end]);
        known
            .iter()
            .zip(ends)
            .map(|((from, colour), to)| (*from, to, *colour))
            .collect()
    }

    /// Draws the instants as upright lines through both panels, named above.
    fn instants(&self, area: &Area, upper: &Chart, lower: &Chart) -> Drawn {
        let ((left, above), bottom) = (area.get_base_pixel(), lower.y_range().start);
        let width = f64::from(area.dim_in_pixel().0);
        // (position of the line, start and end of the name, row) of later instants already named.
        let mut later: Vec<(f64, f64, u32)> = Vec::new();
        let inside: Vec<_> = named(&self.row.instants)
            .map(|(name, t)| (name, ms(t, self.zero)))
            .filter(|(_, t)| self.window.contains(t))
            .collect();
        for (name, t) in inside.into_iter().rev() {
            let x = upper.backend_coord(&(t, 0.0)).0 - left;
            let foot = lower.backend_coord(&(t, bottom)).1 - above;
            let text = format!("{name} {}", time(t));
            let wide = width_of(&text, LETTER) + 8.0;
            // A name that would leave the drawing at the right moves to the left of its line.
            let fits = f64::from(x) + wide < width;
            let at = f64::from(x) + if fits { 3.0 } else { 3.0 - wide };
            let mut row = ROWS;
            if (self.named)(t) {
                // Place it above every later name and line that it would overlap.
                let met = later
                    .iter()
                    .filter(|(line, from, _)| at + wide > line.min(*from));
                row = met
                    .map(|(.., row)| row.saturating_sub(1))
                    .min()
                    .unwrap_or(ROWS - 1);
                later.push((f64::from(x), at, row));
                area.draw(&Text::new(text, (at as i32, (row * ROW) as i32), note(INK)))?;
            }
            area.draw(&PathElement::new(
                [(x, (row * ROW) as i32), (x, foot)],
                MUTED.rgb(),
            ))?;
        }
        let row = if later.is_empty() { ROWS - 1 } else { 0 };
        self.name_out_beyond(area, row)
    }

    /// Names the end of the arc if it lies beyond the traces kept.
    fn name_out_beyond(&self, area: &Area, row: u32) -> Drawn {
        let out = self.row.instants.t_out_s.map(|t| ms(t, self.zero));
        let Some(t) = out.filter(|t| *t >= self.window.end && (self.named)(*t)) else {
            return Ok(());
        };
        let place = (area.dim_in_pixel().0 as i32 - 20, (row * ROW) as i32);
        let letters = letters(LETTER, INK, HPos::Right, VPos::Top);
        area.draw(&Text::new(format!("out {} →", time(t)), place, letters))
    }
}

/// The known instants in order.
fn named(instants: &Instants) -> impl Iterator<Item = (&'static str, f64)> {
    let all = [
        ("open", instants.t_open_s),
        ("first", instants.t_first_s),
        ("lit", instants.t_lit_s),
        ("settled", instants.t_settled_s),
        ("out", instants.t_out_s),
    ];
    all.into_iter().filter_map(|(name, t)| Some((name, t?)))
}

/// Formats a time since the first current, ms.
fn time(t: f64) -> String {
    match t {
        0.0 => "0".to_owned(),
        t if t.abs() < 10.0 => format!("{t:+.2} ms"),
        t => format!("{t:+.1} ms"),
    }
    .replace('-', "−")
}
