//! Inputs survive, and outputs do not mix.

use super::*;

#[test]
fn what_was_read_is_not_written_over() {
    let folder = job_with("runs.csv", "file", "file");
    let names = ["job.toml", "runs.csv", "lid-1-A1.wav"];
    for name in names {
        let before = std::fs::read(folder.path().join(name)).unwrap();
        says(
            &tipstrike(folder.path(), &["measure", ".", "--csv", name]),
            2,
            &[name],
        );
        says(
            &tipstrike(folder.path(), &["report", ".", "-o", name]),
            2,
            &[name],
        );
        says(
            &tipstrike(folder.path(), &["compare", ".", "--json", name]),
            2,
            &[name],
        );
        says(
            &tipstrike(folder.path(), &["prep", ".", "--json", "job.toml"]),
            2,
            &["is an input of this answer"],
        );
        let wav = "lid-1-A1.wav";
        says(
            &tipstrike(folder.path(), &["inspect", wav, "--json", wav]),
            2,
            &["is an input of this answer"],
        );
        assert_eq!(std::fs::read(folder.path().join(name)).unwrap(), before);
    }
}

#[test]
fn a_recording_named_in_place_of_the_output_survives() {
    let folder = tempfile::tempdir().unwrap();
    let text = "time_s,current_a\n0.000,0\n0.001,0\n0.002,0\n";
    for name in ["a.csv", "b.csv"] {
        std::fs::write(folder.path().join(name), text).unwrap();
    }
    says(
        &tipstrike(folder.path(), &["measure", "--csv", "a.csv", "b.csv"]),
        2,
        &["a.csv", "not a starts table"],
    );
    assert_eq!(
        std::fs::read_to_string(folder.path().join("a.csv")).unwrap(),
        text
    );
}

#[test]
fn a_sheet_that_is_there_is_not_written_over() {
    let folder = job_with("runs.csv", "file", "file");
    let before = std::fs::read(folder.path().join("runs.csv")).unwrap();
    let args = [
        "plan",
        "--preps",
        "A,B",
        "--coupons",
        "1,2",
        "--starts",
        "10",
        "--sheet",
        "runs.csv",
    ];
    says(
        &tipstrike(folder.path(), &args),
        2,
        &["runs.csv", "there already"],
    );
    assert_eq!(
        std::fs::read(folder.path().join("runs.csv")).unwrap(),
        before
    );
}

#[test]
fn two_outputs_do_not_mix_on_stdout() {
    for args in [
        ["measure", "job.toml", "--csv", "-", "--jsonl", "-"],
        ["screen", "job.toml", "--csv", "-", "--json", "-"],
    ] {
        let output = tipstrike(&samples(), &args);
        says(&output, 2, &["two outputs cannot share stdout"]);
        assert!(output.stdout.is_empty());
    }
}

#[test]
fn a_planned_sheet_runs_nothing_in_a_spreadsheet() {
    let folder = tempfile::tempdir().unwrap();
    let args = [
        "plan",
        "--preps",
        "=1+1,B",
        "--coupons",
        "@x",
        "--starts",
        "5",
    ];
    let sheet = printed(folder.path(), &args);
    // A tip is named after its prep, so its cell is guarded as well.
    assert!(sheet.contains(",'=1+1,'=1+11,'@x,"), "{sheet}");
    let mut cells = csv::Reader::from_reader(sheet.as_bytes());
    for cell in cells
        .records()
        .flat_map(|row| row.unwrap().iter().map(str::to_owned).collect::<Vec<_>>())
    {
        assert!(
            !cell.starts_with(['=', '+', '-', '@', '\t', '\r']),
            "{cell}"
        );
    }
}
