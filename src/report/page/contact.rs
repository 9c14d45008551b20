//! Every start as a small picture on shared axes, worst first: compact paths that need no script.

use std::fmt::Write;

use maud::{Markup, PreEscaped, html};

use crate::figure::strike_window;
use crate::format::trimmed;
use crate::page::parts::{PageInput, name, verdict, which};
use crate::page::starts::{anchor, costs};
use crate::score::{StartRow, Verdict};
use crate::start::Preview;
use crate::start::decimate::{ends, gather};

/// Size of a picture and of its plot, px.
const SIZE: (i32, i32) = (172, 84);
const PLOT: (i32, i32, i32, i32) = (2, 6, 168, 58);

/// Cells of a trace across the plot, each two pixels wide.
const CELLS: usize = 83;

/// Changes smaller than this are ripple, and are not drawn, px.
const LEAST: u32 = 2;

/// Axes that all pictures share.
struct Shared {
    from_ms: f64,
    to_ms: f64,
    low: f64,
    high: f64,
}

/// The pictures, worst first; `None` where there are no traces.
pub(super) fn contact(input: &PageInput) -> Option<Markup> {
    let mut starts: Vec<(usize, &StartRow, &Preview)> = input
        .detailed()
        .enumerate()
        .filter_map(|(k, (row, detail))| Some((k, row, detail.preview.as_deref()?)))
        .collect();
    let shared = Shared::of(&starts)?;
    starts.sort_by(|a, b| badness(a.1).total_cmp(&badness(b.1)));
    Some(html! {
        p { "Current of every start, worst first, all on the same axes: " (shared.in_words()) ". The dashed line is where it settled." }
        (shared.grid())
        div.contact {
            @for (k, row, preview) in starts {
                figure id=(anchor(k)) {
                    svg viewBox={ "0 0 " (SIZE.0) " " (SIZE.1) } aria-hidden="true" { (PreEscaped(shared.paths(row, preview))) }
                    figcaption {
                        a href={ "#row-" (k + 1) } { (k + 1) } " " (verdict(row.verdict)) @if let Some(score) = row.score { " " (format!("{score:.0}")) }
                        br; (which(row))
                        @let why = reason(row, input.details.get(k).and_then(|d| d.score.as_ref()));
                        @if !why.is_empty() { br; (name(&why)) }
                    }
                }
            }
        }
    })
}

/// Orders the starts: those that did not light, then by score, then those that cannot be judged.
fn badness(row: &StartRow) -> f64 {
    match (row.verdict, row.score) {
        (Some(Verdict::NoLight), _) => -1.0,
        (Some(Verdict::Doubtful), _) | (None, _) => 101.0,
        (_, score) => score.unwrap_or(101.0),
    }
}

/// Why a start is not perfect, in a few words.
fn reason(row: &StartRow, score: Option<&crate::score::Score>) -> String {
    match (&row.exclude, &row.doubt) {
        (Some(why), _) => format!("set aside: {why}"),
        (None, Some(why)) => why.to_string(),
        (None, None) if !row.lit() => "no arc held".to_owned(),
        _ => costs(row, score),
    }
}

impl Shared {
    fn of(starts: &[(usize, &StartRow, &Preview)]) -> Option<Shared> {
        let (from_ms, to_ms) = strike_window(starts.iter().map(|(_, row, _)| *row));
        let known = starts
            .iter()
            .filter_map(|(_, _, preview)| ends(&preview.amps));
        let (low, high) = known.fold((0.0, 1.0), |(low, high), [least, most]| {
            (f64::min(low, least.into()), f64::max(high, most.into()))
        });
        // Ignition noise around zero is no reason for an axis below it.
        let alternates = starts
            .iter()
            .any(|(_, row, _)| row.measures.ac_hz().is_some());
        let low = if alternates { low } else { 0.0 };
        (!starts.is_empty()).then_some(Shared {
            from_ms,
            to_ms,
            low,
            high,
        })
    }

    fn x(&self, ms: f64) -> i32 {
        let part = (ms - self.from_ms) / (self.to_ms - self.from_ms);
        PLOT.0 + (part * f64::from(PLOT.2)).round() as i32
    }

    fn y(&self, amps: f64) -> i32 {
        let part = (amps - self.low) / (self.high - self.low);
        PLOT.1 + PLOT.3 - (part.clamp(0.0, 1.0) * f64::from(PLOT.3)).round() as i32
    }

    fn in_words(&self) -> String {
        let words = |value: f64| format!("{value:.0}").replace('-', "−");
        let [from, to, low, high] = [self.from_ms, self.to_ms, self.low, self.high].map(words);
        format!("{from} to {to} ms from the first current, {low} to {high} A")
    }

    /// The axes, drawn once and used by each picture.
    fn grid(&self) -> Markup {
        let step = round_step(self.to_ms / 2.5);
        let times: Vec<f64> = (0..)
            .map(|k| f64::from(k) * step)
            .take_while(|t| *t < self.to_ms)
            .collect();
        let level = round_step(self.high / 1.6);
        let (left, right, foot) = (PLOT.0, PLOT.0 + PLOT.2, PLOT.1 + PLOT.3);
        html! {
            svg.shared width="0" height="0" aria-hidden="true" {
                symbol id="axes" viewBox={ "0 0 " (SIZE.0) " " (SIZE.1) } {
                    path d={ "M" (left) " " (self.y(0.0)) "H" (right) "M" (left) " " (self.y(level)) "H" (right) } {}
                    text.level x=(right - 2) y=(self.y(level) - 2) { (trimmed(level)) " A" }
                    @for (k, t) in times.iter().enumerate() {
                        path d={ "M" (self.x(*t)) " " (PLOT.1) "V" (foot) } {}
                        text x=(self.x(*t)) y=(foot + 13) { (trimmed(*t)) @if k + 1 == times.len() { " ms" } }
                    }
                }
            }
        }
    }

    fn paths(&self, row: &StartRow, preview: &Preview) -> String {
        let first = row
            .instants
            .t_first_s
            .or(row.instants.t_open_s)
            .unwrap_or(preview.from_s);
        let mut svg = String::from("<use href=\"#axes\"/>");
        if let Some(settled) = row
            .instants
            .t_settled_s
            .map(|t| 1e3 * (t - first))
            .filter(|t| *t < self.to_ms)
        {
            let _ = write!(
                svg,
                "<path class=\"s\" d=\"M{} {}v{}\"/>",
                self.x(settled),
                PLOT.1,
                PLOT.3
            );
        }
        let _ = write!(svg, "<path d=\"{}\"/>", self.trace(first, preview));
        svg
    }

    /// The current as steps two pixels wide, each extreme in the order it came; level stretches cost nothing.
    fn trace(&self, first: f64, preview: &Preview) -> String {
        let column = |ms: f64| ((first + 1e-3 * ms - preview.from_s) / preview.step_s).round();
        let (from, to) = (column(self.from_ms), column(self.to_ms));
        let at = |cell: usize| from + (to - from) * cell as f64 / CELLS as f64;
        let (mut path, mut pen) = (String::new(), None);
        for cell in 0..CELLS {
            let inside = |x: f64| (x.max(0.0) as usize).min(preview.amps.len());
            let (a, b) = (inside(at(cell)), inside(at(cell + 1)));
            let known = gather(
                &preview.amps[a..b.max(a + 1).min(preview.amps.len()).max(a)],
                1,
            );
            let Some(Some(ends)) = known.first().filter(|_| at(cell + 1) > 0.0) else {
                pen = None;
                continue;
            };
            let x = PLOT.0 + 2 * cell as i32;
            for y in ends.map(|amps| self.y(amps.into())) {
                let _ = match pen {
                    None => write!(path, "M{x} {y}"),
                    Some(before) if y.abs_diff(before) >= LEAST => write!(path, "H{x}V{y}"),
                    Some(_) => continue,
                };
                pen = Some(y);
            }
        }
        if pen.is_some() {
            let _ = write!(path, "H{}", PLOT.0 + 2 * CELLS as i32);
        }
        path
    }
}

/// 1, 2 or 5 times a power of ten, next below.
fn round_step(wished: f64) -> f64 {
    let power = 10f64.powf(wished.max(1e-6).log10().floor());
    [5.0, 2.0, 1.0]
        .map(|k| k * power)
        .into_iter()
        .find(|step| *step <= wished)
        .unwrap_or(power)
}
