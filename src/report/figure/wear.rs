//! A measure against the starts since the tip was ground: points, line, limit, regrind number.

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, VPos};

use super::frame::{Axes, LETTER, letters, note, span, svg};
use super::marks::mark;
use super::palette::{ALARM, INK, MUTED, PREPS};
use crate::report::number::short;
use crate::report::text::{fit, plain, titled};
use crate::study::Wear;

const SIZE: (u32, u32) = (640, 340);

/// Draws the wear of one prep in one measure; `points` as (starts since regrind, value).
pub fn wear(wear: &Wear, points: &[(f64, f64)]) -> String {
    let label = format!(
        "{} of prep {} against starts since regrind. {}",
        plain(&wear.measure),
        plain(&wear.prep),
        plain(&wear.says)
    );
    svg(SIZE, &label, |root| {
        let ink = PREPS[0].rgb();
        let last = points
            .iter()
            .map(|p| p.0)
            .chain(wear.at)
            .chain(wear.hi)
            .fold(1.0, f64::max);
        let line = |x: f64| wear.intercept + wear.slope * x;
        let heights = points
            .iter()
            .map(|p| p.1)
            .chain(wear.limit)
            .chain([line(0.0), line(last)]);
        let name = format!(
            "{}, prep {}",
            titled(&wear.measure),
            fit(&plain(&wear.prep), 20)
        );
        let axes = Axes {
            x: 0.0..1.04 * last,
            y: span(heights),
            x_name: "starts since regrind",
            y_name: &name,
            y_ticks: 6,
            bare_left: None,
        };
        let mut chart = axes.on(root, |chart| {
            let (Some(lo), Some(hi)) = (wear.lo, wear.hi) else {
                return Ok(());
            };
            let y = chart.y_range();
            chart
                .draw_series([Rectangle::new(
                    [(lo, y.start), (hi, y.end)],
                    ALARM.rgb().mix(0.13).filled(),
                )])
                .map(drop)
        })?;
        chart.draw_series(points.iter().map(|p| mark(*p, 0, 3, ink.stroke_width(1))))?;
        chart.draw_series(LineSeries::new(
            [(0.0, line(0.0)), (last, line(last))],
            ink.stroke_width(2),
        ))?;
        if let Some(limit) = wear.limit {
            let ends = [(0.0, limit), (1.04 * last, limit)];
            chart.draw_series(DashedLineSeries::new(
                ends,
                8,
                5,
                ALARM.rgb().stroke_width(2),
            ))?;
            let at = chart.backend_coord(&(0.0, limit));
            root.draw(&Text::new(
                format!("limit {}", short(limit)),
                (at.0 + 6, at.1 - 2),
                letters(LETTER - 1.0, ALARM, HPos::Left, VPos::Bottom),
            ))?;
        }
        if let Some(regrind) = wear.at {
            let (foot, head) = (
                chart.backend_coord(&(regrind, axes.y.start)),
                chart.backend_coord(&(regrind, axes.y.end)),
            );
            root.draw(&PathElement::new([foot, head], MUTED.rgb()))?;
            let text = format!("regrind by {regrind:.0}");
            let left = head.0 - super::frame::width_of(&text, LETTER) as i32 - 4;
            root.draw(&Text::new(text, (left.max(60), head.1 + 4), note(INK)))?;
        }
        Ok(())
    })
}
