//! Two cycles of an alternating current with its voltage, the electrode-negative time shaded.

use plotters::prelude::*;

use crate::figure::frame::{Area, Axes, BELOW, Chart, Drawn, svg};
use crate::figure::palette::{BAND_SETTLING, CURRENT, MUTED, Theme, VOLTAGE};
use crate::score::StartRow;
use crate::start::Preview;
use crate::start::decimate::lines;

/// As wide as a phone, so that the letters stay readable there and beside a second figure.
const SIZE: (u32, u32) = (420, 320);

/// Cycles drawn.
const CYCLES: f64 = 2.0;

/// Cycles after the settled instant from which one is drawn.
const AFTER: f64 = 2.0;

/// Draws two cycles shortly after the start has settled, from a change to electrode negative on. `None` where the
/// current does not alternate, or not long enough.
pub fn cycle(row: &StartRow, preview: &Preview) -> Option<String> {
    let period = 1.0 / row.measures.ac_hz()?;
    let settled = row.instants.t_settled_s.or(row.instants.t_lit_s)?;
    let column = |t: f64| ((t - preview.from_s) / preview.step_s).max(0.0) as usize;
    let long = (CYCLES * period / preview.step_s).round() as usize;
    let from = rising(&preview.amps, column(settled + AFTER * period))?;
    let amps = preview.amps.get(from..from + long)?;
    let volts = preview.volts.get(from..from + long).unwrap_or_default();
    let label = "Two cycles of current and voltage, electrode-negative time shaded";
    Some(svg(SIZE, label, |root| {
        if volts.is_empty() {
            return panel(
                root,
                amps,
                amps,
                preview.step_s,
                ("current, A", CURRENT),
                true,
            );
        }
        let (upper, lower) = root.split_vertically((SIZE.1 - BELOW) / 2);
        panel(
            &upper,
            amps,
            amps,
            preview.step_s,
            ("current, A", CURRENT),
            false,
        )?;
        panel(
            &lower,
            volts,
            amps,
            preview.step_s,
            ("voltage, V", VOLTAGE),
            true,
        )
    }))
}

/// The first column from `from` on in which the current becomes positive: the electrode negative.
fn rising(amps: &[[f32; 2]], from: usize) -> Option<usize> {
    let middle = |k: usize| amps[k][0] + amps[k][1];
    (from.max(1)..amps.len()).find(|k| middle(k - 1) <= 0.0 && middle(*k) > 0.0)
}

fn panel(
    area: &Area,
    columns: &[[f32; 2]],
    amps: &[[f32; 2]],
    step_s: f64,
    (name, colour): (&str, Theme),
    lowest: bool,
) -> Drawn {
    let top = columns
        .iter()
        .flatten()
        .map(|v| f64::from(v.abs()))
        .fold(1.0, f64::max);
    let at = |column: f64| 1e3 * step_s * column;
    let end = at(columns.len() as f64);
    let axes = Axes {
        x: 0.0..end,
        y: -1.1 * top..1.1 * top,
        x_name: if lowest { "ms" } else { "" },
        y_name: name,
        y_ticks: 4,
        bare_left: None,
    };
    let mut chart = axes.on(area, |chart| shade(chart, amps, &at))?;
    chart.draw_series([PathElement::new([(0.0, 0.0), (end, 0.0)], MUTED.rgb())])?;
    let cells: Vec<_> = columns.iter().map(|c| Some(*c)).collect();
    for line in lines(&cells) {
        let points = line
            .into_iter()
            .map(|(x, y)| (at(x as f64 + 0.5), f64::from(y)));
        chart.draw_series(LineSeries::new(points, colour.rgb().stroke_width(2)))?;
    }
    Ok(())
}

/// Shades the time in which the electrode is negative.
fn shade(chart: &mut Chart, amps: &[[f32; 2]], at: &dyn Fn(f64) -> f64) -> Drawn {
    let y = chart.y_range();
    let negative: Vec<bool> = amps.iter().map(|c| c[0] + c[1] > 0.0).collect();
    let mut from = 0;
    for stretch in negative.chunk_by(|a, b| a == b) {
        let to = from + stretch.len();
        if stretch[0] {
            let band = [(at(from as f64), y.start), (at(to as f64), y.end)];
            chart.draw_series([Rectangle::new(band, BAND_SETTLING.rgb().filled())])?;
        }
        from = to;
    }
    Ok(())
}
