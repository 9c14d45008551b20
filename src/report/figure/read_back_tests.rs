//! Figures read back: where a mark stands in the SVG, against the number it was drawn from.

use crate::figure::*;
use crate::fixtures::{made_job, made_start};
use crate::measuring::gather::StartSet;
use crate::study::{ScreenOptions, Screening, screen};

/// A figure with its axes, known by the numbers written at them.
struct Plot {
    svg: String,
    /// (number, px) of the first and of the last tick.
    x: [(f64, f64); 2],
    y: [(f64, f64); 2],
}

fn value_of(element: &str, attribute: &str) -> Option<f64> {
    let from = element.find(&format!(" {attribute}=\""))? + attribute.len() + 3;
    element[from..].split('"').next()?.parse().ok()
}

impl Plot {
    fn of(svg: String) -> Plot {
        let ticks = |anchor: &str, place: &str| {
            let texts = svg.split("<text").filter(|text| {
                text.contains(&format!("text-anchor=\"{anchor}\"")) && text.contains("size=\"13")
            });
            let tick = |text: &str| {
                let number = text.split('>').nth(1)?.split('<').next()?.trim();
                Some((
                    number.replace('−', "-").parse().ok()?,
                    value_of(text, place)?,
                ))
            };
            let found: Vec<(f64, f64)> = texts.filter_map(tick).collect();
            [found[0], found[found.len() - 1]]
        };
        let (x, y) = (ticks("middle", "x"), ticks("end", "y"));
        Plot { svg, x, y }
    }

    /// The numbers that a point of the sheet stands for.
    fn back(&self, (x, y): (f64, f64)) -> (f64, f64) {
        let on = |[a, b]: [(f64, f64); 2], px: f64| a.0 + (px - a.1) / (b.1 - a.1) * (b.0 - a.0);
        (on(self.x, x), on(self.y, y))
    }

    /// Numbers that a pixel and a half stand for: what rounding to whole pixels may cost.
    fn pixel(&self) -> (f64, f64) {
        let step = |[a, b]: [(f64, f64); 2]| 1.5 * ((b.0 - a.0) / (b.1 - a.1)).abs();
        (step(self.x), step(self.y))
    }

    /// Middles of the rings of a radius, read back.
    fn rings(&self, radius: u32) -> Vec<(f64, f64)> {
        let rings = self.svg.split("<circle").skip(1);
        rings
            .filter(|ring| ring.contains(&format!(" r=\"{radius}\"")))
            .map(|ring| self.back((value_of(ring, "cx").unwrap(), value_of(ring, "cy").unwrap())))
            .collect()
    }

    /// Points of every line or filled shape that holds a text, read back.
    fn paths(&self, element: &str, holds: &str) -> Vec<Vec<(f64, f64)>> {
        let paths = self.svg.split(element).skip(1);
        let points = |path: &str| {
            let points = path.split("points=\"").nth(1)?.split('"').next()?;
            let point = |pair: &str| {
                let (x, y) = pair.split_once(',')?;
                Some(self.back((x.parse().ok()?, y.parse().ok()?)))
            };
            points.split_whitespace().map(point).collect()
        };
        paths
            .filter(|path| path.split("/>").next().unwrap().contains(holds))
            .filter_map(points)
            .collect()
    }

    #[track_caller]
    fn assert_same(&self, seen: &[(f64, f64)], numbers: &[(f64, f64)]) {
        let (dx, dy) = self.pixel();
        assert_eq!(seen.len(), numbers.len());
        for (seen, number) in seen.iter().zip(numbers) {
            assert!(
                (seen.0 - number.0).abs() <= dx && (seen.1 - number.1).abs() <= dy,
                "{seen:?} is drawn, {number:?} is in the table"
            );
        }
    }
}

fn screened() -> (StartSet, Screening) {
    let (rows, details) = made_job(24, false);
    let gathered = StartSet {
        rows,
        details,
        ..StartSet::default()
    };
    let screening = screen(&gathered, &ScreenOptions::default()).unwrap();
    (gathered, screening)
}

#[test]
fn rings_sum_and_limit_of_a_control_chart_are_those_of_the_table() {
    let (gathered, screening) = screened();
    let chart = screening
        .charts
        .iter()
        .find(|c| c.id.starts_with('<'))
        .unwrap();
    let of_prep = gathered.rows.iter().filter(|row| *row.prep == *chart.id);
    let table: Vec<(f64, f64)> = of_prep
        .zip(1..)
        // One that did not light is a cross.
        .filter(|(row, _)| row.lit())
        .map(|(row, place)| (f64::from(place), row.score.unwrap()))
        .collect();
    let scale = ControlScale::of(&screening.charts, &chart.measure);
    let plot = Plot::of(starts(chart, &scale));
    plot.assert_same(&plot.rings(3), &table);
    let plot = Plot::of(control(chart, &scale));
    let dashes = plot.paths("<polyline", "stroke=\"#B0201A\"");
    let at = |dash: &Vec<(f64, f64)>| (dash[0].1 - chart.upper.unwrap()).abs() <= plot.pixel().1;
    assert!(dashes.iter().any(at), "no line at the limit");
    let sums: Vec<(f64, f64)> = (1..)
        .zip(&chart.points)
        .filter_map(|(place, point)| Some((f64::from(place), point.statistic?)))
        .collect();
    let line = plot.paths("<polyline", "stroke=\"#0B5CAA\" stroke-width=\"2\"");
    plot.assert_same(&line[0], &sums);
}

#[test]
fn only_starts_during_which_the_chart_is_out_are_filled() {
    let (_, screening) = screened();
    let mut chart = screening.charts[0].clone();
    for (k, point) in chart.points.iter_mut().enumerate() {
        point.out = [5, 9].contains(&k);
        point.value = Some(chart.centre);
    }
    (chart.points[5].value, chart.points[9].value) = (Some(31.0), Some(74.0));
    let scale = ControlScale::of(std::slice::from_ref(&chart), &chart.measure);
    let plot = Plot::of(starts(&chart, &scale));
    let filled = plot.paths("<polygon", "fill=\"#B0201A\"");
    let middles: Vec<(f64, f64)> = filled
        .iter()
        .map(|corners| {
            let sum = corners
                .iter()
                .fold((0.0, 0.0), |s, c| (s.0 + c.0, s.1 + c.1));
            let count = corners.len() as f64;
            (sum.0 / count, sum.1 / count)
        })
        .collect();
    plot.assert_same(&middles, &[(6.0, 31.0), (10.0, 74.0)]);
}

#[test]
fn the_wear_line_and_its_points_are_those_of_the_table() {
    let (gathered, screening) = screened();
    let found = screening
        .regrind
        .iter()
        .find(|wear| wear.measure == "start_ms")
        .unwrap();
    let of_prep = gathered.rows.iter().filter(|row| *row.prep == *found.prep);
    let table: Vec<(f64, f64)> = of_prep
        .filter_map(|row| Some((row.measures.since_regrind()?, row.measures.start_ms()?)))
        .collect();
    let plot = Plot::of(wear(found, 0, &table));
    plot.assert_same(&plot.rings(3), &table);
    let line = &plot.paths("<polyline", "stroke=\"#0B5CAA\" stroke-width=\"2\"")[0];
    let on_line: Vec<(f64, f64)> = line
        .iter()
        .map(|(x, _)| (*x, found.intercept + found.slope * x))
        .collect();
    plot.assert_same(line, &on_line);
}

#[test]
fn rings_and_crosses_of_the_cloud_are_a_residual_apart() {
    let (_, mut preview) = made_start();
    let wave = |i: u32| (f64::from(i) * 0.7).sin() as f32;
    preview.scatter = (0..60)
        .map(|i| [80.0 + wave(3 * i), 12.0 + 0.3 * wave(i), 0.2 * wave(i)])
        .collect();
    let plot = Plot::of(scatter(&preview).unwrap());
    let points = preview.scatter.iter().map(|p| p.map(f64::from));
    let measured: Vec<(f64, f64)> = points.clone().map(|[a, v, _]| (a, v)).collect();
    let explained: Vec<(f64, f64)> = points.map(|[a, v, left]| (a, v - left)).collect();
    plot.assert_same(&plot.rings(2), &measured);
    let strokes: Vec<&str> = plot
        .svg
        .split("<line")
        .filter(|l| l.contains("opacity=\"0.6\""))
        .collect();
    let crosses: Vec<(f64, f64)> = strokes
        .chunks(2)
        .map(|cross| {
            let middle = |a: &str, b: &str| {
                0.5 * (value_of(cross[0], a).unwrap() + value_of(cross[0], b).unwrap())
            };
            plot.back((middle("x1", "x2"), middle("y1", "y2")))
        })
        .collect();
    plot.assert_same(&crosses, &explained);
}

#[test]
fn a_cloud_tells_how_many_points_it_leaves_out() {
    let (_, mut preview) = made_start();
    preview.scatter = (0..100)
        .map(|i| [80.0 + 0.001 * i as f32, 12.0, 0.1])
        .collect();
    preview.scatter[0][0] = 20.0;
    let plot = Plot::of(scatter(&preview).unwrap());
    assert_eq!(plot.rings(2).len(), 99);
    assert!(plot.svg.contains("1 point beside the axis"));
}

#[test]
fn the_spectrum_is_the_root_of_the_density_and_its_band_is_shaded() {
    let (_, mut preview) = made_start();
    preview.wander_band_hz = (20.0, 90.0);
    preview.spectrum = (0..90)
        .map(|i| [2.0 * i as f32, 0.04 / (1.0 + (i as f32 - 11.0).powi(2))])
        .collect();
    let plot = Plot::of(spectrum(&preview).unwrap());
    let density = preview.spectrum.iter();
    let roots: Vec<(f64, f64)> = density
        .map(|[hz, d]| (f64::from(*hz), f64::from(*d).sqrt()))
        .collect();
    let line = plot.paths("<polyline", "stroke=\"#A84609\" stroke-width=\"2\"");
    plot.assert_same(&line[0], &roots);
    let band = plot
        .svg
        .split("<rect")
        .find(|r| r.contains("fill=\"#F0FAF2\""))
        .unwrap();
    let left = value_of(band, "x").unwrap();
    let right = left + value_of(band, "width").unwrap();
    for (edge, hz) in [(left, 20.0), (right, 90.0)] {
        let seen = plot.back((edge, 0.0)).0;
        assert!(
            (seen - hz).abs() <= plot.pixel().0,
            "{hz} Hz is drawn at {seen}"
        );
    }
}
