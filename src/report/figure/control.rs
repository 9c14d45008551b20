//! The screening chart: single starts and their moving average against the limits.

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, VPos};

use super::frame::{Axes, LETTER, letters, span, svg};
use super::marks::mark;
use super::palette::{ALARM, INK, MUTED, PREPS, RULE, Theme};
use crate::report::number::short;
use crate::report::text::{fit, plain, titled};
use crate::study::Chart;

const SIZE: (u32, u32) = (1000, 340);

/// Room to the right for the names of the lines, px.
const NAMES: i32 = 150;

/// Draws one control chart.
pub fn control(chart: &Chart) -> String {
    let outside: Vec<usize> = (0..chart.points.len())
        .filter(|i| is_outside(chart, *i))
        .collect();
    let label = format!(
        "Control chart of {} for {}: {} starts, {} outside the limits {} to {}",
        plain(&chart.measure),
        plain(&chart.id),
        chart.points.len(),
        outside.len(),
        short(chart.lower),
        short(chart.upper)
    );
    svg(SIZE, &label, |root| {
        let (plot, _) = root.split_horizontally(SIZE.0 as i32 - NAMES);
        let count = chart.points.len().max(1) as f64;
        let name = format!("{}: {}", titled(&chart.measure), fit(&plain(&chart.id), 24));
        let values = chart
            .points
            .iter()
            .flat_map(|p| [p.value, p.ewma])
            .chain([chart.upper, chart.lower]);
        let axes = Axes {
            x: 0.5..count + 0.5,
            y: span(values),
            x_name: "start, in order",
            y_name: &name,
            y_ticks: 6,
            bare_left: None,
        };
        let mut drawn = axes.on(&plot, |drawn| {
            let y = drawn.y_range();
            let baseline = [(0.5, y.start), (chart.baseline as f64 + 0.5, y.end)];
            drawn
                .draw_series([Rectangle::new(baseline, RULE.rgb().mix(0.35).filled())])
                .map(drop)
        })?;
        let ink = PREPS[0].rgb();
        let across = |y: f64| [(axes.x.start, y), (axes.x.end, y)];
        drawn.draw_series(LineSeries::new(across(chart.centre), MUTED.rgb()))?;
        for y in [chart.upper, chart.lower] {
            drawn.draw_series(DashedLineSeries::new(
                across(y),
                10,
                5,
                ALARM.rgb().stroke_width(2),
            ))?;
        }
        for y in [chart.ewma_upper, chart.ewma_lower] {
            drawn.draw_series(DashedLineSeries::new(
                across(y),
                3,
                4,
                MUTED.rgb().stroke_width(1),
            ))?;
        }
        let place = |i: usize| i as f64 + 1.0;
        drawn.draw_series(LineSeries::new(
            chart
                .points
                .iter()
                .enumerate()
                .map(|(i, p)| (place(i), p.ewma)),
            ink.stroke_width(2),
        ))?;
        drawn.draw_series(
            chart
                .points
                .iter()
                .enumerate()
                .map(|(i, p)| mark((place(i), p.value), 0, 3, ink.stroke_width(1))),
        )?;
        drawn.draw_series(outside.iter().map(|i| {
            mark(
                (place(*i), chart.points[*i].value),
                3,
                6,
                ALARM.rgb().filled(),
            )
        }))?;
        let names: [(f64, &str, Theme); 5] = [
            (chart.upper, "limit", ALARM),
            (chart.lower, "limit", ALARM),
            (chart.centre, "centre", INK),
            (chart.ewma_upper, "limit of average", MUTED),
            (chart.ewma_lower, "limit of average", MUTED),
        ];
        name_lines(
            root,
            &names.map(|(y, name, theme)| {
                (
                    drawn.backend_coord(&(0.0, y)).1,
                    format!("{name} {}", short(y)),
                    theme,
                )
            }),
        )
    })
}

/// Names at the right ends of lines, moved apart where they would lie on each other.
fn name_lines(root: &super::frame::Area, names: &[(i32, String, Theme)]) -> super::frame::Drawn {
    let mut names = names.to_vec();
    names.sort_by_key(|(y, ..)| *y);
    let mut free = i32::MIN;
    for (y, text, theme) in names {
        let y = y.max(free);
        free = y + LETTER as i32 + 2;
        let at = (SIZE.0 as i32 - NAMES - 12, y);
        root.draw(&Text::new(
            text,
            at,
            letters(LETTER - 1.0, theme, HPos::Left, VPos::Center),
        ))?;
    }
    Ok(())
}

fn is_outside(chart: &Chart, i: usize) -> bool {
    let value = chart.points[i].value;
    value > chart.upper || value < chart.lower
}
