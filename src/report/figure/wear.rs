//! A measure against the starts since the tip was ground: points, line, limit, regrind number.

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, VPos};

use crate::figure::frame::{
    Area, Axes, Chart, Drawn, LETTER, letters, note, span_of, svg, width_of,
};
use crate::figure::marks::{colour, mark};
use crate::figure::palette::{ALARM, INK, MUTED};
use crate::format::short;
use crate::study::Wear;
use crate::text::{fit, plain, titled};
use crate::words;

/// As wide as a phone, so that the letters stay readable there and beside a second figure.
const SIZE: (u32, u32) = (420, 270);

/// Draws the wear of group number `group` in one measure, in its colour and mark; `points` as (starts since regrind,
/// value).
pub fn wear(wear: &Wear, group: usize, points: &[(f64, f64)]) -> String {
    let label = format!(
        "{} of {} against starts since regrind. {}",
        plain(&wear.measure),
        plain(&whose(wear)),
        plain(&words::wear::says(wear))
    );
    svg(SIZE, &label, |root| {
        let ink = colour(group).rgb();
        let starts = points.iter().map(|p| p.0);
        let last = starts.chain(wear.at).chain(wear.hi).fold(1.0, f64::max);
        let line = [0.0, last].map(|x| (x, wear.intercept + wear.slope * x));
        let values = points.iter().chain(&line).map(|p| p.1);
        let name = titled(&wear.measure);
        let name = format!("{name}, {}", fit(&plain(&whose(wear)), 25));
        let axes = Axes {
            x: 0.0..1.04 * last,
            y: span_of(&wear.measure, values.chain(wear.limit)),
            x_name: "starts since regrind",
            y_name: &name,
            y_ticks: 6,
            bare_left: None,
        };
        let mut chart = axes.on(root, |chart| band(wear, chart))?;
        chart.draw_series(
            points
                .iter()
                .map(|p| mark(*p, group, 3, ink.stroke_width(1))),
        )?;
        chart.draw_series(LineSeries::new(line, ink.stroke_width(2)))?;
        limit(wear, root, &mut chart)?;
        regrind(wear, root, &chart)
    })
}

/// "prep A", or "cell 2, prep A" where the groups are not preps.
fn whose(wear: &Wear) -> String {
    match wear.by.as_str() {
        "prep" => format!("prep {}", wear.prep),
        by => format!("{by} {}, prep {}", wear.group, wear.prep),
    }
}

/// Where the regrind number may lie.
fn band(wear: &Wear, chart: &mut Chart) -> Drawn {
    let (Some(lo), Some(hi)) = (wear.lo, wear.hi) else {
        return Ok(());
    };
    let y = chart.y_range();
    let shade = ALARM.rgb().mix(0.13).filled();
    let band = Rectangle::new([(lo, y.start), (hi, y.end)], shade);
    chart.draw_series([band]).map(drop)
}

/// The level at which it is time to regrind.
fn limit(wear: &Wear, root: &Area, chart: &mut Chart) -> Drawn {
    let Some(limit) = wear.limit else {
        return Ok(());
    };
    let ends = [(0.0, limit), (chart.x_range().end, limit)];
    let bold = ALARM.rgb().stroke_width(2);
    chart.draw_series(DashedLineSeries::new(ends, 8, 5, bold))?;
    let (x, y) = chart.backend_coord(&(0.0, limit));
    root.draw(&Text::new(
        format!("limit {}", short(limit)),
        (x + 6, y - 2),
        letters(LETTER - 1.0, ALARM, HPos::Left, VPos::Bottom),
    ))
}

/// The number of starts after which to regrind.
fn regrind(wear: &Wear, root: &Area, chart: &Chart) -> Drawn {
    let Some(regrind) = wear.at else {
        return Ok(());
    };
    let y = chart.y_range();
    let [foot, head] = [y.start, y.end].map(|y| chart.backend_coord(&(regrind, y)));
    root.draw(&PathElement::new([foot, head], MUTED.rgb()))?;
    let text = format!("regrind by {regrind:.0}");
    let left = head.0 - width_of(&text, LETTER) as i32 - 4;
    root.draw(&Text::new(text, (left.max(60), head.1 + 4), note(INK)))
}
