//! Truth against measured: for each measure the difference over the true value, with bias and limits of agreement.

use plotters::prelude::*;

use crate::figure::frame::{Area, Axes, Drawn, span, svg};
use crate::figure::marks::{colour, mark};
use crate::figure::palette::MUTED;
use crate::format::short;
use crate::measure::Measure;
use crate::rehearsal::{MeasureSpread, Rehearsal};
use crate::text::titled;

/// Measures that are drawn where they were measured, in this order.
const DRAWN: [Measure; 6] = [
    Measure::StartMs,
    Measure::DelayMs,
    Measure::SettleMs,
    Measure::WanderV,
    Measure::RunA,
    Measure::DropoutMs,
];
/// Size of one panel, px.
const PANEL: (u32, u32) = (420, 230);
/// Panels in a row.
const ACROSS: usize = 2;

/// Draws a panel for each measure.
pub fn agreement(of: &Rehearsal) -> String {
    let of_measure = |measure: &Measure| of.measures.iter().find(|m| m.measure == *measure);
    let drawn: Vec<&MeasureSpread> = DRAWN.iter().filter_map(of_measure).collect();
    let rows = drawn.len().div_ceil(ACROSS).max(1);
    let words = drawn.iter().map(|m| {
        format!(
            "{}: bias {}, limits {} to {}",
            titled(m.measure.name()),
            short(m.spread.bias),
            short(m.spread.lo),
            short(m.spread.hi)
        )
    });
    let label = format!(
        "Measured less true of made starts, over the true value. {}",
        words.collect::<Vec<_>>().join("; ")
    );
    let size = (ACROSS as u32 * PANEL.0, rows as u32 * PANEL.1);
    svg(size, &label, |root| {
        let areas = root.split_evenly((rows, ACROSS));
        areas
            .iter()
            .zip(drawn)
            .try_for_each(|(area, measure)| panel(area, of, measure))
    })
}

fn panel(area: &Area, of: &Rehearsal, drawn: &MeasureSpread) -> Drawn {
    let own = of.dots.iter().filter(|dot| dot.measure == drawn.measure);
    let dots: Vec<(f64, f64)> = own.map(|d| (d.truth, d.measured - d.truth)).collect();
    let spread = &drawn.spread;
    let x = span(dots.iter().map(|d| d.0));
    let ends = [spread.lo, spread.hi, 0.0];
    let (x_name, y_name) = (
        format!("true {}", titled(drawn.measure.name())),
        format!("measured less true, {}", drawn.measure.unit()),
    );
    let axes = Axes {
        x: x.clone(),
        y: span(dots.iter().map(|d| d.1).chain(ends)),
        x_name: &x_name,
        y_name: &y_name,
        y_ticks: 5,
        bare_left: None,
    };
    let mut chart = axes.on(area, |_| Ok(()))?;
    let ink = colour(0).rgb();
    chart.draw_series(
        dots.iter()
            .map(|dot| mark(*dot, 0, 3, ink.mix(0.55).stroke_width(1))),
    )?;
    for (y, width) in [(spread.bias, 2), (spread.lo, 1), (spread.hi, 1)] {
        let line = [(x.start, y), (x.end, y)];
        let style = MUTED.rgb().stroke_width(width);
        chart.draw_series([PathElement::new(line, style)])?;
    }
    Ok(())
}
