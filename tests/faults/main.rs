//! What a wrong call or input gets: one clear sentence and the exit code of the design.

mod numbers;
mod outputs;

use std::path::Path;
use std::process::Output;

use crate::program::tipstrike;

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
    let folder = job_with("runs.csv", "lid-1-A1.wav", "gone.wav");
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
    std::fs::write(folder.path().join("lid-1-A1.wav"), b"RIFF????WAVEjunk").unwrap();
    let output = tipstrike(folder.path(), &["measure", "job.toml"]);
    says(&output, 3, &["lid-1-A1.wav"]);
    assert!(
        String::from_utf8_lossy(&output.stdout).contains("lid-2"),
        "the others are done"
    );
}

fn samples() -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("samples")
}

#[test]
fn a_misspelt_measure_never_passes_a_batch() {
    for args in [
        ["screen", ".", "--chart", "scroe"],
        ["screen", ".", "--regrind-at", "run_a=5"],
        ["compare", ".", "--margin", "start=3"],
    ] {
        let output = tipstrike(&samples(), &args);
        says(&output, 2, &[args[2]]);
    }
}

#[test]
fn starts_that_come_in_twice_are_refused() {
    let folder = job_with("runs.csv", "file", "file");
    says(
        &tipstrike(folder.path(), &["measure", ".", "--csv", "starts.csv"]),
        0,
        &[],
    );
    for args in [
        ["compare", "starts.csv", "starts.csv"],
        ["compare", ".", "starts.csv"],
    ] {
        says(&tipstrike(folder.path(), &args), 2, &["twice"]);
    }
}

#[cfg(unix)]
#[test]
fn a_device_is_no_job_and_no_table() {
    let folder = tempfile::tempdir().unwrap();
    says(
        &tipstrike(folder.path(), &["prep", "/dev/zero"]),
        2,
        &["pipe or a device"],
    );
    says(
        &tipstrike(folder.path(), &["compare", "/dev/zero"]),
        2,
        &["pipe or a device"],
    );
}

/// Standard output of a call that ends well.
fn printed(folder: &Path, args: &[&str]) -> String {
    let output = tipstrike(folder, args);
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{args:?}: {said}");
    String::from_utf8(output.stdout).unwrap()
}

#[test]
fn a_row_number_in_the_table_is_the_one_that_why_takes() {
    let table = printed(&samples(), &["measure", "job.toml"]);
    assert!(table.starts_with("row recording"), "{table}");
    let line = table.lines().find(|l| l.starts_with(" 14 ")).unwrap();
    let start = line.split_whitespace().nth(2).unwrap();
    let why = printed(&samples(), &["measure", "job.toml", "--why", "14"]);
    assert!(why.starts_with(&format!("Start {start} of ")), "{why}");
    assert!(why.lines().all(|line| line.chars().count() <= 80), "{why}");
}

#[test]
fn a_starts_table_says_what_it_does_not_hold() {
    let folder = tempfile::tempdir().unwrap();
    let job = samples().join("job.toml").display().to_string();
    printed(folder.path(), &["measure", &job, "--csv", "starts.csv"]);
    let why = printed(folder.path(), &["measure", "starts.csv", "--why", "3"]);
    assert!(
        why.contains("of 100") && why.contains("measure the job itself"),
        "{why}"
    );
    says(
        &tipstrike(folder.path(), &["measure", "starts.csv", "--figure", "out"]),
        2,
        &["a starts table holds no traces", "Name the job"],
    );
    assert!(!folder.path().join("out").exists());
}

#[test]
fn a_prep_asked_for_is_the_only_one_screened() {
    let all = printed(&samples(), &["measure", "job.toml", "--csv", "-"]);
    let one = printed(
        &samples(),
        &["measure", "job.toml", "--prep", "A", "--csv", "-"],
    );
    let of_a = |text: &str| text.lines().filter(|l| l.contains("-A")).count();
    assert_eq!(one.lines().count(), 1 + of_a(&all));
    let output = tipstrike(&samples(), &["screen", "job.toml", "--prep", "A"]);
    assert!(!String::from_utf8_lossy(&output.stdout).contains("-B"));
    says(
        &tipstrike(&samples(), &["screen", "job.toml", "--prep", "Z"]),
        2,
        &["no prep \"Z\"", "It has A, B"],
    );
    let bare = tempfile::tempdir().unwrap();
    let sample = samples().join("lid-1-A1.wav").display().to_string();
    says(
        &tipstrike(bare.path(), &["measure", &sample, "--prep", "A"]),
        2,
        &["no job file says what prep \"A\" is", "--job"],
    );
}

#[test]
fn a_part_without_a_start_is_named() {
    let folder = job_with("runs.csv", "file,", "from_s,file,");
    let path = folder.path().join("runs.csv");
    let text = std::fs::read_to_string(&path).unwrap();
    let mut lines = text.lines();
    let head = lines.next().unwrap();
    let first = lines.next().unwrap();
    let sheet = format!("{head}\n5000,{first}\n");
    std::fs::write(&path, sheet).unwrap();
    let output = tipstrike(folder.path(), &["measure", "job.toml"]);
    says(&output, 0, &["from_s = 5000 s lies past its end"]);
}

#[test]
fn electrode_positive_on_the_sheet_is_no_fault_of_the_leads() {
    let turned = "electrode_negative = \"negative\"";
    let folder = job_with("job.toml", "electrode_negative = \"positive\"", turned);
    let path = folder.path().join("runs.csv");
    let dc = std::fs::read_to_string(&path).unwrap();
    let said = |folder: &Path| {
        let output = tipstrike(folder, &["measure", "job.toml"]);
        String::from_utf8_lossy(&output.stderr).into_owned()
    };
    assert!(
        said(folder.path()).contains("polarity?"),
        "the sheet says dc"
    );
    std::fs::write(&path, dc.replace(",dc,", ",dcep,")).unwrap();
    let dcep = said(folder.path());
    assert!(!dcep.contains("polarity?"), "{dcep}");
    // One run of a recording is enough, whichever comes first.
    let lid = "lid-1-A1.wav,A,lid-1,80";
    for (first, second) in [("dc", "dcep"), ("dcep", "dc")] {
        let sheet = format!(
            "file,prep,coupon,set_a,process,from_s,to_s\n{lid},{first},0,6\n{lid},{second},6,\n"
        );
        std::fs::write(&path, sheet).unwrap();
        let said = said(folder.path());
        assert!(!said.contains("polarity?"), "{first}, {second}: {said}");
    }
}

#[test]
fn a_fault_of_the_job_file_points_to_the_line_of_its_key() {
    let text = std::fs::read_to_string(samples().join("job.toml")).unwrap();
    for (from, to, words) in [
        ("mains_hz", "mains_herz", &["[logger], mains_herz"][..]),
        (
            "taper_deg = 30",
            "taper_deg = \"thirty\"",
            &["[prep.A], taper_deg", "expected a number"],
        ),
        (
            "current = { channel = 1",
            "current = { channel = \"x\"",
            &["[logger], current.channel"],
        ),
        (
            "current = {",
            "current = 3 #",
            &["[logger], current", "a table such as"],
        ),
    ] {
        let folder = job_with("job.toml", from, to);
        let line = 1 + text.lines().position(|l| l.contains(from)).unwrap();
        let at = format!("line {line},");
        let output = tipstrike(folder.path(), &["prep", "job.toml"]);
        says(&output, 2, &[words, &[at.as_str()]].concat());
        let said = String::from_utf8_lossy(&output.stderr);
        for alien in ["struct", "f64", "usize", "invalid type"] {
            assert!(!said.contains(alien), "{said}");
        }
    }
}

#[test]
fn names_with_line_ends_stay_on_their_line() {
    let folder = tempfile::tempdir().unwrap();
    let name = "a\nall is well\u{1b}[2J.wav";
    std::fs::write(folder.path().join(name), b"RIFF????WAVEjunk").unwrap();
    for args in [
        &["measure", name][..],
        &["measure", "gone\nb.wav"],
        &["inspect", name],
    ] {
        let output = tipstrike(folder.path(), args);
        let said = String::from_utf8_lossy(&output.stderr);
        assert!(!said.contains('\u{1b}'), "{said:?}");
        assert!(
            said.lines().all(|l| l.starts_with("tipstrike: ")),
            "{said:?}"
        );
        assert!(!said.contains("tipstrike: all is well"), "{said:?}");
    }
}

#[test]
fn scores_held_against_different_targets_are_said_to_be() {
    let own = "[prep.A]\ntargets.start_ms = { good = 5, poor = 50 }";
    let folder = job_with("job.toml", "[prep.A]", own);
    let told = printed(folder.path(), &["compare", "job.toml"]);
    assert!(told.contains("different targets"), "{told}");
    let alike = printed(&samples(), &["compare", "job.toml"]);
    assert!(!alike.contains("different targets"), "{alike}");
}
