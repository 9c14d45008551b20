//! The screening chart: single starts, and below them what the chart holds against its limits.

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, VPos};

use crate::figure::frame::{
    Area, Axes, Chart as Axed, DrawError, Drawn, LETTER, letters, span, span_of, svg,
};
use crate::figure::marks::mark;
use crate::figure::one_in;
use crate::figure::palette::{ALARM, INK, MUTED, PREPS, RULE, Theme};
use crate::format::short;
use crate::study::{Chart, ChartPoint, Rule};
use crate::text::{fit, plain, titled};

const SIZE: (u32, u32) = (1000, 300);

/// Room to the right for the names of the lines, px.
const NAMES: i32 = 150;

/// What each kind of chart holds against its limits.
fn statistic(rule: Rule) -> &'static str {
    match rule {
        Rule::Individuals => "single starts",
        Rule::Ewma => "moving average",
        _ => "sum of how much worse than usual",
    }
}

/// Ranges that charts of one measure share, so that their groups can be held against each other.
#[derive(Debug, Clone, PartialEq)]
pub struct ControlScale {
    values: std::ops::Range<f64>,
    statistic: std::ops::Range<f64>,
}

impl ControlScale {
    /// The scale of all charts of a measure.
    pub fn of(charts: &[Chart], measure: &str) -> ControlScale {
        let all = || charts.iter().filter(|chart| chart.measure == measure);
        let points = || all().flat_map(|chart| &chart.points);
        let values = points().filter_map(|point| point.value);
        let ends = all().flat_map(|chart| [chart.upper, chart.lower]).flatten();
        let drawn = points().filter_map(|point| point.statistic).chain(ends);
        let ranks = all().any(|chart| chart.rule == Rule::RankCusum);
        ControlScale {
            values: span_of(measure, values.chain(all().map(|chart| chart.centre))),
            statistic: match ranks {
                true => span(drawn),
                false => span_of(measure, drawn),
            },
        }
    }
}

/// Draws the starts in order, those filled during which the chart is out; one that did not light stands
/// as a cross, at the edge if it has no value.
pub fn starts(chart: &Chart, scale: &ControlScale) -> String {
    let label = format!(
        "Starts of {} in order, {}: {}",
        plain(&chart.id),
        plain(&chart.measure),
        chart.points.len()
    );
    svg(SIZE, &label, |root| {
        let (plot, _) = root.split_horizontally(SIZE.0 as i32 - NAMES);
        let range = scale.values.clone();
        let name = format!("{}: {}", titled(&chart.measure), fit(&plain(&chart.id), 40));
        let edge = if chart.measure == "score" {
            range.start
        } else {
            range.end
        };
        let mut axes = axes_on(chart, &plot, &name, range)?;
        line(&mut axes, chart.centre, MUTED)?;
        let ink = PREPS[0].rgb();
        for (k, point) in drawn(chart) {
            let at = (k, point.value.unwrap_or(edge));
            match (point.out, point.lit) {
                (true, true) => axes
                    .draw_series([mark(at, 3, 6, ALARM.rgb().filled())])
                    .map(drop)?,
                (_, false) => axes
                    .draw_series([Cross::new(at, 5, ALARM.rgb().stroke_width(2))])
                    .map(drop)?,
                _ => axes
                    .draw_series([mark(at, 0, 3, ink.stroke_width(1))])
                    .map(drop)?,
            }
        }
        names(root, &axes, &[(chart.centre, "usual", INK)])
    })
}

/// Draws what the chart holds against its limits; starts that did not light are crosses there too.
pub fn control(chart: &Chart, scale: &ControlScale) -> String {
    let out = chart.points.iter().filter(|point| point.out).count();
    let name = statistic(chart.rule);
    let label = format!(
        "Control chart of {} for {}, {name}: {} starts, {out} out",
        plain(&chart.measure),
        plain(&chart.id),
        chart.points.len()
    );
    svg(SIZE, &label, |root| {
        let (plot, _) = root.split_horizontally(SIZE.0 as i32 - NAMES);
        let range = scale.statistic.clone();
        let ends = [chart.upper, chart.lower].into_iter().flatten();
        let ends = ends.filter(|end| range.contains(end));
        let mut axes = axes_on(chart, &plot, name, range.clone())?;
        let ink = PREPS[0].rgb().stroke_width(2);
        axes.draw_series(LineSeries::new(places(chart, |point| point.statistic), ink))?;
        let limits: [fn(&ChartPoint) -> Option<f64>; 2] =
            [|point| point.upper, |point| point.lower];
        for limit in limits {
            let bold = ALARM.rgb().stroke_width(2);
            let inside = places(chart, limit)
                .into_iter()
                .filter(|(_, y)| range.contains(y));
            axes.draw_series(DashedLineSeries::new(
                inside.collect::<Vec<_>>(),
                10,
                5,
                bold,
            ))?;
        }
        let out = drawn(chart).filter(|(_, point)| point.out);
        let marks = out.filter_map(|(k, point)| Some((k, point.statistic?)));
        axes.draw_series(marks.map(|at| mark(at, 3, 6, ALARM.rgb().filled())))?;
        let dark = drawn(chart).filter(|(_, point)| !point.lit);
        let edge = range.start;
        let dark = dark.map(|(k, point)| (k, point.statistic.unwrap_or(edge)));
        axes.draw_series(dark.map(|at| Cross::new(at, 5, ALARM.rgb().stroke_width(2))))?;
        let named: Vec<(f64, &str, Theme)> = ends.map(|y| (y, "limit", ALARM)).collect();
        names(root, &axes, &named)
    })
}

/// The points that are drawn, each with its number from 1.
fn drawn(chart: &Chart) -> impl Iterator<Item = (f64, &ChartPoint)> {
    let points = chart
        .points
        .iter()
        .zip(1..)
        .step_by(one_in(chart.points.len()));
    points.map(|(point, k)| (f64::from(k), point))
}

/// Points of a line over the starts.
fn places(chart: &Chart, of: impl Fn(&ChartPoint) -> Option<f64>) -> Vec<(f64, f64)> {
    let points = drawn(chart);
    points
        .filter_map(|(k, point)| Some((k, of(point)?)))
        .collect()
}

/// Axes over all starts, this batch's part of the baseline shaded.
fn axes_on<'a>(
    chart: &Chart,
    plot: &Area<'a>,
    name: &str,
    y: std::ops::Range<f64>,
) -> Result<Axed<'a>, DrawError> {
    let axes = Axes {
        x: 0.5..chart.points.len().max(1) as f64 + 0.5,
        y,
        x_name: "start, in order",
        y_name: name,
        y_ticks: 6,
        bare_left: None,
    };
    axes.on(plot, |drawn| {
        let y = drawn.y_range();
        let baseline = [(0.5, y.start), (chart.own_baseline as f64 + 0.5, y.end)];
        let shade = Rectangle::new(baseline, RULE.rgb().mix(0.35).filled());
        drawn.draw_series([shade]).map(drop)
    })
}

fn line(axes: &mut Axed, y: f64, theme: Theme) -> Drawn {
    let x = axes.x_range();
    let across = [(x.start, y), (x.end, y)];
    axes.draw_series(LineSeries::new(across, theme.rgb()))
        .map(drop)
}

/// Names at the right ends of lines, moved apart where they would lie on each other.
fn names(root: &Area, axes: &Axed, lines: &[(f64, &str, Theme)]) -> Drawn {
    let row = |y: f64| axes.backend_coord(&(0.0, y)).1;
    let mut lines = lines.to_vec();
    lines.sort_by_key(|(y, ..)| row(*y));
    let mut free = i32::MIN;
    for (value, name, theme) in lines {
        let y = row(value).max(free);
        free = y + LETTER as i32 + 2;
        let at = (SIZE.0 as i32 - NAMES - 12, y);
        root.draw(&Text::new(
            format!("{name} {}", short(value)),
            at,
            letters(LETTER - 1.0, theme, HPos::Left, VPos::Center),
        ))?;
    }
    Ok(())
}
