//! `tipstrike prep` from outside.

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

const JOB: &str =
    "[prep.A]\nclass = \"EWTh-2\"\ndiameter = \"2.4 mm\"\ntaper_deg = 30\nmarks = \"crosswise\"\n";
const SHEET: &str = "file,prep,set_a\nnot yet recorded.wav,A,260\n";

fn folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("job.toml"), JOB).unwrap();
    fs::write(folder.path().join("runs.csv"), SHEET).unwrap();
    folder
}

fn prep(folder: &Path, more: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_tipstrike"));
    command.arg("prep").arg(folder).args(more).output().unwrap()
}

#[test]
fn findings_are_told_before_anything_is_recorded_and_end_with_0() {
    let folder = folder();
    let out = prep(folder.path(), &[]);
    let text = String::from_utf8(out.stdout).unwrap();
    assert_eq!(out.status.code(), Some(0), "{text}");
    for part in [
        "change: current (row 2)",
        "look: marks",
        "look: thorium",
        "Why:",
        "Source:",
        "Try:",
    ] {
        assert!(text.contains(part), "{part} is missing in {text}");
    }
    assert!(
        text.lines().all(|line| line.chars().count() <= 80),
        "{text}"
    );
}

#[test]
fn the_json_holds_what_why_source_and_what_to_try() {
    let folder = folder();
    let out = prep(folder.path(), &["--json", "-"]);
    let answer: serde_json::Value = serde_json::from_slice(&out.stdout).unwrap();
    let findings = answer["findings"].as_array().unwrap();
    assert!(findings.len() >= 4);
    for finding in findings {
        for key in ["prep", "level", "about", "what", "why", "source", "try"] {
            assert!(
                finding[key].as_str().is_some_and(|text| !text.is_empty()),
                "{key}: {finding}"
            );
        }
    }
    let current = findings.iter().find(|f| f["about"] == "current").unwrap();
    assert_eq!(current["rows"], serde_json::json!([2]));
}

#[test]
fn an_input_that_cannot_be_used_ends_with_2_and_one_line_a_fault() {
    let folder = folder();
    fs::write(
        folder.path().join("runs.csv"),
        "file,prep,set_a,stickout\na.wav,C,x,6\n",
    )
    .unwrap();
    let out = prep(folder.path(), &[]);
    let said = String::from_utf8(out.stderr).unwrap();
    assert_eq!(out.status.code(), Some(2));
    assert_eq!(said.lines().count(), 3, "{said}");
    assert!(out.stdout.is_empty());
}

#[cfg(unix)]
#[test]
fn a_link_out_of_the_folder_is_refused_from_inside_the_folder_too() {
    let (folder, elsewhere) = (folder(), tempfile::tempdir().unwrap());
    std::os::unix::fs::symlink(elsewhere.path(), folder.path().join("linked")).unwrap();
    fs::write(
        folder.path().join("runs.csv"),
        "file,prep\nlinked/a.wav,A\n",
    )
    .unwrap();
    let mut command = Command::new(env!("CARGO_BIN_EXE_tipstrike"));
    let out = command
        .args(["prep", "job.toml"])
        .current_dir(folder.path())
        .output()
        .unwrap();
    let said = String::from_utf8(out.stderr).unwrap();
    assert_eq!(out.status.code(), Some(2), "{said}");
    assert!(said.contains("a link that leaves the folder"), "{said}");
}
