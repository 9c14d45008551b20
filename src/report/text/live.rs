//! Starts as they happen, one line each, in fixed columns.

use crate::format::short_or_dash;
use crate::score::StartRow;
use crate::text::tables::{doubt_line, indented};
use crate::text::{TermStyle, plain};

/// Header of the lines.
pub fn live_head() -> String {
    "  no  first s   verdict   score  start ms  attempts  dropouts   run A  wander V\n".to_owned()
}

/// Line of a start, with its flags below.
pub fn live_line(row: &StartRow, look: TermStyle) -> String {
    let m = &row.measures;
    let i = &row.instants;
    let first = i.t_first_s.or(i.t_open_s);
    let whole = |value: Option<f64>| value.map_or("–".to_owned(), |v| format!("{v:.0}"));
    let verdict = row.verdict.map_or("–", |verdict| verdict.word());
    let mut line = format!(
        "{:>4} {:>8}   {:<8} {:>6} {:>9} {:>9} {:>9} {:>7} {:>9}\n",
        row.start,
        first.map_or("–".to_owned(), |s| format!("{s:.3}")),
        verdict,
        whole(row.score),
        short_or_dash(m.start_ms()),
        whole(m.attempts()),
        whole(m.dropouts()),
        short_or_dash(m.run_a()),
        short_or_dash(m.wander_v()),
    );
    if !row.flags.is_empty() {
        let names: Vec<_> = row.flags.iter().map(|flag| flag.name()).collect();
        let flags = plain(&names.join(", "));
        line += &indented(&format!("└ {flags}"), look);
    }
    line + &doubt_line(row, look)
}
