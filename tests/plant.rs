//! The starts table as a folder of Parquet files: written by night, read by every verb, whole whatever happens.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use tipstrike::flag::Flag;
use tipstrike::measure::Measure;
use tipstrike::measuring::gather::StartSet;
use tipstrike::measuring::table;
use tipstrike::measuring::table::Wanted;
use tipstrike::score::{StartRow, Verdict};
use tipstrike::study::{CompareOptions, Reads, ScreenOptions, compare, screen, screen_parts};

use crate::program::tipstrike;

fn samples() -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples");
    path.display().to_string()
}

/// Files of a folder by their paths from it, with their bytes.
fn contents(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let files = table::parquet_files(folder).unwrap().into_iter();
    let named = |path: PathBuf| path.strip_prefix(folder).unwrap().to_path_buf();
    files
        .map(|path| (named(path.clone()), std::fs::read(path).unwrap()))
        .collect()
}

fn row(recording: &str, cell: Option<&str>, date: Option<&str>, start: u32) -> StartRow {
    let mut row = StartRow {
        recording: recording.into(),
        run: 1,
        prep: "A".into(),
        cell: cell.map(Into::into),
        date: date.map(Into::into),
        start,
        score: Some(f64::from(start)),
        ..StartRow::default()
    };
    row.measures
        .set(Measure::StartMs, Some(1.0 / f64::from(start)));
    row.instants.t_lit_s = Some(f64::from(start));
    row
}

#[test]
fn a_job_measured_into_a_folder_gives_every_verb_the_same_answer_and_once_more_changes_no_byte() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    for _ in 0..2 {
        let done = tipstrike(
            at,
            &[
                "measure",
                &samples(),
                "--parquet",
                "plant",
                "--csv",
                "starts.csv",
            ],
        );
        assert!(
            done.status.success(),
            "{}",
            String::from_utf8_lossy(&done.stderr)
        );
    }
    let first = contents(&at.join("plant"));
    // The two days of samples/runs.csv, which names no cell.
    let places = ["2026-03-09", "2026-03-10"]
        .map(|day| format!("day={day}/cell=__HIVE_DEFAULT_PARTITION__/starts.parquet"));
    assert!(
        first.keys().eq(places.iter().map(Path::new)),
        "{:?}",
        first.keys()
    );
    tipstrike(at, &["measure", &samples(), "--parquet", "plant"]);
    assert_eq!(contents(&at.join("plant")), first);
    for verb in [&["compare"][..], &["screen", "--by", "prep"], &["measure"]] {
        let said = |table: &str| {
            let done = tipstrike(at, &[verb, &[table]].concat());
            String::from_utf8(done.stdout).unwrap()
        };
        assert_eq!(said("plant"), said("starts.csv"), "{verb:?}");
    }
    let page = tipstrike(at, &["report", "plant", "-o", "page.html"]);
    assert!(
        page.status.success(),
        "{}",
        String::from_utf8_lossy(&page.stderr)
    );
}

#[test]
fn rows_come_back_to_the_bit_whatever_their_names_hold() {
    let folder = tempfile::tempdir().unwrap();
    let cells = [None, Some("3"), Some("a/b=%41 ü:.."), Some("..")];
    let mut rows: Vec<StartRow> = (1..)
        .zip(cells)
        .map(|(k, cell)| row("one.wav", cell, Some("2026-03-09T22:10:00Z"), k))
        .collect();
    rows[0].flags = vec![Flag::Retry, Flag::Dropout];
    rows[0].flags.sort();
    rows[1].sheet = Arc::new(BTreeMap::from([
        ("count".to_owned(), "007".to_owned()),
        ("ac_hz".to_owned(), "120".to_owned()),
    ]));
    rows[2].measures.set(Measure::Attempts, Some(3.0));
    rows[3].date = Some("yesterday".into());
    table::add_parquet(folder.path(), &rows).unwrap();
    let mut read = table::read(folder.path()).unwrap();
    for row in &mut read {
        let day = Arc::make_mut(&mut row.sheet).remove("day");
        assert_eq!(
            day.as_deref(),
            row.date
                .as_deref()
                .and_then(|d| d.get(..10))
                .filter(|d| d.starts_with('2'))
        );
    }
    read.sort_by_key(|row| row.start);
    assert_eq!(read, rows);
}

#[test]
fn a_recording_measured_again_takes_the_place_of_its_old_starts_and_no_others() {
    let folder = tempfile::tempdir().unwrap();
    let (day, cell) = (Some("2026-03-09"), Some("3"));
    let night = |from: u32| -> Vec<StartRow> {
        (from..from + 3)
            .map(|k| row(&format!("{}.wav", k % 2), cell, day, k))
            .collect()
    };
    table::add_parquet(folder.path(), &night(1)).unwrap();
    table::add_parquet(
        folder.path(),
        &[row("1.wav", cell, day, 9), row("1.wav", Some("4"), day, 8)],
    )
    .unwrap();
    let read = table::read(folder.path()).unwrap();
    let starts: Vec<_> = read
        .iter()
        .map(|row| (row.cell.as_deref(), row.start))
        .collect();
    assert_eq!(starts, [(Some("3"), 2), (Some("3"), 9), (Some("4"), 8)]);
}

#[test]
fn a_file_that_is_no_table_is_neither_read_nor_written_over() {
    let folder = tempfile::tempdir().unwrap();
    let rows = [row("a.wav", Some("3"), Some("2026-03-09"), 1)];
    table::add_parquet(folder.path(), &rows).unwrap();
    let file = table::parquet_files(folder.path()).unwrap().remove(0);
    let whole = std::fs::read(&file).unwrap();
    let cuts = (1..whole.len())
        .step_by(37)
        .map(|cut| whole[..cut].to_vec());
    let notes = std::iter::once(b"notes of the shift".to_vec());
    for broken in cuts.chain(notes) {
        std::fs::write(&file, &broken).unwrap();
        let error = table::add_parquet(folder.path(), &rows).unwrap_err();
        assert!(error.to_string().contains("starts.parquet"), "{error}");
        assert_eq!(std::fs::read(&file).unwrap(), broken);
    }
}

#[test]
fn no_damaged_byte_stops_the_program() {
    let folder = tempfile::tempdir().unwrap();
    let rows: Vec<StartRow> = (1..40).map(|k| row("a.wav", Some("3"), None, k)).collect();
    table::add_parquet(folder.path(), &rows).unwrap();
    let file = table::parquet_files(folder.path()).unwrap().remove(0);
    let whole = std::fs::read(&file).unwrap();
    for at in (4..whole.len()).step_by(11) {
        let mut damaged = whole.clone();
        damaged[at] ^= 1 << (at % 8);
        std::fs::write(&file, &damaged).unwrap();
        // An error or other values: a file has no checksum.
        let _ = table::read(&file);
    }
}

/// The format's library answers some damage by a panic; what it would print helps nobody.
#[test]
fn a_panic_over_a_damaged_file_is_told_as_an_error_and_by_nothing_else() {
    let folder = tempfile::tempdir().unwrap();
    let rows: Vec<StartRow> = (1..40).map(|k| row("a.wav", Some("3"), None, k)).collect();
    table::add_parquet(&folder.path().join("plant"), &rows).unwrap();
    let file = table::parquet_files(&folder.path().join("plant"))
        .unwrap()
        .remove(0);
    let whole = std::fs::read(&file).unwrap();
    let mut seen = 0;
    for at in 4..whole.len() {
        let mut damaged = whole.clone();
        damaged[at] ^= 1 << (at % 8);
        std::fs::write(&file, &damaged).unwrap();
        let panics = |error: tipstrike::Error| error.to_string().contains("error: damaged");
        if !table::read(&file).is_err_and(panics) {
            continue;
        }
        seen += 1;
        for verb in [
            &["screen", "plant", "--by", "cell"][..],
            &["compare", "plant"],
        ] {
            let done = tipstrike(folder.path(), verb);
            let said = String::from_utf8_lossy(&done.stderr);
            assert_eq!(done.status.code(), Some(2), "byte {at}: {said}");
            assert!(said.starts_with("tipstrike: plant/"), "byte {at}: {said}");
            assert_eq!(said.matches("damaged").count(), 1, "byte {at}: {said}");
            assert!(!said.contains("panicked"), "byte {at}: {said}");
        }
        if seen == 3 {
            return;
        }
    }
    panic!("no damage of one bit made the library panic: this test has nothing to hold");
}

#[test]
fn a_start_that_stands_in_two_files_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    table::add_parquet(
        &at.join("plant"),
        &[row("a.wav", Some("3"), Some("2026-03-09"), 1)],
    )
    .unwrap();
    table::add_parquet(
        &at.join("plant"),
        &[row("a.wav", Some("3"), Some("2026-03-10"), 1)],
    )
    .unwrap();
    let done = tipstrike(at, &["screen", "plant"]);
    let said = String::from_utf8_lossy(&done.stderr);
    assert!(
        done.status.code() == Some(2) && said.contains("counted twice"),
        "{said}"
    );
    let done = tipstrike(at, &["screen", "plant/day=2026-03-09"]);
    assert_ne!(done.status.code(), Some(2), "one day alone is read");
}

/// Rows of three cells over two days: one cell goes off on the second.
fn nights() -> Vec<StartRow> {
    let mut rows = Vec::new();
    for day in ["2026-03-09", "2026-03-10"] {
        for cell in ["3", "7", "9"] {
            for k in 1..=60_u32 {
                let mut row = row(&format!("cell{cell}/{day}.wav"), Some(cell), Some(day), k);
                let off = day.ends_with("10") && cell == "7" && k > 20;
                let score = if off { 30.0 } else { 85.0 } + f64::from((k * 7) % 11);
                (row.score, row.tip_id) = (Some(score), Some(format!("T{}", k / 20).into()));
                row.verdict = Some(if score < 50.0 {
                    Verdict::Rough
                } else {
                    Verdict::Crisp
                });
                row.measures.set(
                    Measure::StartMs,
                    Some(60.0 + f64::from(k % 13) + if off { 300.0 } else { 0.0 }),
                );
                row.measures
                    .set(Measure::SinceRegrind, Some(f64::from(k % 20 + 1)));
                row.measures.set(Measure::Attempts, Some(1.0));
                if k % 17 == 0 {
                    row.flags = vec![Flag::Slow];
                }
                rows.push(row);
            }
        }
    }
    rows
}

#[test]
fn screening_cell_by_cell_gives_the_answer_of_the_whole() {
    let folder = tempfile::tempdir().unwrap();
    table::add_parquet(folder.path(), &nights()).unwrap();
    for (accept, by) in [(None, "cell"), (Some(0.2), "cell"), (None, "day")] {
        let options = ScreenOptions {
            by: vec![by.to_owned()],
            accept,
            ..ScreenOptions::default()
        };
        let rows = table::read(folder.path()).unwrap();
        let mut whole = screen(
            &StartSet {
                rows,
                ..StartSet::default()
            },
            &options,
        )
        .unwrap();
        let parts = table::parted_by(folder.path(), by).unwrap().unwrap();
        let reads = options.reads();
        let counted = options.counts_by();
        let read = |files: &Vec<PathBuf>, what| match what {
            Reads::ToCount => table::read_files(files, Wanted::Columns(&counted)),
            Reads::ToJudge => table::read_files(files, Wanted::Measures(&reads)),
        };
        let mut in_parts = screen_parts(&parts, &options, read).unwrap();
        assert!(whole.rough > 0 && whole.groups.iter().any(|group| group.charts_out > 0));
        for answer in [&mut whole, &mut in_parts] {
            answer
                .recordings
                .sort_by(|a, b| a.recording.cmp(&b.recording));
            answer
                .alarms
                .sort_by(|a, b| (&a.recording, a.start).cmp(&(&b.recording, b.start)));
        }
        assert_eq!(in_parts, whole, "by {by}");
    }
    assert_eq!(table::parted_by(folder.path(), "shift").unwrap(), None);
}

#[test]
fn an_answer_rests_on_no_measure_that_it_does_not_read() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    tipstrike(at, &["measure", &samples(), "--csv", "starts.csv"]);
    let read = |wanted: Wanted| StartSet {
        rows: table::read_wanted(&at.join("starts.csv"), wanted).unwrap(),
        ..StartSet::default()
    };
    for measures in [
        &["score", "start_ms", "wander_v"][..],
        &["run_a"],
        &["rise_ms", "run_v"],
    ] {
        let named = || {
            measures
                .iter()
                .map(|name| (*name).to_owned())
                .collect::<Vec<_>>()
        };
        let compared = CompareOptions {
            measures: named(),
            ..CompareOptions::default()
        };
        let reads = compared.reads();
        assert!(reads.len() < 9, "{reads:?}");
        let few = compare(&read(Wanted::Measures(&reads)), &compared).unwrap();
        assert_eq!(few, compare(&read(Wanted::All), &compared).unwrap());
        let screened = ScreenOptions {
            charts: named(),
            ..ScreenOptions::default()
        };
        let few = screen(&read(Wanted::Measures(&screened.reads())), &screened).unwrap();
        assert_eq!(few, screen(&read(Wanted::All), &screened).unwrap());
    }
}
