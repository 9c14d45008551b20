//! The screening chart: single starts and their moving average against the limits.

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, VPos};

use crate::format::short;
use crate::report::figure::frame::{
    Area, Axes, Chart as Axed, DrawError, Drawn, LETTER, letters, span, svg,
};
use crate::report::figure::marks::mark;
use crate::report::figure::palette::{ALARM, INK, MUTED, PREPS, RULE, Theme};
use crate::report::text::{fit, plain, titled};
use crate::study::Chart;

const SIZE: (u32, u32) = (1000, 340);

/// Room to the right for the names of the lines, px.
const NAMES: i32 = 150;

/// Draws one control chart.
pub fn control(chart: &Chart) -> String {
    svg(SIZE, &label(chart), |root| {
        let (plot, _) = root.split_horizontally(SIZE.0 as i32 - NAMES);
        let mut axes = axes_on(chart, &plot)?;
        lines(chart, &mut axes)?;
        starts(chart, &mut axes)?;
        let names: [(f64, &str, Theme); 5] = [
            (chart.upper, "limit", ALARM),
            (chart.lower, "limit", ALARM),
            (chart.centre, "centre", INK),
            (chart.ewma_upper, "limit of average", MUTED),
            (chart.ewma_lower, "limit of average", MUTED),
        ];
        let named = names.map(|(y, name, theme)| {
            let (_, row) = axes.backend_coord(&(0.0, y));
            (row, format!("{name} {}", short(y)), theme)
        });
        name_lines(root, &named)
    })
}

/// What a screen reader says of it.
fn label(chart: &Chart) -> String {
    format!(
        "Control chart of {} for {}: {} starts, {} outside the limits {} to {}",
        plain(&chart.measure),
        plain(&chart.id),
        chart.points.len(),
        outside(chart).count(),
        short(chart.lower),
        short(chart.upper)
    )
}

/// Axes over all values, the starts that the limits come from shaded.
fn axes_on<'a>(chart: &Chart, plot: &Area<'a>) -> Result<Axed<'a>, DrawError> {
    let values = chart.points.iter().flat_map(|p| [p.value, p.ewma]);
    let name = format!("{}: {}", titled(&chart.measure), fit(&plain(&chart.id), 24));
    let axes = Axes {
        x: 0.5..chart.points.len().max(1) as f64 + 0.5,
        y: span(values.chain([chart.upper, chart.lower])),
        x_name: "start, in order",
        y_name: &name,
        y_ticks: 6,
        bare_left: None,
    };
    axes.on(plot, |drawn| {
        let y = drawn.y_range();
        let baseline = [(0.5, y.start), (chart.baseline as f64 + 0.5, y.end)];
        let shade = Rectangle::new(baseline, RULE.rgb().mix(0.35).filled());
        drawn.draw_series([shade]).map(drop)
    })
}

/// Centre and limits.
fn lines(chart: &Chart, axes: &mut Axed) -> Drawn {
    let x = axes.x_range();
    let across = |y: f64| [(x.start, y), (x.end, y)];
    axes.draw_series(LineSeries::new(across(chart.centre), MUTED.rgb()))?;
    for y in [chart.upper, chart.lower] {
        let bold = ALARM.rgb().stroke_width(2);
        axes.draw_series(DashedLineSeries::new(across(y), 10, 5, bold))?;
    }
    for y in [chart.ewma_upper, chart.ewma_lower] {
        let fine = MUTED.rgb().stroke_width(1);
        axes.draw_series(DashedLineSeries::new(across(y), 3, 4, fine))?;
    }
    Ok(())
}

/// The moving average as a line, starts as points, those outside the limits filled.
fn starts(chart: &Chart, axes: &mut Axed) -> Drawn {
    let ink = PREPS[0].rgb();
    let place = |i: usize| i as f64 + 1.0;
    let at = |i: usize| (place(i), chart.points[i].value);
    let average = chart.points.iter().enumerate();
    axes.draw_series(LineSeries::new(
        average.map(|(i, p)| (place(i), p.ewma)),
        ink.stroke_width(2),
    ))?;
    let all = 0..chart.points.len();
    axes.draw_series(all.map(|i| mark(at(i), 0, 3, ink.stroke_width(1))))?;
    axes.draw_series(outside(chart).map(|i| mark(at(i), 3, 6, ALARM.rgb().filled())))?;
    Ok(())
}

/// Names at the right ends of lines, moved apart where they would lie on each other.
fn name_lines(root: &Area, names: &[(i32, String, Theme)]) -> Drawn {
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

/// The starts outside the limits.
fn outside(chart: &Chart) -> impl Iterator<Item = usize> {
    let within = chart.lower..=chart.upper;
    let points = chart.points.iter().enumerate();
    points
        .filter(move |(_, p)| !within.contains(&p.value))
        .map(|(i, _)| i)
}
