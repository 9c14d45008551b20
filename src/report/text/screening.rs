//! A screening for the terminal: the answer, the worst starts, the recordings, wear.

use crate::format::{counted, short, short_or_dash};
use crate::report::text::tables::{empty, name, printed, right, wrapped};
use crate::report::text::{TermStyle, fit, plain};
use crate::report::words;
use crate::study::{Alarm, Flagged, RecordingLine, Screening};

/// More alarms than this are counted, not listed: the JSON has them all.
const LISTED: usize = 20;

/// Columns that a recording's name may take before its middle is left out.
const NAME_COLUMNS: usize = 24;

/// The answer, then what is past a limit, each recording, wear, and what to know before trusting it.
pub fn screening(found: &Screening, look: TermStyle) -> String {
    let word = if found.pass { "PASS" } else { "NOT PASSED" };
    let mut parts = vec![wrapped(
        &format!("{word}. {}", plain(&words::wear::screening_answer(found))),
        look,
    )];
    if !found.alarms.is_empty() {
        let title = look.heading("Past a limit, worst first");
        parts.push(format!("{title}\n{}", alarms(&found.alarms, look)));
    }
    if !found.recordings.is_empty() {
        let title = look.heading("Recordings");
        parts.push(format!("{title}\n{}", recordings(&found.recordings, look)));
    }
    if !found.flags.is_empty() {
        let title = look.heading("Reasons to look");
        parts.push(format!("{title}\n{}", flags(&found.flags, look)));
    }
    if !found.regrind.is_empty() {
        let says: Vec<String> = found
            .regrind
            .iter()
            .map(|w| wrapped(&plain(&words::wear::says(w)), look))
            .collect();
        parts.push(format!("{}\n{}", look.heading("Wear"), says.concat()));
    }
    let left_out = found
        .not_read
        .iter()
        .map(|r| format!("Not read: {}: {}", plain(&r.recording), plain(&r.why)));
    let notes = found
        .warnings
        .iter()
        .map(|text| format!("Note: {}", plain(text)));
    parts.extend(left_out.chain(notes).map(|line| wrapped(&line, look)));
    parts.join("\n")
}

fn alarms(alarms: &[Alarm], look: TermStyle) -> String {
    let mut table = empty(
        look,
        &["recording", "start", "measure", "value", "limit", "why"],
        &[0, 2, 5],
    );
    for alarm in alarms.iter().take(LISTED) {
        table.add_row(vec![
            name(&fit(&plain(&alarm.recording), NAME_COLUMNS)),
            right(alarm.start.to_string()),
            name(&alarm.measure),
            right(short_or_dash(alarm.value)),
            right(short_or_dash(alarm.limit)),
            comfy_table::Cell::new(plain(&alarm.why)),
        ]);
    }
    let more = alarms.len().saturating_sub(LISTED);
    let rest = if more > 0 {
        format!("and {more} more\n")
    } else {
        String::new()
    };
    printed(&table) + &rest
}

/// The flags that starts carry, with what each means.
fn flags(flagged: &[Flagged], look: TermStyle) -> String {
    let line = |f: &Flagged| {
        let starts = counted(f.starts, "start");
        wrapped(
            &format!("{}, {starts}: {}", f.flag.name(), f.flag.sentence()),
            look,
        )
    };
    flagged.iter().map(line).collect()
}

fn recordings(lines: &[RecordingLine], look: TermStyle) -> String {
    let head = [
        "recording",
        "prep",
        "starts",
        "rough",
        "no light",
        "median\nscore",
        "worst",
        "alarms",
    ];
    let mut table = empty(look, &head, &[0, 1]);
    for line in lines {
        table.add_row(vec![
            comfy_table::Cell::new(fit(&plain(&line.recording), NAME_COLUMNS)),
            name(&line.prep),
            right(line.starts.to_string()),
            right(line.rough.to_string()),
            right(line.no_light.to_string()),
            right(line.score_median.map_or("–".into(), short)),
            right(line.score_worst.map_or("–".into(), short)),
            right(line.alarms.to_string()),
        ]);
    }
    printed(&table)
}
