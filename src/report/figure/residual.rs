//! Where wander comes from: voltage over current, and the spectrum of the residual voltage.

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, VPos};

use crate::figure::frame::{Area, Axes, Drawn, LETTER, letters, span, svg};
use crate::figure::palette::{BAND_SETTLED, INK, MUTED, VOLTAGE};
use crate::format::{counted, trimmed};
use crate::start::Preview;

/// As wide as a phone, so that the letters stay readable there and beside a second figure.
const SIZE: (u32, u32) = (420, 260);

/// Maximum number of points in a scatter plot: more would clutter the figure and bloat the page.
const POINTS: usize = 100;
/// Fraction of points that the current axis may leave out at either end. Points at the settled instant, where the
/// current may still be far from the rest, would squeeze all others together.
const LEFT_OUT: f64 = 0.01;

/// Draws a scatter plot of voltage over current in the wander window, measured and as fitted. `None` without points.
pub fn scatter(preview: &Preview) -> Option<String> {
    let every = preview.scatter.len().div_ceil(POINTS).max(1);
    let taken = preview.scatter.iter().step_by(every);
    let mut points: Vec<[f64; 3]> = taken.map(|p| p.map(f64::from)).collect();
    let beside = leave_out(&mut points);
    points.first()?;
    Some(svg(
        SIZE,
        "Voltage over current: measured points, and what the current explains of them",
        |root| {
            let volts = points.iter().flat_map(|[_, v, left]| [*v, v - left]);
            let amps = points.iter().map(|p| p[0]);
            let x_name = match beside {
                0 => "current, A".to_owned(),
                count => format!("current, A ({} beside the axis)", counted(count, "point")),
            };
            let axes = Axes {
                x: around(amps),
                y: around(volts),
                x_name: &x_name,
                y_name: "voltage, V",
                y_ticks: 5,
                bare_left: None,
            };
            let mut chart = axes.on(root, |_| Ok(()))?;
            chart.draw_series(
                points
                    .iter()
                    .map(|[a, v, _]| Circle::new((*a, *v), 2, VOLTAGE.rgb().stroke_width(1))),
            )?;
            chart.draw_series(
                points
                    .iter()
                    .map(|[a, v, left]| Cross::new((*a, v - left), 2, INK.rgb().mix(0.6))),
            )?;
            key(root, "ring: measured, cross: explained".to_owned())
        },
    ))
}

/// Draws the spectral density of the residual with the wander band shaded. `None` without a spectrum.
pub fn spectrum(preview: &Preview) -> Option<String> {
    let band_hz = preview.wander_band_hz;
    let top = f64::from(preview.spectrum.last()?[0]);
    Some(svg(
        SIZE,
        "Spectral density of the voltage residual, wander band shaded",
        |root| {
            // As amplitude density, so that a line twice as high means twice the wander.
            let points = preview
                .spectrum
                .iter()
                .map(|[hz, density]| (f64::from(*hz), f64::from(*density).max(0.0).sqrt()));
            let points: Vec<(f64, f64)> = points.collect();
            let axes = Axes {
                x: 0.0..top,
                y: span(points.iter().map(|p| p.1).chain([0.0])),
                x_name: "frequency, Hz",
                y_name: "residual, V/√Hz",
                y_ticks: 5,
                bare_left: None,
            };
            let mut chart = axes.on(root, |chart| {
                let y = chart.y_range();
                let band = [(band_hz.0.min(top), y.start), (band_hz.1.min(top), y.end)];
                chart
                    .draw_series([Rectangle::new(band, BAND_SETTLED.rgb().filled())])
                    .map(drop)
            })?;
            chart.draw_series(LineSeries::new(points, VOLTAGE.rgb().stroke_width(2)))?;
            let (from, to) = (trimmed(band_hz.0), trimmed(band_hz.1));
            key(root, format!("shaded: wander band, {from} to {to} Hz"))
        },
    ))
}

/// Explains the marks, above the plot at the right.
fn key(root: &Area, text: String) -> Drawn {
    root.draw(&Text::new(
        text,
        (SIZE.0 as i32 - 20, 4),
        letters(LETTER - 1.0, MUTED, HPos::Right, VPos::Top),
    ))
}

/// Removes the points at either end of the current that would more than double the axis; returns their number.
fn leave_out(points: &mut Vec<[f64; 3]>) -> usize {
    let mut amps: Vec<f64> = points.iter().map(|p| p[0]).collect();
    amps.sort_by(f64::total_cmp);
    let few = (LEFT_OUT * amps.len() as f64).ceil() as usize;
    let [Some(low), Some(high)] = [amps.get(few), amps.iter().rev().nth(few)] else {
        return 0;
    };
    let room = 0.5 * (high - low);
    let kept = low - room..=high + room;
    let before = points.len();
    points.retain(|p| kept.contains(&p[0]));
    before - points.len()
}

/// A range with some margin at both ends, not extended to zero.
fn around(values: impl Iterator<Item = f64>) -> std::ops::Range<f64> {
    let (low, high) = values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| {
        (low.min(v), high.max(v))
    });
    let room = (0.06 * (high - low)).max(0.01 * high.abs()).max(1e-6);
    low - room..high + room
}
