//! What a wrong call or input gets: one clear sentence and the exit code of the design.

use std::path::Path;
use std::process::{Command, Output};

fn tipstrike(folder: &Path, args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_tipstrike"))
        .args(args)
        .current_dir(folder)
        .output()
        .unwrap()
}

/// A copy of the sample job with one text replaced in one of its files.
fn job_with(file: &str, from: &str, to: &str) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples");
    for entry in std::fs::read_dir(samples).unwrap().map(|e| e.unwrap()) {
        if entry.path().is_file() {
            std::fs::copy(entry.path(), folder.path().join(entry.file_name())).unwrap();
        }
    }
    let path = folder.path().join(file);
    let text = std::fs::read_to_string(&path).unwrap();
    assert!(text.contains(from), "{file} has no {from}");
    std::fs::write(&path, text.replacen(from, to, 1)).unwrap();
    folder
}

fn says(output: &Output, code: i32, words: &[&str]) {
    let text = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(code), "{text}");
    for word in words {
        assert!(text.contains(word), "no \"{word}\" in: {text}");
    }
    assert!(!text.contains("panicked"), "{text}");
}

#[test]
fn a_missing_job_ends_with_2_and_its_name() {
    let folder = tempfile::tempdir().unwrap();
    says(
        &tipstrike(folder.path(), &["measure", "no.toml"]),
        2,
        &["no.toml", "cannot read"],
    );
    says(
        &tipstrike(folder.path(), &["measure", "no.wav"]),
        2,
        &["no.wav", "cannot read"],
    );
}

#[test]
fn a_missing_recording_ends_with_3_and_the_others_are_done() {
    let folder = job_with("runs.csv", "lid-1-grind-A.wav", "gone.wav");
    let output = tipstrike(folder.path(), &["measure", "job.toml"]);
    says(&output, 3, &["gone.wav"]);
    assert!(
        String::from_utf8_lossy(&output.stdout).contains("lid-2"),
        "the others are done"
    );
}

#[test]
fn a_wrong_column_ends_with_2_and_the_column() {
    let folder = job_with("runs.csv", "prep", "grind");
    says(
        &tipstrike(folder.path(), &["measure", "job.toml"]),
        2,
        &["runs.csv", "prep"],
    );
}

#[test]
fn an_unknown_prep_ends_with_2_and_the_known_ones() {
    let folder = job_with("job.toml", "[prep.B]", "[prep.D]");
    says(
        &tipstrike(folder.path(), &["measure", "job.toml"]),
        2,
        &["runs.csv", "B", "row"],
    );
}

#[test]
fn a_length_without_unit_ends_with_2_and_the_way_out() {
    let folder = job_with("job.toml", "diameter = \"2.4 mm\"", "diameter = \"2.4\"");
    says(
        &tipstrike(folder.path(), &["measure", "job.toml"]),
        2,
        &["diameter", "2.4", "mm"],
    );
}

#[test]
fn an_unknown_key_names_the_nearest_known_one() {
    let folder = job_with("job.toml", "mains_hz", "mains_herz");
    says(
        &tipstrike(folder.path(), &["measure", "job.toml"]),
        2,
        &["mains_herz", "mains_hz"],
    );
}

#[test]
fn a_broken_recording_ends_with_3_and_the_others_are_done() {
    let folder = job_with("runs.csv", "file", "file");
    std::fs::write(folder.path().join("lid-1-grind-A.wav"), b"RIFF????WAVEjunk").unwrap();
    let output = tipstrike(folder.path(), &["measure", "job.toml"]);
    says(&output, 3, &["lid-1-grind-A.wav"]);
    assert!(
        String::from_utf8_lossy(&output.stdout).contains("lid-2"),
        "the others are done"
    );
}
