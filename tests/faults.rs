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
fn numbers_past_every_welding_source_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let rows: String = (0..400)
        .map(|k| format!("{:.4},{}\n", f64::from(k) * 1e-3, 1e308))
        .collect();
    std::fs::write(
        folder.path().join("huge.csv"),
        format!("time_s,current_a\n{rows}"),
    )
    .unwrap();
    says(
        &tipstrike(folder.path(), &["measure", "huge.csv"]),
        3,
        &["huge.csv", "past every welding source"],
    );
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

#[test]
fn a_mains_frequency_that_is_none_is_refused() {
    let folder = job_with("job.toml", "mains_hz = 60", "mains_hz = 0.001");
    says(
        &tipstrike(folder.path(), &["measure", "job.toml"]),
        3,
        &["mains_hz"],
    );
}

#[test]
fn an_offset_or_a_corner_that_is_none_is_refused_with_its_range() {
    for (to, words) in [
        (
            "high_pass_hz = 50000.0",
            ["[logger]", "high_pass_hz = 50000", "0.001 to 1000"],
        ),
        (
            "high_pass_hz = 1e-9",
            ["[logger]", "high_pass_hz = 0.000000001", "0.001 to 1000"],
        ),
    ] {
        let folder = job_with("job.toml", "mains_hz = 60", &format!("mains_hz = 60\n{to}"));
        says(
            &tipstrike(folder.path(), &["measure", "job.toml"]),
            3,
            &words,
        );
    }
    for offset in ["nan", "inf", "1e9"] {
        let to = format!("channel = 1, offset = {offset}");
        let folder = job_with("job.toml", "channel = 1", &to);
        let words = ["[logger] current", "offset = ", "-1000000 to 1000000"];
        says(
            &tipstrike(folder.path(), &["measure", "job.toml"]),
            3,
            &words,
        );
    }
}

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
fn numbers_that_mean_nothing_are_refused() {
    let job = samples().join("job.toml").display().to_string();
    let folder = tempfile::tempdir().unwrap();
    for args in [
        &["compare", &job, "--cold-after", "nan"][..],
        &["compare", &job, "--cold-after", "-1"],
        &["compare", &job, "--level", "inf"],
        &["compare", &job, "--level", "1"],
        &["compare", &job, "--margin", "score=nan"],
        &["screen", &job, "--sampling", "nan"],
        &["screen", &job, "--sampling", "2.5", "--lot", "0"],
        &["screen", &job, "--regrind-at", "score=inf"],
        &["plan", "--spread", "inf", "--see", "1"],
        &["plan", "--spread", "1", "--see", "nan"],
        &["plan", "--rates", "nan,2"],
        &["plan", "--rough-under", "nan"],
        &["plan", "--rough-under", "1", "--allowed", "99999999999"],
        &[
            "plan",
            "--preps",
            "A,B",
            "--coupons",
            "1",
            "--starts",
            "99999999999",
        ],
        &[
            "plan",
            "--preps",
            "A,B",
            "--coupons",
            "1",
            "--starts",
            "100000",
            "--per-tip",
            "1",
        ],
    ] {
        let output = tipstrike(folder.path(), args);
        let said = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{args:?}: {said}");
    }
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
    assert!(sheet.contains(",'=1+1,'@x,"), "{sheet}");
    assert!(!sheet.contains(",=") && !sheet.contains(",@"), "{sheet}");
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
