//! Every start as a point, by group and tip, and beside it the difference of the groups with its interval.

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, VPos};

use crate::figure::frame::{
    Area, Axes, Chart, Drawn, LEFT, LETTER, RIGHT, letters, span, span_of, svg, width_of,
};
use crate::figure::marks::{colour, mark};
use crate::figure::palette::{ALARM, INK, MUTED, RULE};
use crate::format::{Digits, signed};
use crate::text::{fit, plain, titled};

/// One start.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dot {
    /// Its value; `None` where there is none to draw.
    pub value: Option<f64>,
    /// Whether an arc held.
    pub lit: bool,
    /// Whether it is rough: a filled mark.
    pub rough: bool,
}

/// The starts on one tip, in the order struck.
#[derive(Debug, Clone, PartialEq)]
pub struct OnTip {
    /// Its name; empty where the sheet gives none.
    pub name: String,
    /// Its starts.
    pub dots: Vec<Dot>,
    /// The middle of its starts, drawn as a bar.
    pub middle: Option<f64>,
}

/// The starts of one group.
#[derive(Debug, Clone, PartialEq)]
pub struct Block {
    /// Its name.
    pub name: String,
    /// Its number, which gives the colour and the mark.
    pub group: usize,
    /// Its tips, or those of them that are drawn.
    pub tips: Vec<OnTip>,
    /// How many starts it has, rough ones, and ones that did not light.
    pub told: [usize; 3],
}

/// The difference of two groups.
#[derive(Debug, Clone, PartialEq)]
pub struct Difference {
    /// "B − A".
    pub name: String,
    /// Its estimate.
    pub shift: f64,
    /// Its interval; `None` where nothing bounds it.
    pub interval: Option<(f64, f64)>,
    /// The difference worth having.
    pub margin: Option<f64>,
}

/// What the figure shows.
#[derive(Debug, Clone, PartialEq)]
pub struct EveryStart {
    /// The measure.
    pub measure: String,
    /// The groups.
    pub blocks: Vec<Block>,
    /// Lines across, each with its name: the ends of the target, or of the verdicts.
    pub lines: Vec<(f64, String)>,
    /// Differences of groups, in the measure's unit.
    pub differences: Vec<Difference>,
}

/// Height of the figure and of the names below the points, px.
const HEIGHT: u32 = 300;
const NAMES: u32 = 40;

/// Width of a difference and of the numbers beside them, px; for a narrow figure less.
const DIFFERENCE: u32 = 74;
const DIFFERENCE_NARROW: u32 = 48;
const NUMBERS: u32 = 72;

/// A figure under this is narrow, px.
const NARROW: u32 = 600;

/// Width kept free at the right for the names of lines, px.
const LINE_NAMES: f64 = 66.0;

/// Space between groups, in tips.
const BETWEEN: f64 = 0.5;

/// Draws the figure at a width, px.
pub fn every_start(shown: &EveryStart, width: u32) -> String {
    let label = format!(
        "{} of every start. {}",
        titled(&shown.measure),
        in_words(shown)
    );
    let beside = match shown.differences.len() as u32 {
        0 => 0,
        count if width < NARROW => NUMBERS + DIFFERENCE_NARROW * count.min(2),
        count => NUMBERS + DIFFERENCE * count,
    };
    svg((width, HEIGHT), &label, |root| {
        let (left, right) = root.split_horizontally(width.saturating_sub(beside));
        points(shown, &left)?;
        match beside {
            0 => Ok(()),
            _ => differences(shown, &right),
        }
    })
}

fn in_words(shown: &EveryStart) -> String {
    let blocks = shown.blocks.iter().map(|block| {
        let [starts, rough, no_light] = block.told;
        let name = plain(&block.name);
        format!("{name}: {starts} starts, {rough} rough, {no_light} did not light")
    });
    let differences = shown
        .differences
        .iter()
        .map(|d| format!("{}: {}", plain(&d.name), size(d)));
    blocks.chain(differences).collect::<Vec<_>>().join("; ")
}

/// "−20 (−35 to −4)".
fn size(difference: &Difference) -> String {
    let Some((lo, hi)) = difference.interval else {
        return format!("{}, without an interval", signed(difference.shift));
    };
    let digits = Digits::of(difference.shift, Some(lo), Some(hi));
    let [shift, lo, hi] = [difference.shift, lo, hi].map(|x| digits.write(x));
    format!("{shift} ({lo} to {hi})")
}

fn points(shown: &EveryStart, area: &Area) -> Drawn {
    let (plot, below) = area.split_vertically(HEIGHT - NAMES);
    let tips: usize = shown.blocks.iter().map(|block| block.tips.len()).sum();
    let end = tips as f64 + BETWEEN * shown.blocks.len() as f64;
    let wide = f64::from(plot.dim_in_pixel().0 - LEFT - RIGHT);
    let end = match shown.lines.is_empty() {
        true => end,
        false => end / (1.0 - LINE_NAMES / wide),
    };
    let dots = || {
        shown
            .blocks
            .iter()
            .flat_map(|b| &b.tips)
            .flat_map(|tip| &tip.dots)
    };
    let values = dots().filter_map(|dot| dot.value);
    let axes = Axes {
        x: 0.0..end.max(1.0),
        y: span_of(
            &shown.measure,
            values.chain(shown.lines.iter().map(|(y, _)| *y)),
        ),
        x_name: "",
        y_name: &titled(&shown.measure),
        y_ticks: 6,
        bare_left: None,
    };
    let mut chart = axes.bare_x(&plot, |_| Ok(()))?;
    lines(shown, &plot, &mut chart)?;
    let mut x = BETWEEN / 2.0;
    for block in &shown.blocks {
        let from = x;
        for tip in &block.tips {
            on_tip(&mut chart, block.group, tip, x, axes.y.start)?;
            x += 1.0;
        }
        names(block, &below, &chart, from)?;
        x += BETWEEN;
    }
    Ok(())
}

/// Target lines with their names inside at the right, above the line.
fn lines(shown: &EveryStart, area: &Area, chart: &mut Chart) -> Drawn {
    let x = chart.x_range();
    let base = area.get_base_pixel();
    for (y, name) in &shown.lines {
        chart.draw_series(DashedLineSeries::new(
            [(x.start, *y), (x.end, *y)],
            7,
            5,
            MUTED.rgb().stroke_width(1),
        ))?;
        let (right, row) = chart.backend_coord(&(x.end, *y));
        let at = (right - base.0, row - base.1 - 2);
        let style = letters(LETTER - 1.0, MUTED, HPos::Right, VPos::Bottom);
        area.draw(&Text::new(name.clone(), at, style))?;
    }
    Ok(())
}

/// The starts on a tip side by side in the order struck; those that did not light are crosses at the foot.
fn on_tip(chart: &mut Chart, group: usize, tip: &OnTip, from: f64, foot: f64) -> Drawn {
    let ink = colour(group).rgb();
    let at = |k: usize| from + 0.1 + 0.8 * (k as f64 + 0.5) / tip.dots.len().max(1) as f64;
    for (k, dot) in tip.dots.iter().enumerate() {
        match (dot.lit, dot.value) {
            (false, _) => chart
                .draw_series([Cross::new((at(k), foot), 5, ALARM.rgb().stroke_width(2))])
                .map(drop)?,
            (true, Some(value)) if dot.rough => chart
                .draw_series([mark((at(k), value), group, 4, ALARM.rgb().filled())])
                .map(drop)?,
            (true, Some(value)) => chart
                .draw_series([mark((at(k), value), group, 3, ink.stroke_width(1))])
                .map(drop)?,
            (true, None) => {}
        }
    }
    let bar = tip
        .middle
        .map(|y| PathElement::new([(from + 0.08, y), (from + 0.92, y)], ink.stroke_width(3)));
    chart.draw_series(bar).map(drop)
}

/// Names of the tips, where there is room for each, and of the group below them.
fn names(block: &Block, below: &Area, chart: &Chart, from: f64) -> Drawn {
    let base = below.get_base_pixel().0;
    let at = |x: f64| chart.backend_coord(&(x, 0.0)).0 - base;
    let (left, right) = (at(from), at(from + block.tips.len() as f64));
    let room = f64::from(right - left) / block.tips.len().max(1) as f64;
    let names = || block.tips.iter().map(|tip| plain(&tip.name));
    if names().all(|name| width_of(&name, LETTER - 1.0) < room) {
        for (k, name) in names().enumerate() {
            let style = letters(LETTER - 1.0, MUTED, HPos::Center, VPos::Top);
            below.draw(&Text::new(name, (at(from + k as f64 + 0.5), 0), style))?;
        }
    }
    let wide = (f64::from(right - left) / (0.6 * LETTER)) as usize;
    let style = letters(LETTER, colour(block.group), HPos::Center, VPos::Top);
    let name = fit(&plain(&block.name), wide.max(4));
    below.draw(&Text::new(name, ((left + right) / 2, 18), style))
}

fn differences(shown: &EveryStart, area: &Area) -> Drawn {
    let (plot, below) = area.split_vertically(HEIGHT - NAMES);
    let margin = shown
        .differences
        .iter()
        .filter_map(|d| d.margin)
        .fold(0.0, f64::max);
    let ends = shown.differences.iter().flat_map(|d| {
        let interval = d.interval.unwrap_or((d.shift, d.shift));
        [interval.0, interval.1, d.shift]
    });
    let around = span(ends.chain([0.0, margin, -margin]));
    let axes = Axes {
        x: 0.0..shown.differences.len() as f64,
        y: around.start.min(-margin)..around.end,
        x_name: "",
        y_name: "difference",
        y_ticks: 5,
        bare_left: None,
    };
    let mut chart = axes.bare_x(&plot, |chart| {
        let x = chart.x_range();
        let band = [(x.start, -margin), (x.end, margin)];
        chart
            .draw_series([Rectangle::new(band, RULE.rgb().mix(0.6).filled())])
            .map(drop)
    })?;
    let x = chart.x_range();
    chart.draw_series([PathElement::new(
        [(x.start, 0.0), (x.end, 0.0)],
        INK.rgb().stroke_width(1),
    )])?;
    let base = below.get_base_pixel().0;
    for (k, one) in shown.differences.iter().enumerate() {
        let x = k as f64 + 0.5;
        let bar = one
            .interval
            .map(|(lo, hi)| PathElement::new([(x, lo), (x, hi)], INK.rgb().stroke_width(4)));
        chart.draw_series(bar)?;
        chart.draw_series([Circle::new((x, one.shift), 6, INK.rgb().filled())])?;
        let style = letters(LETTER - 1.0, INK, HPos::Center, VPos::Top);
        let at = (chart.backend_coord(&(x, 0.0)).0 - base, 0);
        below.draw(&Text::new(fit(&plain(&one.name), 10), at, style))?;
    }
    Ok(())
}
