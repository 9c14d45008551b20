//! Embeds the traces in the page, decimated and packed, for the script that zooms them.
//!
//! Each start is one entry in the order of the table, or `null` without traces: `{t: [[from ms, step ms, columns],
//! …], m: [[name, ms], …], a: [low, high, packed], v: likewise or null}`. `packed` holds minimum and maximum of each
//! column in turn, each as 12 bits between low and high in two letters of the base64 alphabet.

use maud::{Markup, PreEscaped, html};
use serde_json::{Value, json};

use crate::report::decimate::gather;
use crate::report::page::parts::PageInput;
use crate::score::StartRow;
use crate::start::{Instants, Preview};

/// Columns kept per start, half of them for the strike.
const COLUMNS: usize = 640;

const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";

/// The empty viewer (script only) and the traces; nothing if there are none.
pub(super) fn viewer(input: &PageInput) -> Markup {
    let pairs = input.rows.iter().zip(input.details);
    let traces: Vec<Value> = pairs
        .map(|(row, detail)| {
            detail
                .preview
                .as_ref()
                .map_or(Value::Null, |preview| packed(row, preview))
        })
        .collect();
    html! {
        @if traces.iter().any(|trace| !trace.is_null()) {
            div id="viewer" hidden {
                h3 id="viewer-title" {}
                p id="viewer-help" { "Zoom with the buttons, the wheel or + and −; move by dragging or with the arrow keys." }
                div.tools role="group" aria-label="Zoom" {
                    @for (id, text) in [("zoom-strike", "The strike"), ("zoom-whole", "The whole start"), ("zoom-in", "Closer"), ("zoom-out", "Wider")] {
                        button type="button" id=(id) { (text) }
                    }
                }
                div id="viewer-plot" tabindex="0" role="img" aria-labelledby="viewer-title" aria-describedby="viewer-help" {}
            }
            script type="application/json" id="traces" { (PreEscaped(Value::Array(traces).to_string())) }
        }
    }
}

fn packed(row: &StartRow, preview: &Preview) -> Value {
    let zero = row
        .instants
        .t_first_s
        .or(row.instants.t_open_s)
        .unwrap_or(preview.from_s);
    let ms = |t: f64| (1e6 * (t - zero)).round() / 1e3;
    let stretches = stretches(&row.instants, preview);
    let times = stretches.iter().map(|(from, to, count)| {
        json!([
            ms(preview.from_s + *from as f64 * preview.step_s),
            1e3 * preview.step_s * (to - from) as f64 / *count as f64,
            count
        ])
    });
    let Instants {
        t_open_s,
        t_first_s,
        t_lit_s,
        t_settled_s,
        t_out_s,
    } = row.instants;
    let instants = [
        ("open", t_open_s),
        ("first", t_first_s),
        ("lit", t_lit_s),
        ("settled", t_settled_s),
        ("out", t_out_s),
    ];
    let marks = instants
        .iter()
        .filter_map(|(name, t)| Some(json!([name, ms((*t)?)])));
    json!({
        "t": times.collect::<Vec<_>>(),
        "m": marks.collect::<Vec<_>>(),
        "a": pack(&preview.amps, &stretches),
        "v": pack(&preview.volts, &stretches),
    })
}

/// (first column, end, number kept) before, during and after the strike.
fn stretches(instants: &Instants, preview: &Preview) -> Vec<(usize, usize, usize)> {
    let all = preview.amps.len();
    let place = |t: f64| (((t - preview.from_s) / preview.step_s).max(0.0) as usize).min(all);
    let end = instants.t_settled_s.or(instants.t_lit_s);
    let begin = instants.t_open_s.or(instants.t_first_s);
    let (from, to) = match begin.zip(end) {
        Some((begin, end)) => (
            place(begin - 0.2 * (end - begin)),
            place(end + 0.5 * (end - begin)).max(1),
        ),
        None => (0, all),
    };
    let outside = (all - (to - from)).max(1);
    let share = |columns: usize| (COLUMNS / 2 * columns).div_ceil(outside);
    [
        (0, from, share(from)),
        (from, to, COLUMNS / 2),
        (to, all, share(all - to)),
    ]
    .into_iter()
    .filter(|(from, to, _)| to > from)
    .map(|(from, to, count)| (from, to, count.clamp(1, to - from)))
    .collect()
}

fn pack(columns: &[[f32; 2]], stretches: &[(usize, usize, usize)]) -> Value {
    if columns.is_empty() {
        return Value::Null;
    }
    let kept: Vec<[f32; 2]> = stretches
        .iter()
        .flat_map(|(from, to, count)| gather(&columns[*from..*to], *count))
        .map(|cell| cell.unwrap_or([0.0, 0.0]))
        .collect();
    let (low, high) = kept
        .iter()
        .flatten()
        .fold((f32::MAX, f32::MIN), |(low, high), v| {
            (low.min(*v), high.max(*v))
        });
    let scale = 4095.0 / (high - low).max(f32::MIN_POSITIVE);
    let mut text = String::with_capacity(4 * kept.len());
    for value in kept.iter().flatten() {
        let bits = ((value - low) * scale).round() as usize;
        text.push(char::from(LETTERS[bits >> 6]));
        text.push(char::from(LETTERS[bits & 63]));
    }
    json!([low, high, text])
}
