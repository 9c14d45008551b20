//! Rows of the starts table: written and read again they are the same, and every answer about them can be told.

use std::path::Path;

use tipstrike::job::{Job, Run};
use tipstrike::measuring::gather::StartSet;
use tipstrike::measuring::table;
use tipstrike::report::text;
use tipstrike::report::text::TermStyle;
use tipstrike::score::{StartRow, start_row};
use tipstrike::start::Start;
use tipstrike::study::{CompareOptions, ScreenOptions, compare_rows, screen};

use super::workbench;

/// Starts of a recording without a sheet as rows.
pub fn of(starts: &[Start]) -> Vec<StartRow> {
    let job = Job::bare(Default::default(), Default::default());
    of_run(&job, &Run::bare(1, Path::new("fuzz.wav")), starts)
}

/// Starts of a run as rows.
pub fn of_run(job: &Job, run: &Run, starts: &[Start]) -> Vec<StartRow> {
    let rows = starts.iter().zip(1..);
    rows.map(|(start, number)| start_row(job, run, number, start).0)
        .collect()
}

/// A table of rows is read back as those rows, from CSV and from JSON Lines.
pub fn written_is_read(rows: &[StartRow]) {
    let (mut csv, mut json) = (Vec::new(), Vec::new());
    table::write_csv(rows, &mut csv).expect("memory");
    table::write_jsonl(rows, &mut json).expect("memory");
    if !rows.is_empty() {
        assert_eq!(read(&csv), rows, "through CSV");
        assert_eq!(read(&json), rows, "through JSON Lines");
    }
    no_formula(&csv);
}

fn read(bytes: &[u8]) -> Vec<StartRow> {
    let path = workbench::file("written", bytes);
    assert!(
        table::is_table(&path).expect("a file"),
        "what was written is a table"
    );
    table::read(&path).unwrap_or_else(|error| panic!("{error}"))
}

/// No cell makes a spreadsheet calculate, nor what it may take for a cell: what begins like a formula is a plain number
/// (OWASP's note on CSV injection).
fn no_formula(csv: &[u8]) {
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .from_reader(csv);
    let cells = reader.records().flat_map(|record| {
        let record = record.expect("CSV");
        record.iter().map(str::to_owned).collect::<Vec<_>>()
    });
    let parts = |cell: String| {
        cell.split(['\r', '\n', ';', '\t'])
            .map(str::to_owned)
            .collect::<Vec<_>>()
    };
    for cell in cells.flat_map(parts) {
        let runs = cell.starts_with(['=', '+', '-', '@', '＝', '＋', '－', '＠']);
        assert!(!runs || cell.parse::<f64>().is_ok(), "a formula: {cell}");
    }
}

/// Every answer about the rows is either refused in words or told without steering the terminal.
pub fn answers_hold(rows: &[StartRow]) {
    let look = TermStyle::plain(80);
    harmless(&text::starts(rows, look));
    let striking = CompareOptions {
        while_striking: true,
        ..CompareOptions::default()
    };
    for options in [CompareOptions::default(), striking] {
        if let Ok(answer) = compare_rows(rows, &options) {
            harmless(&text::comparison(&answer, look));
            serde_json::to_string(&answer).expect("JSON");
        }
    }
    let gathered = StartSet {
        rows: rows.to_vec(),
        details: vec![Default::default(); rows.len()],
        ..StartSet::default()
    };
    if let Ok(answer) = screen(&gathered, &ScreenOptions::default()) {
        harmless(&text::screening(&answer, look));
        serde_json::to_string(&answer).expect("JSON");
    }
}

/// Nothing but line ends controls the terminal.
pub fn harmless(text: &str) {
    let steers = |c: char| c.is_control() && c != '\n';
    assert!(!text.contains(steers), "control characters in {text:?}");
}
