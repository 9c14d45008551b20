//! Outputs touch only outputs: what every verb does with a name that something else bears.

use std::os::unix::fs::{PermissionsExt, symlink};

use super::*;

/// A job with one table of its starts.
fn bench() -> tempfile::TempDir {
    let folder = job("file,prep\na.wav,A\nb.wav,B\n");
    printed(folder.path(), &["measure", ".", "--csv", "starts.csv"]);
    folder
}

/// Every option of every verb that takes a file to write, before the name of the file.
const WRITERS: [&[&str]; 12] = [
    &["inspect", "a.wav", "--json"],
    &["inspect", "a.wav", "--job", ".", "--figure"],
    &["prep", ".", "--json"],
    &["measure", "starts.csv", "--csv"],
    &["measure", "starts.csv", "--jsonl"],
    &["compare", "starts.csv", "--json"],
    &["screen", "starts.csv", "--json"],
    &["screen", "starts.csv", "--csv"],
    &["screen", "starts.csv", "--append"],
    &["report", "starts.csv", "-o"],
    &[
        "plan",
        "--preps",
        "A,B",
        "--coupons",
        "1",
        "--starts",
        "4",
        "--sheet",
    ],
    &["measure", ".", "--csv"],
];

#[test]
fn no_verb_writes_over_what_it_did_not_write_in_that_form() {
    let folder = bench();
    let others = super::folder();
    let path = |name: &str| folder.path().join(name);
    for (name, text) in [
        ("notes.md", "# Notes\n"),
        ("other.json", "{\n  \"mine\": 1\n}\n"),
        ("list.json", "[]"),
        ("page.html", "<!DOCTYPE html><title>Mine</title>"),
        (
            "picture.svg",
            "<svg xmlns=\"http://www.w3.org/2000/svg\"></svg>\n",
        ),
        ("table.csv", "time_s,current_a\n0,1\n"),
    ] {
        std::fs::write(path(name), text).unwrap();
    }
    std::fs::write(path("photo.png"), b"\x89PNG\r\n\x1a\nnot drawn here").unwrap();
    std::fs::copy(sample(A), others.path().join("c.wav")).unwrap();
    let recording = others.path().join("c.wav").display().to_string();
    let kept = [
        "a.wav",
        "b.wav",
        "job.toml",
        "runs.csv",
        "starts.csv",
        "notes.md",
        "other.json",
        "list.json",
        "page.html",
        "picture.svg",
        "photo.png",
        "table.csv",
        &recording,
    ];
    let before = kept.map(|name| std::fs::read(path(name)).unwrap());
    for writer in WRITERS {
        for (name, bytes) in kept.iter().zip(&before) {
            // A starts table may be replaced by one, and inspect names its figures by their ending.
            let own = *name == "starts.csv" && *writer == ["measure", ".", "--csv"];
            if own {
                continue;
            }
            let args = [writer, &[name]].concat();
            said(folder.path(), &args, 2);
            assert_eq!(&std::fs::read(path(name)).unwrap(), bytes, "{args:?}");
        }
    }
}

#[test]
fn a_forgotten_name_of_the_output_costs_no_recording() {
    let folder = bench();
    let before = std::fs::read(folder.path().join("a.wav")).unwrap();
    let said = said(folder.path(), &["inspect", "--json", "a.wav", "b.wav"], 2);
    assert!(
        said.contains("a.wav: already exists and is not an answer of inspect"),
        "{said}"
    );
    assert_eq!(std::fs::read(folder.path().join("a.wav")).unwrap(), before);
}

#[test]
fn an_output_of_the_same_form_is_replaced_and_keeps_its_mode_and_its_link() {
    let folder = bench();
    let path = |name: &str| folder.path().join(name);
    std::fs::create_dir(path("real")).unwrap();
    let outputs = [
        "1.json", "2.svg", "3.json", "4.csv", "5.jsonl", "6.json", "7.json", "8.csv", "9.csv",
        "10.html",
    ];
    for (writer, name) in WRITERS.iter().zip(outputs) {
        let (real, link) = (path("real").join(name), path(name));
        symlink(&real, &link).unwrap();
        let run = || {
            let output = tipstrike(folder.path(), &[writer, &[name][..]].concat());
            assert!(
                output.status.code().is_some_and(|code| code <= 1),
                "{name}: {output:?}"
            );
        };
        run();
        let first = std::fs::read(&real).unwrap();
        std::fs::set_permissions(&real, std::fs::Permissions::from_mode(0o640)).unwrap();
        run();
        assert!(link.is_symlink(), "{name}");
        assert_eq!(std::fs::read(&real).unwrap(), first, "{name}");
        assert_eq!(
            real.metadata().unwrap().permissions().mode() & 0o777,
            0o640,
            "{name}"
        );
    }
    assert_eq!(names(&path("real")).len(), outputs.len());
}

#[test]
fn figures_of_several_jobs_have_names_of_their_own() {
    let folders = [job("file,prep\na.wav,A\n"), job("file,prep\nb.wav,B\n")];
    let paths = folders.each_ref().map(|f| f.path().display().to_string());
    let starts = |args: &[&str]| printed(folders[0].path(), args).lines().count() - 1;
    let rows: usize = paths
        .iter()
        .map(|job| starts(&["measure", job, "--csv", "-"]))
        .sum();
    printed(
        folders[0].path(),
        &["measure", &paths[0], &paths[1], "--figure", "figures"],
    );
    let drawn = names(&folders[0].path().join("figures"));
    let traces = drawn
        .iter()
        .filter(|name| !name.contains("cloud") && !name.contains("spectrum"));
    assert_eq!(traces.count(), rows, "{drawn:?}");
    // One of them is a picture of somebody else: nothing is drawn.
    let figures = folders[0].path().join("figures");
    let taken = drawn.iter().find(|name| name.starts_with("job2-"));
    let taken = figures.join(taken.unwrap());
    std::fs::write(&taken, "<svg></svg>").unwrap();
    said(
        folders[0].path(),
        &["measure", &paths[0], &paths[1], "--figure", "figures"],
        2,
    );
    assert_eq!(std::fs::read_to_string(taken).unwrap(), "<svg></svg>");
}

#[test]
fn a_json_key_that_stands_twice_is_refused() {
    let folder = bench();
    printed(
        folder.path(),
        &["measure", "starts.csv", "--jsonl", "starts.jsonl"],
    );
    let text = std::fs::read_to_string(folder.path().join("starts.jsonl")).unwrap();
    let twice = text.replacen("\"prep\":", "\"prep\":\"B\",\"prep\":", 1);
    std::fs::write(folder.path().join("twice.jsonl"), twice).unwrap();
    let said = said(folder.path(), &["compare", "twice.jsonl"], 2);
    assert!(
        said.contains("line 1: column \"prep\" stands there twice"),
        "{said}"
    );
}

#[test]
fn numbers_in_messages_have_at_most_twelve_digits() {
    for (from, to) in [
        ("mains_hz = 60", "mains_hz = 1e300"),
        ("mains_hz = 60", "mains_hz = 60\nhigh_pass_hz = 1e-300"),
        (
            "mains_hz = 60",
            "mains_hz = 60\nhigh_pass_hz = 123456.123456789123",
        ),
        ("tolerance_pct = 0.1", "tolerance_pct = 1e200"),
    ] {
        let folder = job("file,prep\na.wav,A\n");
        let path = folder.path().join("job.toml");
        let rules = std::fs::read_to_string(&path).unwrap();
        assert!(rules.contains(from), "{from}");
        std::fs::write(&path, rules.replacen(from, to, 1)).unwrap();
        let output = tipstrike(folder.path(), &["measure", "."]);
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(
            output.status.code().is_some_and(|code| code >= 2),
            "{to}: {said}"
        );
        let digits = |word: &str| word.bytes().filter(u8::is_ascii_digit).count();
        let longest = said.split_whitespace().map(digits).max();
        assert!(longest <= Some(12), "{to}: {said}");
    }
}
