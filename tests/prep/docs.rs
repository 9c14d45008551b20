//! The prep part of the docs says what the program does.

use std::fs;
use std::path::Path;

use tipstrike::job::{Basis, CLASSES, Job, Process, TARGET_MEASURES, builtin_targets};
use tipstrike::measure::Measure;

fn doc(name: &str) -> String {
    fs::read_to_string(Path::new("docs").join(name)).unwrap()
}

/// The first block of a language.
fn block<'a>(text: &'a str, language: &str) -> &'a str {
    let start = text.find(&format!("```{language}\n")).expect(language);
    let body = &text[start..];
    let body = &body[body.find('\n').unwrap() + 1..];
    &body[..body.find("```").unwrap()]
}

/// Cells of the table rows whose first cell passes.
fn table_rows(text: &str, first: impl Fn(&str) -> bool) -> Vec<Vec<&str>> {
    text.lines()
        .filter_map(|line| line.strip_prefix("| ")?.strip_suffix(" |"))
        .map(|line| line.split('|').map(str::trim).collect::<Vec<_>>())
        .filter(|cells| first(cells[0]))
        .collect()
}

#[test]
fn the_job_and_the_sheet_of_the_docs_are_read() {
    let text = doc("job.md");
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("job.toml"), block(&text, "toml")).unwrap();
    fs::write(folder.path().join("runs.csv"), block(&text, "csv")).unwrap();
    let job = Job::read(folder.path()).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!((job.preps.len(), job.runs.len()), (2, 5));
    assert_eq!(job.runs[3].span_s(), (0.0, 120.0));
    assert_eq!(job.runs[0].other["bead_mm"], "3.9");
}

#[test]
fn the_classes_of_the_docs_are_those_of_the_program() {
    let text = doc("electrodes.md");
    for class in &CLASSES {
        let names = [
            class.aws,
            class.iso,
            class.older,
            class.aws_colour,
            class.iso_colour,
        ];
        let row = table_rows(&text, |_| true).into_iter().find(|row| {
            row.len() == 8
                && row[1] == class.aws.unwrap_or("–")
                && row[4] == class.iso.unwrap_or("–")
        });
        let row = row.unwrap_or_else(|| panic!("{} is not in the docs", class.name()));
        for name in names.into_iter().flatten() {
            assert!(row.contains(&name), "{name} is not in {row:?}");
        }
    }
}

#[test]
fn the_built_in_targets_of_the_docs_are_those_of_the_program() {
    let text = doc("scoring.md");
    let pair = |cell: &str| -> (f64, f64) {
        let (good, poor) = cell.split_once(" / ").unwrap();
        (good.parse().unwrap(), poor.parse().unwrap())
    };
    let rows = table_rows(&text, |first| first == "DC" || first == "AC");
    assert_eq!(rows.len(), 6);
    let amps = [10.0, 100.0, 200.0];
    for (i, row) in rows.iter().enumerate() {
        let process = if row[0] == "AC" {
            Process::Ac
        } else {
            Process::Dc
        };
        let basis = Basis {
            process,
            amps: Some(amps[i % 3]),
            blunt: false,
        };
        let built_in = builtin_targets(&basis);
        let of = |measure| {
            let target = built_in.iter().find(|t| t.measure == measure).unwrap();
            assert_eq!(
                *target.origin,
                *format!("built in ({}, {})", row[0], row[1])
            );
            (target.good, target.poor)
        };
        assert_eq!(of(Measure::StartMs), pair(row[2]), "{row:?}");
        assert_eq!(of(Measure::OvershootPct), pair(row[3]), "{row:?}");
        assert_eq!(of(Measure::WanderV), pair(row[4]), "{row:?}");
    }
    let ac = builtin_targets(&Basis {
        process: Process::Ac,
        amps: None,
        blunt: false,
    });
    for target in &ac {
        let name = format!("`{}`", target.measure);
        let row = table_rows(&text, |first| first.split(' ').next() == Some(&name));
        let row = row
            .iter()
            .find(|r| r.len() == 4)
            .unwrap_or_else(|| panic!("{name}"));
        assert_eq!(row[3], target.weight.to_string(), "{name}");
        if row[1] != "see above" {
            assert_eq!(
                (row[1], row[2]),
                (
                    target.good.to_string().as_str(),
                    target.poor.to_string().as_str()
                )
            );
        }
    }
    for measure in TARGET_MEASURES {
        assert!(
            text.contains(&format!("`{measure}`")),
            "{measure} is not in the docs"
        );
    }
}
