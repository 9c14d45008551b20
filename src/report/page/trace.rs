//! Embeds the traces in the page, decimated and packed, for the script that shows them close up.
//!
//! Each start is one entry in the order of the table, or `null` without traces: `{t: [[from ms, step ms, columns],
//! …], m: [[name, ms], …], a: [low, high, packed], v: likewise or null}`. `packed` holds the two extremes of each
//! column in the order they came, each as 12 bits between low and high in two letters of the base64 alphabet.

use maud::{Markup, PreEscaped, html};
use serde_json::{Value, json};

use crate::page::parts::PageInput;
use crate::score::{StartRow, Verdict};
use crate::start::decimate::gather;
use crate::start::{Instants, Preview};

/// Columns kept of all starts together: some 0.7 MB of page.
const COLUMNS: usize = 80_000;

/// Columns kept of one start at the most: as many as a preview has.
const FINEST: usize = 6000;

/// Starts that are looked at first get this many times the columns of the others.
const CLOSER: usize = 3;

const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";

/// The empty viewer (script only) and the traces; nothing if there are none.
pub(super) fn viewer(input: &PageInput) -> Markup {
    if input.details.iter().all(|detail| detail.preview.is_none()) {
        return html! {};
    }
    let close = |row: &StartRow| match row.verdict {
        Some(Verdict::Crisp | Verdict::Fair) => 1,
        _ => CLOSER,
    };
    let shares: usize = input.rows.iter().map(close).sum();
    let share = COLUMNS / shares.max(1);
    let traces: Vec<Value> = input
        .detailed()
        .map(|(row, detail)| match &detail.preview {
            Some(preview) => packed(row, preview, (share * close(row)).min(FINEST)),
            None => Value::Null,
        })
        .collect();
    html! {
        dialog id="viewer" aria-labelledby="viewer-title" {
            h3 id="viewer-title" {}
            p id="viewer-why" {}
            div.tools role="group" aria-label="Start and zoom" {
                @for (id, text) in BUTTONS { button type="button" id=(id) { (text) } }
            }
            p id="viewer-readout" role="status" {}
            div id="viewer-plot" tabindex="0" role="img" aria-labelledby="viewer-title" aria-describedby="viewer-help" {}
            p id="viewer-help" { "← and → go to the start before and after, + and − zoom, comma and full stop move in time, Esc closes. The wheel zooms too; drag to move, point to read." }
        }
        script type="application/json" id="traces" { (PreEscaped(Value::Array(traces).to_string())) }
    }
}

/// The viewer's buttons.
const BUTTONS: [(&str, &str); 7] = [
    ("viewer-before", "← Start before"),
    ("viewer-next", "Next start →"),
    ("zoom-strike", "The strike"),
    ("zoom-whole", "The whole start"),
    ("zoom-in", "Closer"),
    ("zoom-out", "Wider"),
    ("viewer-close", "Close"),
];

fn packed(row: &StartRow, preview: &Preview, kept: usize) -> Value {
    let zero = row
        .instants
        .t_first_s
        .or(row.instants.t_open_s)
        .unwrap_or(preview.from_s);
    let ms = |t: f64| (1e6 * (t - zero)).round() / 1e3;
    let stretches = stretches(&row.instants, preview, kept);
    let times = stretches.iter().map(|(from, to, count)| {
        json!([
            ms(preview.from_s + *from as f64 * preview.step_s),
            (1e9 * preview.step_s * (to - from) as f64 / *count as f64).round() / 1e6,
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
fn stretches(instants: &Instants, preview: &Preview, kept: usize) -> Vec<(usize, usize, usize)> {
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
    let share = |columns: usize| (kept / 2 * columns).div_ceil(outside);
    [
        (0, from, share(from)),
        (from, to, kept / 2),
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
