//! When the starts of a recording came, and the pauses between them: where one run ends and the next begins.

use crate::format::{clock, counted, short};
use crate::score::StartRow;
use crate::stats::median;
use crate::text::tables::{empty, name, printed, right, wrapped};
use crate::text::{TermStyle, plain};

/// A pause is long from this many times the usual one on, and from this many seconds (common practice, no source).
const TIMES_USUAL: f64 = 3.0;
const LONG_S: f64 = 5.0;

/// One line a start, and for each recording how many starts stand between its long pauses.
pub fn pauses(rows: &[StartRow], look: TermStyle) -> String {
    let head = ["row", "recording", "no", "prep", "at", "pause\ns", ""];
    let mut table = empty(look, &head, &[1, 3, 6]);
    let mut said = String::new();
    let mut first = 0;
    for of_one in rows.chunk_by(|a, b| a.recording == b.recording) {
        let waits = waits(of_one);
        let long = longest_usual(&waits);
        for (k, (row, wait)) in of_one.iter().zip(&waits).enumerate() {
            let is_long = wait.is_some_and(|s| s > long);
            table.add_row(vec![
                right((first + k + 1).to_string()),
                name(&row.recording),
                right(row.start.to_string()),
                name(&row.prep),
                right(begins(row).map_or("–".to_owned(), clock)),
                right(wait.map_or("–".to_owned(), short)),
                comfy_table::Cell::new(if is_long { "← long" } else { "" }),
            ]);
        }
        said += &wrapped(&shares(of_one, &waits, long), look);
        first += of_one.len();
    }
    printed(&table) + "\n" + &said
}

fn begins(row: &StartRow) -> Option<f64> {
    row.instants.t_first_s.or(row.instants.t_open_s)
}

/// Seconds from the end of the arc before to each start; `None` of the first.
fn waits(rows: &[StartRow]) -> Vec<Option<f64>> {
    let before = |row: &StartRow| row.instants.t_out_s.or(begins(row));
    let waits = rows
        .windows(2)
        .map(|pair| Some((begins(&pair[1])? - before(&pair[0])?).max(0.0)));
    std::iter::once(None).chain(waits).collect()
}

/// The pause beyond which one is long.
fn longest_usual(waits: &[Option<f64>]) -> f64 {
    let known: Vec<f64> = waits.iter().copied().flatten().collect();
    (TIMES_USUAL * median(&known).unwrap_or(0.0)).max(LONG_S)
}

/// "lid.wav: 4, 4 and 5 starts between long pauses."
fn shares(rows: &[StartRow], waits: &[Option<f64>], long: f64) -> String {
    let mut counts = vec![0_usize];
    for wait in waits {
        if wait.is_some_and(|s| s > long) {
            counts.push(0);
        }
        *counts.last_mut().expect("one is there") += 1;
    }
    let recording = plain(&rows[0].recording);
    match &counts[..] {
        [all] => format!("{recording}: {}, no long pause.", counted(*all, "start")),
        _ => {
            let each: Vec<String> = counts.iter().map(usize::to_string).collect();
            format!(
                "{recording}: {} starts between long pauses (over {} s). Where the tip or the prep changed there, give each row of the sheet its number in the column 'starts'.",
                crate::format::list(&each),
                short(long)
            )
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::start::Instants;

    fn row(recording: &str, from: f64, to: f64) -> StartRow {
        StartRow {
            recording: recording.into(),
            instants: Instants {
                t_first_s: Some(from),
                t_out_s: Some(to),
                ..Instants::default()
            },
            ..StartRow::default()
        }
    }

    #[test]
    fn long_pauses_part_a_recording_into_runs() {
        let rows = [
            row("a.wav", 1.0, 2.0),
            row("a.wav", 4.0, 5.0),
            row("a.wav", 7.0, 8.0),
            row("a.wav", 50.0, 51.0),
            row("a.wav", 65.25, 66.0),
            row("b.wav", 3.0, 4.0),
        ];
        let text = pauses(&rows, TermStyle::plain(80));
        assert!(
            text.contains("a.wav: 3 and 2 starts between long pauses (over"),
            "{text}"
        );
        assert!(text.contains("b.wav: 1 start, no long pause."), "{text}");
        assert_eq!(text.matches("← long").count(), 1, "{text}");
        assert!(text.contains("1:05.3") || text.contains("1:05.2"), "{text}");
    }
}
