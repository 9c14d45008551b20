//! Profile of a tip, drawn to scale from the prep.

use std::collections::BTreeMap;

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, VPos};

use crate::figure::frame::{Area, Drawn, LETTER, letters, svg};
use crate::figure::palette::{INK, MUTED, RULE};
use crate::job::Length;

const SIZE: (u32, u32) = (340, 150);

/// Maximum height and length of the drawing, px.
const ROOM: (f64, f64) = (84.0, 300.0);

/// Length of full electrode shown behind the taper, in diameters.
const BEHIND: f64 = 0.6;

/// Shape of a tip, mm and degrees.
struct TipOutline {
    diameter: f64,
    taper_deg: Option<f64>,
    flat: f64,
    rounded: bool,
}

/// Draws the tip described by the columns `diameter`, `taper_deg`, `tip` and `tip_flat`. `None` if they are not
/// enough.
pub fn tip(sheet: &BTreeMap<String, String>) -> Option<String> {
    let shape = TipOutline::of(sheet)?;
    let outline = shape.outline()?;
    let label = format!("Tip to scale: {}", shape.in_words());
    Some(svg(SIZE, &label, |root| draw(root, &shape, &outline)))
}

impl TipOutline {
    fn of(sheet: &BTreeMap<String, String>) -> Option<TipOutline> {
        let length = |key: &str| Length::parse(sheet.get(key)?).ok().map(Length::mm);
        let kind = sheet.get("tip").map(String::as_str);
        Some(TipOutline {
            diameter: length("diameter").filter(|mm| *mm > 0.0)?,
            taper_deg: sheet.get("taper_deg").and_then(|deg| deg.parse().ok()),
            flat: length("tip_flat").unwrap_or(0.0),
            rounded: matches!(kind, Some("rounded" | "balled")),
        })
    }

    /// Upper half of the outline from back to tip, (mm along, mm from the axis), with the tip at 0.
    fn outline(&self) -> Option<Vec<(f64, f64)>> {
        let radius = self.diameter / 2.0;
        let end = match (self.taper_deg, self.rounded) {
            // A ball as wide as the electrode if nothing was ground.
            (None, true) => radius,
            (None, false) => return None,
            (Some(_), true) => (self.flat / 2.0).max(0.12 * radius),
            (Some(_), false) => self.flat / 2.0,
        };
        let taper = self
            .taper_deg
            .map_or(0.0, |deg| (radius - end) / (deg / 2.0).to_radians().tan());
        let back = -taper - BEHIND * self.diameter - if self.rounded { end } else { 0.0 };
        let shoulder = if self.rounded { -end } else { 0.0 };
        let mut outline = vec![(back, radius), (shoulder - taper, radius)];
        match self.rounded {
            true => outline.extend((0..=12).map(|i| {
                let turn = f64::from(i) * std::f64::consts::FRAC_PI_2 / 12.0;
                (end * (turn.sin() - 1.0), end * turn.cos())
            })),
            false => outline.extend([(0.0, end), (0.0, 0.0)]),
        }
        Some(outline)
    }

    fn in_words(&self) -> String {
        let angle = self
            .taper_deg
            .map_or(String::new(), |deg| format!(", {deg}° included"));
        let end = match (self.rounded, self.flat > 0.0) {
            (true, _) => ", rounded end".to_owned(),
            (false, true) => format!(", {:.2} mm flat", self.flat),
            (false, false) => ", sharp".to_owned(),
        };
        format!("{:.1} mm{angle}{end}", self.diameter)
    }
}

fn draw(root: &Area, shape: &TipOutline, upper: &[(f64, f64)]) -> Drawn {
    let length = -upper[0].0;
    let scale = (ROOM.0 / shape.diameter).min(ROOM.1 / length);
    let (left, axis) = (20.0, 8.0 + ROOM.0 / 2.0);
    let place = |(x, y): (f64, f64)| {
        (
            (left + (x + length) * scale).round() as i32,
            (axis - y * scale).round() as i32,
        )
    };
    let lower = upper.iter().rev().map(|(x, y)| (*x, -y));
    let body: Vec<_> = upper.iter().copied().chain(lower).map(place).collect();
    root.draw(&Polygon::new(body.clone(), RULE.rgb().filled()))?;
    root.draw(&PathElement::new(body, INK.rgb().stroke_width(2)))?;
    let centre = [place((-length, 0.0)), place((0.0, 0.0))];
    for dash in (centre[0].0..centre[1].0).step_by(12) {
        root.draw(&PathElement::new(
            [(dash, centre[0].1), (dash + 7, centre[0].1)],
            MUTED.rgb(),
        ))?;
    }
    let foot = SIZE.1 as i32 - 30;
    let one = scale.round() as i32;
    root.draw(&PathElement::new(
        [
            (20, foot - 3),
            (20, foot + 3),
            (20, foot),
            (20 + one, foot),
            (20 + one, foot - 3),
            (20 + one, foot + 3),
        ],
        INK.rgb(),
    ))?;
    let letters = letters(LETTER - 1.0, INK, HPos::Left, VPos::Center);
    root.draw(&Text::new("1 mm", (26 + one, foot), letters.clone()))?;
    // On a line of its own, because a millimetre of a thin electrode is long.
    root.draw(&Text::new(shape.in_words(), (20, foot + 20), letters))
}
