//! Groups one below the other, each with its values, its centre and its interval; points instead of bars.

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, VPos};

use crate::figure::frame::{Axes, BELOW, LETTER, letters, span, svg};
use crate::figure::marks::{colour, mark};
use crate::figure::palette::{INK, MUTED};
use crate::stats::order;
use crate::text::{fit, plain};

/// One group.
#[derive(Debug, Clone, PartialEq)]
pub struct Item {
    /// Its name.
    pub name: String,
    /// Note below the name: the number of starts.
    pub note: String,
    /// Its values, shown as small marks; may be empty.
    pub values: Vec<f64>,
    /// Median or rate.
    pub centre: f64,
    /// Ends of its interval; `None` if there is none.
    pub interval: Option<(f64, f64)>,
}

/// As wide as a phone, so that the letters stay readable there and beside a second figure.
const WIDTH: u32 = 420;

/// Height of a group, px.
const ROW: u32 = 52;

/// Values of a group shown at the most, evenly taken: more would clutter the figure and bloat the page.
const MARKS: usize = 120;

/// Space for the names, px.
const NAMES: u32 = 104;

/// Draws groups over a horizontal axis named `name`; `range` fixes the axis, else it spans the values.
pub fn intervals(name: &str, items: &[Item], range: Option<(f64, f64)>) -> String {
    let rows = items.len().max(1);
    let label = format!(
        "{name}: {}",
        items.iter().map(in_words).collect::<Vec<_>>().join("; ")
    );
    svg((WIDTH, rows as u32 * ROW + BELOW + 24), &label, |root| {
        let ends = items
            .iter()
            .flat_map(|item| item.interval)
            .flat_map(|(lo, hi)| [lo, hi]);
        let values = items.iter().map(|item| order::range(&item.values));
        let values = values.flat_map(|(low, high)| [low, high]);
        let all = values.chain(items.iter().map(|item| item.centre));
        let axes = Axes {
            x: range.map_or_else(|| span(all.chain(ends)), |(lo, hi)| lo..hi),
            y: -(rows as f64 - 0.5)..0.5,
            x_name: name,
            y_name: "",
            y_ticks: 0,
            bare_left: Some(NAMES),
        };
        let mut chart = axes.on(root, |_| Ok(()))?;
        for (group, item) in items.iter().enumerate() {
            let (y, ink) = (-(group as f64), colour(group).rgb());
            let every = item.values.len().div_ceil(MARKS).max(1);
            let small = item
                .values
                .iter()
                .step_by(every)
                .enumerate()
                .map(|(i, value)| {
                    mark(
                        (*value, y - 0.16 - scatter(i)),
                        group,
                        3,
                        ink.mix(0.55).stroke_width(1),
                    )
                });
            chart.draw_series(small)?;
            if let Some((lo, hi)) = item.interval {
                chart.draw_series([PathElement::new(
                    [(lo, y + 0.12), (hi, y + 0.12)],
                    ink.stroke_width(3),
                )])?;
            }
            chart.draw_series([mark((item.centre, y + 0.12), group, 6, ink.filled())])?;
            let row = chart.backend_coord(&(axes.x.start, y + 0.12)).1;
            root.draw(&Text::new(
                fit(&plain(&item.name), 12),
                (4, row),
                letters(LETTER, INK, HPos::Left, VPos::Center),
            ))?;
            root.draw(&Text::new(
                item.note.clone(),
                (4, row + 17),
                letters(LETTER - 1.0, MUTED, HPos::Left, VPos::Center),
            ))?;
        }
        Ok(())
    })
}

fn in_words(item: &Item) -> String {
    use crate::format::short;
    let interval = item.interval.map_or(String::new(), |(lo, hi)| {
        format!(" ({} to {})", short(lo), short(hi))
    });
    format!("{} {}{interval}", plain(&item.name), short(item.centre))
}

/// Spreads overlapping values, in the same way each time.
fn scatter(i: usize) -> f64 {
    (i * 3 % 5) as f64 * 0.06
}
