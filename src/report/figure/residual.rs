//! What the wander is made of: the voltage over the current, and the spectrum of what the current leaves unexplained.

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, VPos};

use super::frame::{Axes, LETTER, letters, span, svg};
use super::palette::{BAND_SETTLED, INK, MUTED, VOLTAGE};
use crate::start::Picture;

const SIZE: (u32, u32) = (640, 340);

/// Draws the cloud of voltage over current in the wander window: measured, and as the fit explains it.
/// `None` where there is no cloud.
pub fn cloud(picture: &Picture) -> Option<String> {
    let points: Vec<[f64; 3]> = picture.cloud.iter().map(|p| p.map(f64::from)).collect();
    points.first()?;
    Some(svg(
        SIZE,
        "Voltage over current: measured points, and what the current explains of them",
        |root| {
            let volts = points.iter().flat_map(|[_, v, left]| [*v, v - left]);
            let amps = points.iter().map(|p| p[0]);
            let axes = Axes {
                x: around(amps),
                y: around(volts),
                x_name: "current, A",
                y_name: "voltage, V",
                y_ticks: 6,
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
            let key = "ring: measured   cross: explained by the current";
            root.draw(&Text::new(
                key,
                (SIZE.0 as i32 - 20, 4),
                letters(LETTER - 1.0, MUTED, HPos::Right, VPos::Top),
            ))
        },
    ))
}

/// Draws the spectral density of the residual with the wander band shaded. `None` where there is none.
pub fn spectrum(picture: &Picture) -> Option<String> {
    let band_hz = picture.wander_band_hz;
    let top = f64::from(picture.spectrum.last()?[0]);
    Some(svg(
        SIZE,
        "Spectral density of the voltage residual, wander band shaded",
        |root| {
            // As an amplitude density, so that a line twice as high is a wander twice as strong.
            let points = picture
                .spectrum
                .iter()
                .map(|[hz, density]| (f64::from(*hz), f64::from(*density).max(0.0).sqrt()));
            let points: Vec<(f64, f64)> = points.collect();
            let axes = Axes {
                x: 0.0..top,
                y: span(points.iter().map(|p| p.1).chain([0.0])),
                x_name: "frequency, Hz",
                y_name: "residual, V/√Hz",
                y_ticks: 6,
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
            let at = chart.backend_coord(&(band_hz.0.min(top), axes.y.end));
            let key = format!("wander band {} to {} Hz", band_hz.0, band_hz.1);
            root.draw(&Text::new(
                key,
                (at.0 + 8, at.1 + 4),
                letters(LETTER - 1.0, MUTED, HPos::Left, VPos::Top),
            ))
        },
    ))
}

/// A range with a little room at both ends, zero not drawn in.
fn around(values: impl Iterator<Item = f64>) -> std::ops::Range<f64> {
    let (low, high) = values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| {
        (low.min(v), high.max(v))
    });
    let room = (0.06 * (high - low)).max(0.01 * high.abs()).max(1e-6);
    low - room..high + room
}
