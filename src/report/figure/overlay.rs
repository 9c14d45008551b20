//! All starts of each prep superimposed at the strike, with median and spread.

use plotters::prelude::*;

use crate::figure::frame::{Area, Axes, BELOW, Drawn, LETTER, note, svg};
use crate::figure::marks::colour;
use crate::figure::palette::{INK, MUTED};
use crate::format::counted;
use crate::score::StartRow;
use crate::start::Preview;
use crate::text::{fit, plain};

/// The starts of one prep.
#[derive(Debug, Clone)]
pub struct Together<'a> {
    /// The prep.
    pub name: &'a str,
    /// Its starts that conducted, each with its traces.
    pub starts: Vec<(&'a StartRow, &'a Preview)>,
}

const WIDTH: u32 = 1000;

/// Height of a panel, px.
const PANEL: u32 = 190;

/// Number of instants at which the median is taken.
const STEPS: usize = 200;

/// Maximum number of single starts drawn: more would clutter the figure and bloat the page.
const SINGLES: usize = 20;

/// A start conducts while its current exceeds this fraction of the highest in the figure.
const CONDUCTING: f64 = 0.05;

/// Draws the current of each prep's starts from shortly before the strike until they have settled.
pub fn overlay(groups: &[Together]) -> String {
    let (from, to) = strike_window(groups.iter().flat_map(|g| &g.starts).map(|(row, _)| *row));
    let series: Vec<Vec<Vec<f64>>> = groups
        .iter()
        .map(|group| sampled(group, from, to))
        .collect();
    let top = series
        .iter()
        .flatten()
        .flatten()
        .copied()
        .fold(1.0, f64::max);
    let names: Vec<_> = groups.iter().map(|group| plain(group.name)).collect();
    let label = format!(
        "Current of all starts, superimposed at the first current, by prep: {}",
        names.join(", ")
    );
    svg(
        (WIDTH, PANEL * groups.len().max(1) as u32 + BELOW),
        &label,
        |root| {
            for (i, (group, series)) in groups.iter().zip(&series).enumerate() {
                let last = i + 1 == groups.len();
                let height = (i as u32 * PANEL) as i32;
                let below = height + PANEL as i32 + if last { BELOW as i32 } else { 0 };
                let area = root
                    .clone()
                    .shrink((0, height), (WIDTH, (below - height) as u32));
                let axes = Axes {
                    x: from..to,
                    y: 0.0..1.08 * top,
                    x_name: if last {
                        "ms from the first current"
                    } else {
                        ""
                    },
                    y_name: "",
                    y_ticks: 5,
                    bare_left: None,
                };
                panel(&area, &axes, i, group, series)?;
            }
            Ok(())
        },
    )
}

fn panel(area: &Area, axes: &Axes, number: usize, group: &Together, series: &[Vec<f64>]) -> Drawn {
    let (ink, span) = (colour(number).rgb(), axes.x.end - axes.x.start);
    let at = |step: usize| axes.x.start + span * (step as f64 + 0.5) / STEPS as f64;
    let mut chart = axes.on(area, |_| Ok(()))?;
    let conducting = conducting(series, CONDUCTING * axes.y.end);
    if series.len() > 2 {
        let lower = (0..STEPS).map(|step| (at(step), quantile(&conducting[step], 0.1)));
        let upper = (0..STEPS).map(|step| (at(step), quantile(&conducting[step], 0.9)));
        chart.draw_series([Polygon::new(
            lower.chain(upper.rev()).collect::<Vec<_>>(),
            ink.mix(0.2).filled(),
        )])?;
    }
    let every = series.len().div_ceil(SINGLES).max(1);
    for single in series.iter().step_by(every) {
        let line = single
            .iter()
            .enumerate()
            .map(|(step, value)| (at(step), *value));
        chart.draw_series(LineSeries::new(line, ink.mix(0.45).stroke_width(1)))?;
    }
    let median = (0..STEPS).map(|step| (at(step), quantile(&at_step(series, step), 0.5)));
    if !series.is_empty() {
        chart.draw_series(LineSeries::new(median, ink.stroke_width(3)))?;
    }
    area.draw(&Text::new(
        format!("{}: current, A", fit(&plain(group.name), 24)),
        (4, 3),
        note(INK),
    ))?;
    let all = series.len();
    // The middle of a step is never the first current itself.
    let fewest = (0..STEPS).filter(|step| at(*step) > 0.02 * span);
    let fewest = fewest.min_by_key(|step| conducting[*step].len());
    let lull = match fewest.map(|step| (step, conducting[step].len())) {
        Some((step, few)) if few < all => {
            format!("; fewest conduct at {:.0} ms: {few} of {all}", at(step))
        }
        _ => String::new(),
    };
    let key = format!(
        "{} (thin), median (thick), 10 to 90 % of those conducting (shaded){lull}",
        counted(all, "start")
    );
    let right = (WIDTH - 20) as i32;
    area.draw(&Text::new(
        key,
        (right, 3),
        super::frame::letters(
            LETTER - 1.0,
            MUTED,
            plotters::style::text_anchor::HPos::Right,
            plotters::style::text_anchor::VPos::Top,
        ),
    ))
}

/// Time window from shortly before the strike until nine tenths of the starts have settled, ms from the first current.
pub fn strike_window<'a>(rows: impl Iterator<Item = &'a StartRow>) -> (f64, f64) {
    let settled = |row: &StartRow| {
        let end = row.instants.t_settled_s.or(row.instants.t_lit_s)?;
        Some(1e3 * (end - row.instants.t_first_s?))
    };
    let mut ends: Vec<f64> = rows.filter_map(settled).collect();
    ends.sort_by(f64::total_cmp);
    let end = ends
        .get(ends.len() * 9 / 10)
        .copied()
        .unwrap_or(100.0)
        .max(20.0);
    (-0.08 * end, 1.3 * end)
}

/// Current magnitude of each start (AC: the highest over a half-cycle) at the steps of the window; leaves out starts
/// that never conducted.
fn sampled(group: &Together, from: f64, to: f64) -> Vec<Vec<f64>> {
    let one = |(row, preview): &(&StartRow, &Preview)| {
        let zero = row.instants.t_first_s?;
        // On AC the highest of the last half-cycle: a zero crossing is not a dark arc.
        let half_cycle = row.measures.ac_hz().map_or(0.0, |hz| 0.5 / hz);
        let back = (half_cycle / preview.step_s).ceil() as usize;
        let value = |step: usize| {
            let t = zero + 1e-3 * (from + (to - from) * (step as f64 + 0.5) / STEPS as f64);
            let column = ((t - preview.from_s) / preview.step_s).floor();
            if column < 0.0 || column as usize >= preview.amps.len() {
                return 0.0;
            }
            let column = column as usize;
            let columns = &preview.amps[column.saturating_sub(back)..=column];
            let magnitude = columns.iter().flatten().map(|amps| amps.abs());
            f64::from(magnitude.fold(0.0, f32::max))
        };
        Some((0..STEPS).map(value).collect())
    };
    group.starts.iter().filter_map(one).collect()
}

fn at_step(series: &[Vec<f64>], step: usize) -> Vec<f64> {
    let mut values: Vec<f64> = series.iter().map(|single| single[step]).collect();
    values.sort_by(f64::total_cmp);
    values
}

/// Values above a level at each step, sorted; an arc that is dark for a moment says nothing about the current of the
/// others.
fn conducting(series: &[Vec<f64>], level: f64) -> Vec<Vec<f64>> {
    let over = |step| {
        let mut values = at_step(series, step);
        values.retain(|value| *value > level);
        values
    };
    (0..STEPS).map(over).collect()
}

/// Quantile of sorted values; 0 if there are none.
fn quantile(values: &[f64], part: f64) -> f64 {
    values
        .get((part * (values.len().max(1) - 1) as f64).round() as usize)
        .copied()
        .unwrap_or(0.0)
}
