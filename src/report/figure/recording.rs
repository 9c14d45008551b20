//! A whole recording: its traces over time, with idle stretches, gaps and clipping.

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, VPos};

use crate::figure::frame::{Area, Axes, BELOW, Chart, Drawn, LETTER, letters, note, span, svg};
use crate::figure::palette::{
    ALARM, BAND_ATTEMPTS, BAND_OPEN, CURRENT, INK, MUTED, Theme, VOLTAGE,
};
use crate::format::short;
use crate::recording::{Cell, Inspection};
use crate::text::{fit, plain};

const SIZE: (u32, u32) = (1000, 520);

/// Height of the title and the line below it, px.
const TITLE: u32 = 48;

/// Number of columns in the figure, about one per pixel.
const COLUMNS: usize = 920;

/// Values within this fraction of the span from the clipping level count as clipped.
const AT_THE_END: f64 = 1e-5;

/// Draws the traces of a recording.
pub fn recording(seen: &Inspection) -> String {
    let whole = Whole::of(seen);
    let title = format!(
        "{}: {}, {} Hz, {} s",
        fit(&plain(&seen.recording), 40),
        seen.kind,
        short(seen.rate_hz),
        short(seen.seconds)
    );
    let label = format!("Traces of {title}. {}", whole.legend());
    svg(SIZE, &label, |root| {
        let heading = letters(LETTER + 2.0, INK, HPos::Left, VPos::Top);
        root.draw(&Text::new(title, (4, 4), heading))?;
        root.draw(&Text::new(whole.legend(), (4, 26), note(MUTED)))?;
        let (_, body) = root.split_vertically(TITLE);
        let (_, height) = body.dim_in_pixel();
        if seen.voltage.is_none() {
            return whole.panel(&body, &AMPS, true);
        }
        let (upper, lower) = body.split_vertically((height - BELOW) / 2);
        whole.panel(&upper, &AMPS, false)?;
        whole.panel(&lower, &VOLTS, true)
    })
}

/// One of the traces.
struct DrawnTrace {
    name: &'static str,
    colour: Theme,
    number: usize,
    of: fn(&Cell) -> [f32; 3],
}

const AMPS: DrawnTrace = DrawnTrace {
    name: "current",
    colour: CURRENT,
    number: 0,
    of: |c| c.amps,
};

const VOLTS: DrawnTrace = DrawnTrace {
    name: "voltage",
    colour: VOLTAGE,
    number: 1,
    of: |c| c.volts,
};

/// Content of a stretch of time.
#[derive(Clone, Copy, PartialEq)]
enum TracePart {
    /// No samples.
    Missing,
    /// No current.
    Idle,
    /// Anything else.
    Busy,
}

/// A recording divided into columns of equal length.
struct Whole<'a> {
    seen: &'a Inspection,
    to_s: f64,
    /// Cells that reach into each column.
    inside: Vec<std::ops::Range<usize>>,
    columns: Vec<TracePart>,
}

impl<'a> Whole<'a> {
    fn of(seen: &'a Inspection) -> Whole<'a> {
        let cells = &seen.survey.cells;
        let end = |k: usize| seen.cells_at_s[k] + f64::from(cells[k].frames) / seen.rate_hz;
        let to_s = cells.len().checked_sub(1).map_or(1.0, end);
        let mut idle = vec![false; cells.len()];
        seen.survey.idle.iter().for_each(|k| idle[*k] = true);
        let (mut inside, mut columns, mut first) = (Vec::new(), Vec::new(), 0);
        for column in 0..COLUMNS {
            let at = |column: usize| to_s * column as f64 / COLUMNS as f64;
            while first < cells.len() && end(first) <= at(column) {
                first += 1;
            }
            let next = seen.cells_at_s.partition_point(|t| *t < at(column + 1));
            let range = first..next.max(first);
            columns.push(match &idle[range.clone()] {
                [] => TracePart::Missing,
                idle if idle.iter().all(|idle| *idle) => TracePart::Idle,
                _ => TracePart::Busy,
            });
            inside.push(range);
        }
        Whole {
            seen,
            to_s,
            inside,
            columns,
        }
    }

    /// Explains the shades and marks that appear.
    fn legend(&self) -> String {
        let mut words = Vec::new();
        let cells = &self.seen.survey.cells;
        if self.columns.contains(&TracePart::Idle) {
            words.push("shaded grey: no current; the zero comes from here".to_owned());
        }
        if self.seen.gaps > 0 {
            words
                .push("vertical lines: samples are missing there, or between two lines".to_owned());
        }
        for (trace, level) in [AMPS, VOLTS].iter().zip(self.seen.survey.cut_off) {
            if let Some(level) = level {
                let unit = self.unit(trace);
                words.push(format!(
                    "thick line: the {} is clipped at {} {unit}",
                    trace.name,
                    short(level)
                ));
            }
        }
        match (cells.is_empty(), words.is_empty()) {
            (true, _) => "No samples were recorded.".to_owned(),
            (_, true) => "It never rests.".to_owned(),
            _ => words.join("; "),
        }
    }

    fn unit(&self, trace: &DrawnTrace) -> &'static str {
        match (&self.seen.voltage, trace.name) {
            (Some(voltage), "voltage") => voltage.unit,
            _ => self.seen.current.unit,
        }
    }

    /// Name of a trace with its unit and channel.
    fn name(&self, trace: &DrawnTrace) -> String {
        let on = self
            .seen
            .channels
            .iter()
            .find(|c| c.role == Some(trace.name));
        let on = on.map_or(String::new(), |channel| match &channel.title {
            Some(title) => format!(" (column \"{}\")", fit(&plain(title), 24)),
            None => format!(" (channel {})", channel.channel),
        });
        format!("{}, {}{on}", trace.name, self.unit(trace))
    }

    fn panel(&self, area: &Area, trace: &DrawnTrace, lowest: bool) -> Drawn {
        let values = self.gathered(trace);
        let axes = Axes {
            x: 0.0..self.to_s,
            y: span(values.iter().flatten().flatten().map(|v| f64::from(*v))),
            x_name: if lowest {
                "s from the first sample"
            } else {
                ""
            },
            y_name: &self.name(trace),
            y_ticks: 6,
            bare_left: None,
        };
        let mut chart = axes.on(area, |chart| self.shade(chart))?;
        let zero = chart
            .y_range()
            .contains(&0.0)
            .then_some([(0.0, 0.0), (self.to_s, 0.0)]);
        chart.draw_series(zero.map(|line| PathElement::new(line, MUTED.rgb())))?;
        for corners in self.envelopes(&values) {
            let ink = trace.colour.rgb();
            chart.draw_series([PathElement::new(corners.clone(), ink.stroke_width(1))])?;
            chart.draw_series([Polygon::new(corners, ink.filled())])?;
        }
        self.mark_gaps(&mut chart)?;
        self.mark_cut_off(&mut chart, trace, &values)
    }

    /// The outline of each unbroken stretch between its least and greatest values: a column knows its extremes and not
    /// their order, so no line leads from one to the other.
    fn envelopes(&self, values: &[Option<[f32; 2]>]) -> Vec<Vec<(f64, f64)>> {
        let edge = |from: usize, to: usize, end: usize| -> Vec<(f64, f64)> {
            let cells = values[from..to].iter().flatten().zip(from..);
            let point =
                |(cell, x): (&[f32; 2], usize)| (self.at_s(x as f64 + 0.5), cell[end].into());
            cells.map(point).collect()
        };
        let stretches = runs(values.iter().map(Option::is_some)).into_iter();
        let outline = |(from, to)| {
            let (upper, lower) = (edge(from, to, 1), edge(from, to, 0));
            upper.into_iter().chain(lower.into_iter().rev()).collect()
        };
        stretches.map(outline).collect()
    }

    fn at_s(&self, column: f64) -> f64 {
        self.to_s * column / COLUMNS as f64
    }

    /// Minimum and maximum of a trace in each column.
    fn gathered(&self, trace: &DrawnTrace) -> Vec<Option<[f32; 2]>> {
        let cells = &self.seen.survey.cells;
        let ends = |range: &std::ops::Range<usize>| {
            let ends = cells[range.clone()]
                .iter()
                .map(|c| [(trace.of)(c)[0], (trace.of)(c)[1]]);
            ends.reduce(|a, b| [a[0].min(b[0]), a[1].max(b[1])])
        };
        self.inside.iter().map(ends).collect()
    }

    /// Shades idle stretches and gaps.
    fn shade(&self, chart: &mut Chart) -> Drawn {
        let y = chart.y_range();
        for (kind, colour) in [
            (TracePart::Idle, BAND_OPEN),
            (TracePart::Missing, BAND_ATTEMPTS),
        ] {
            for (from, to) in runs(self.columns.iter().map(|c| *c == kind)) {
                let (from, to) = (self.at_s(from as f64), self.at_s(to as f64));
                let band = [(from, y.start), (to, y.end)];
                chart.draw_series([Rectangle::new(band, colour.rgb().filled())])?;
            }
        }
        Ok(())
    }

    /// Marks the ends of gaps, however short, with upright lines, at most one per column.
    fn mark_gaps(&self, chart: &mut Chart) -> Drawn {
        let (cells, at) = (&self.seen.survey.cells, &self.seen.cells_at_s);
        let end = |k: usize| at[k] + f64::from(cells[k].frames) / self.seen.rate_hz;
        let half = 0.5 / self.seen.rate_hz;
        let gaps = (1..cells.len()).filter(|&k| at[k] > end(k - 1) + half);
        let mut edges: Vec<f64> = gaps.flat_map(|k| [end(k - 1), at[k]]).collect();
        edges.dedup_by_key(|t| (*t / self.to_s * COLUMNS as f64) as usize);
        let y = chart.y_range();
        let line = |x: f64| PathElement::new([(x, y.start), (x, y.end)], MUTED.rgb());
        chart.draw_series(edges.into_iter().map(line)).map(drop)
    }

    /// Draws a thick line at the level where the trace is clipped.
    fn mark_cut_off(
        &self,
        chart: &mut Chart,
        trace: &DrawnTrace,
        values: &[Option<[f32; 2]>],
    ) -> Drawn {
        let Some(level) = self.seen.survey.cut_off[trace.number] else {
            return Ok(());
        };
        let y = chart.y_range();
        let near = |v: f32| (f64::from(v) - level).abs() <= AT_THE_END * (y.end - y.start);
        let cut = values
            .iter()
            .map(|ends| ends.is_some_and(|ends| ends.into_iter().any(near)));
        let marks = runs(cut).into_iter().map(|(from, to)| {
            let line = [
                (self.at_s(from as f64), level),
                (self.at_s(to as f64), level),
            ];
            PathElement::new(line, ALARM.rgb().stroke_width(4))
        });
        chart.draw_series(marks).map(drop)
    }
}

/// Returns each run of columns for which `so` holds, as its first and the one past its last.
fn runs(so: impl Iterator<Item = bool>) -> Vec<(usize, usize)> {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for (k, _) in so.enumerate().filter(|(_, so)| *so) {
        match runs.last_mut() {
            Some((_, end)) if *end == k => *end = k + 1,
            _ => runs.push((k, k + 1)),
        }
    }
    runs
}
