//! What spoils a comparison is said.

use std::sync::Arc;
use tipstrike::measure::Measure;

use super::*;

#[test]
fn what_spoils_a_comparison_is_said() {
    let mut rows = starts("A", &scores(14, 10, 85.0, 5.0));
    rows.extend(starts("B", &scores(15, 10, 85.0, 5.0)));
    for (i, row) in rows.iter_mut().enumerate() {
        row.run = 1 + (i / 5) as u32;
        row.coupon = Some(row.prep.clone());
        row.measures
            .set(Measure::SinceRegrind, Some((i + 1) as f64));
        let gas = if &*row.prep == "A" {
            "argon"
        } else {
            "argon 30 helium 70"
        };
        Arc::make_mut(&mut row.sheet).insert("gas".into(), gas.into());
    }
    let warnings = said(&compared(&rows)).join("\n");
    for part in [
        "gas is not the same in all groups (A: argon; B: argon 30 helium 70)",
        "All or nearly all starts of A came before those of B",
        "The tips of B had struck more arcs",
        "share no coupon",
    ] {
        assert!(
            warnings.contains(part),
            "{part} is missing from:\n{warnings}"
        );
    }
}

/// Starts at 80 A with this expanded uncertainty, under a logger.
fn under(prep: &str, logger: &str, u_run_a: f64) -> Vec<StartRow> {
    let mut rows = starts(prep, &[60.0, 62.0, 64.0, 66.0, 68.0]);
    for (row, step) in rows.iter_mut().zip(0..) {
        row.measures
            .set(Measure::RunA, Some(80.0 + 0.01 * f64::from(step)));
        row.measures.set(Measure::URunA, Some(u_run_a));
        Arc::make_mut(&mut row.sheet).insert("logger".into(), logger.into());
    }
    rows
}

#[test]
fn only_a_difference_between_loggers_has_their_gain_errors_in_it() {
    let options = CompareOptions {
        measures: vec!["run_a".into()],
        ..CompareOptions::default()
    };
    let gain = |rows: &[StartRow]| {
        let warnings = said(&compare(rows, &options).unwrap());
        warnings.into_iter().find(|w| w.contains("gain errors"))
    };
    let same = [under("A", "one", 0.4), under("B", "one", 0.4)].concat();
    assert_eq!(gain(&same), None);
    let two = [under("A", "one", 0.4), under("B", "other", 0.3)].concat();
    // Root sum of squares (JCGM 100:2008, 5.1.2): 0.4 A and 0.3 A make 0.5 A.
    let said = gain(&two).unwrap();
    assert!(
        said.contains("run_a by 0.500") && said.contains("A: one / B: other"),
        "{said}"
    );
}

#[test]
fn a_start_carries_the_calibration_it_was_measured_under() {
    let samples = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("samples");
    let found = gather(&[samples], &GatherOptions::default()).unwrap();
    assert_eq!(
        found.rows[0].sheet["logger"],
        "current 200 A at full scale ±0.5 %; voltage 120 V at full scale ±1 %; logger ±0.1 %"
    );
}

#[test]
fn merged_tables_give_the_answer_of_one_measuring() {
    let mut rows = starts("A", &scores(18, 20, 85.0, 5.0));
    rows.extend(starts("B", &scores(19, 20, 78.0, 9.0)));
    rows.push(no_light("B", 21));
    let whole = compared(&rows);
    let (first, second) = rows.split_at(17);
    let folder = tempfile::tempdir().unwrap();
    let read = |names: &[&str]| {
        let paths: Vec<_> = names.iter().map(|name| folder.path().join(name)).collect();
        compared(&gather(&paths, &GatherOptions::default()).unwrap().rows)
    };
    for (ending, write) in [
        (
            "csv",
            (|rows, to| table::write_csv(rows, to))
                as fn(&[StartRow], &mut Vec<u8>) -> std::io::Result<()>,
        ),
        ("jsonl", |rows, to| table::write_jsonl(rows, to)),
    ] {
        let part = |rows: &[StartRow]| {
            let mut bytes = Vec::new();
            write(rows, &mut bytes).unwrap();
            bytes
        };
        let names = [
            format!("one.{ending}"),
            format!("two.{ending}"),
            format!("both.{ending}"),
        ];
        let save =
            |name: &str, bytes: &[u8]| std::fs::write(folder.path().join(name), bytes).unwrap();
        save(&names[0], &part(first));
        save(&names[1], &part(second));
        save(&names[2], &[part(first), part(second)].concat());
        assert_eq!(read(&[&names[0], &names[1]]), whole, "two {ending} files");
        assert_eq!(read(&[&names[2]]), whole, "{ending} files put end to end");
    }
}
