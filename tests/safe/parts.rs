//! Many parts and many faults cost what they are, and not their number times a recording.

use std::time::{Duration, Instant};

use tipstrike::measuring::gather::{GatherOptions, gather};

use super::*;

/// The shortest of some runs, and how many starts there were.
fn measured(folder: &Path) -> (Duration, usize) {
    let once = || {
        let begun = Instant::now();
        let set = gather(&[folder.to_path_buf()], &GatherOptions::default()).unwrap();
        assert!(set.not_read.is_empty());
        (begun.elapsed(), set.rows.len())
    };
    (0..4).map(|_| once()).min().unwrap()
}

/// A sheet of so many parts of one recording of 5.6 s.
fn parts(count: u32) -> String {
    let part = |k: u32| {
        let at = |k: u32| 5.6 * f64::from(k) / f64::from(count);
        format!("a.wav,A,{:.6},{:.6}\n", at(k), at(k + 1))
    };
    format!(
        "file,prep,from_s,to_s\n{}",
        (0..count).map(part).collect::<String>()
    )
}

#[test]
fn a_hundred_parts_of_one_recording_cost_nothing_like_a_hundred() {
    let (one, hundred) = (job("file,prep\na.wav,A\n"), job(&parts(100)));
    let (whole, starts) = measured(one.path());
    let (in_parts, shared) = measured(hundred.path());
    assert_eq!(shared, starts);
    // Alone on a machine it is under twice; opened for each part it would be a hundred times.
    assert!(
        in_parts <= whole * 10,
        "{in_parts:?} in parts, {whole:?} whole"
    );
}

/// Ten thousand rows take what ten thousand rows take to read, and no more for the recording.
#[test]
fn ten_thousand_parts_cost_in_proportion() {
    let (few, many) = (job(&parts(1000)), job(&parts(10_000)));
    let (of_few, starts) = measured(few.path());
    let (of_many, shared) = measured(many.path());
    assert_eq!(shared, starts);
    // Ten times as much; a hundred times if each row were held against all others. A shared machine takes its part.
    assert!(
        of_many <= of_few * 30,
        "{of_many:?} for 10,000, {of_few:?} for 1000"
    );
}

#[test]
fn a_start_in_a_part_is_measured_as_in_the_whole() {
    let (one, hundred) = (job("file,prep\na.wav,A\n"), job(&parts(50)));
    let rows = |folder: &Path| {
        gather(&[folder.to_path_buf()], &GatherOptions::default())
            .unwrap()
            .rows
    };
    let (whole, parts) = (rows(one.path()), rows(hundred.path()));
    assert_eq!(whole.len(), parts.len());
    for (a, b) in whole.iter().zip(&parts) {
        assert_eq!(
            (a.instants, a.measures.start_ms(), &a.flags),
            (b.instants, b.measures.start_ms(), &b.flags)
        );
        assert!(a.run == 1 && b.start == 1);
    }
}

#[test]
fn a_recording_that_cannot_be_read_is_told_once_for_all_its_parts() {
    let folder = job(&parts(100));
    std::fs::write(folder.path().join("a.wav"), "no recording").unwrap();
    let said = said(folder.path(), &["measure", "."], 3);
    assert_eq!(said.matches("was left out").count(), 1, "{said}");
}

#[test]
fn a_hundred_thousand_bad_rows_are_told_as_ten_and_a_count() {
    let row = |k: usize| {
        format!(
            "{k}.wav,{},{}\n",
            ["A", "no prep"][k % 2],
            ["100", "many"][k / 2 % 2]
        )
    };
    let rows: String = (0..99_999).map(row).collect();
    let folder = job(&format!("file,prep,set_a\n{rows}"));
    let said = said(folder.path(), &["measure", "."], 2);
    let lines: Vec<&str> = said.lines().collect();
    assert_eq!(lines.len(), 11, "{}", &said[..said.len().min(3000)]);
    assert!(
        lines[10].contains("… and 99988 more faults: "),
        "{}",
        lines[10]
    );
    assert!(
        lines[10].contains(" in column prep") && lines[10].contains(" in column set_a"),
        "{}",
        lines[10]
    );
}

#[test]
fn many_missing_recordings_are_told_as_ten_and_a_count() {
    let rows: String = (0..1000).map(|k| format!("{k}.wav,A\n")).collect();
    let folder = job(&format!("file,prep\n{rows}"));
    let said = said(folder.path(), &["measure", "."], 3);
    assert_eq!(said.matches("was left out").count(), 10, "{said}");
    assert!(said.contains("… and 990 more faults: 990 system"), "{said}");
}
