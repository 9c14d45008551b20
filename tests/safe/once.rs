//! One content is counted once, however it is named; different recordings of one name stay apart.

use std::os::unix::fs::symlink;

use super::*;

/// Starts that a call of `measure` finds.
fn starts(folder: &Path, inputs: &[&str]) -> usize {
    let args = [&["measure"], inputs, &["--job", "job.toml", "--csv", "-"]].concat();
    printed(folder, &args).lines().count() - 1
}

#[test]
fn a_recording_named_again_counts_once_and_that_is_said() {
    let folder = job("file,prep\na.wav,A\n");
    let path = |name: &str| folder.path().join(name);
    std::fs::copy(path("a.wav"), path("copy.wav")).unwrap();
    std::fs::hard_link(path("a.wav"), path("link.wav")).unwrap();
    symlink("a.wav", path("symbolic.wav")).unwrap();
    symlink(".", path("loop")).unwrap();
    let once = starts(folder.path(), &["a.wav"]);
    assert!(once > 1);
    for again in [
        "a.wav",
        "./a.wav",
        "copy.wav",
        "link.wav",
        "symbolic.wav",
        "loop/a.wav",
    ] {
        assert_eq!(
            starts(folder.path(), &["a.wav", again, "a.wav"]),
            once,
            "{again}"
        );
    }
    let both = once + starts(folder.path(), &["b.wav"]);
    assert_eq!(starts(folder.path(), &["a.wav", "b.wav", "copy.wav"]), both);
    let said = said(
        folder.path(),
        &["measure", "a.wav", "copy.wav", "--job", "job.toml"],
        0,
    );
    assert!(
        said.contains("copy.wav holds the same as a.wav: counted once"),
        "{said}"
    );
    // A recording of a job counts by its row.
    std::fs::rename(path("copy.wav"), path("late.wav")).unwrap();
    assert_eq!(starts(folder.path(), &[".", "late.wav"]), once);
}

#[test]
fn screening_a_recording_twice_is_screening_it_once() {
    let folder = job("file,prep\na.wav,A\n");
    let screened = |inputs: &[&str]| {
        let args = [
            &["screen"],
            inputs,
            &["--job", "job.toml", "--json", "-", "--anew"],
        ]
        .concat();
        let output = tipstrike(folder.path(), &args);
        let found: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
        (found["starts"].as_u64(), found["rough"].as_u64())
    };
    let once = screened(&["a.wav"]);
    assert!(once.0 > Some(1));
    assert_eq!(screened(&["a.wav", "a.wav", "./a.wav"]), once);
}

#[test]
fn one_recording_struck_as_two_preps_is_refused_with_both_rows() {
    for (rows, link) in [
        ("a.wav,A\nsame.wav,B\n", "copy"),
        ("a.wav,A\nsame.wav,B\n", "hard"),
        ("a.wav,A\nsame.wav,B\n", "symbolic"),
        ("a.wav,A\nloop/a.wav,B\n", "loop"),
        ("a.wav,A\n./a.wav,B\n", "spelled"),
    ] {
        let folder = job(&format!("file,prep\n{rows}"));
        let path = |name: &str| folder.path().join(name);
        match link {
            "copy" => drop(std::fs::copy(path("a.wav"), path("same.wav")).unwrap()),
            "hard" => std::fs::hard_link(path("a.wav"), path("same.wav")).unwrap(),
            "symbolic" => symlink("a.wav", path("same.wav")).unwrap(),
            _ => symlink(".", path("loop")).unwrap(),
        }
        for verb in ["measure", "compare", "screen"] {
            let said = said(folder.path(), &[verb, "."], 2);
            assert!(
                said.contains("row 3, column file") && said.contains("row 2"),
                "{link}: {said}"
            );
        }
    }
}

#[test]
fn copies_share_the_starts_of_a_sheet_as_one_recording() {
    let folder = job("file,prep,starts\na.wav,A,2\ncopy.wav,A,\n");
    std::fs::copy(folder.path().join("a.wav"), folder.path().join("copy.wav")).unwrap();
    let table = printed(folder.path(), &["measure", ".", "--csv", "-"]);
    let of = |name: &str| table.lines().filter(|line| line.starts_with(name)).count();
    assert_eq!(of("a.wav,1,"), 2);
    assert_eq!(
        of("a.wav,") + of("copy.wav,"),
        starts(folder.path(), &["a.wav"])
    );
}

#[test]
fn different_recordings_of_one_name_are_kept_apart_by_their_folders() {
    let folders = [job("file,prep\na.wav,A\n"), job("file,prep\na.wav,A\n")];
    // Another recording, whose starts come at the same instants: only the last bit of a sample at rest differs.
    let other = folders[1].path().join("a.wav");
    let mut bytes = std::fs::read(&other).unwrap();
    bytes[60] ^= 1;
    std::fs::write(&other, bytes).unwrap();
    let paths = folders.each_ref().map(|f| f.path().display().to_string());
    let args = ["measure", &paths[0], &paths[1], "--csv", "-"];
    let table = printed(folders[0].path(), &args);
    for path in &paths {
        let name = format!("{path}/a.wav,");
        assert_eq!(
            table.lines().filter(|line| line.starts_with(&name)).count() * 2,
            table.lines().count() - 1
        );
    }
    // The same job again, or a copy of it, is refused.
    std::fs::copy(folders[0].path().join("a.wav"), &other).unwrap();
    let said = said(folders[0].path(), &["measure", &paths[0], &paths[1]], 2);
    assert!(
        said.contains("a.wav: holds the same recording as"),
        "{said}"
    );
    let loose = [&paths[0], &paths[1]].map(|path| format!("{path}/a.wav"));
    std::fs::copy(sample(B), &other).unwrap();
    let table = printed(
        folders[0].path(),
        &[
            "measure", &loose[0], &loose[1], "--job", "job.toml", "--csv", "-",
        ],
    );
    assert!(
        loose
            .iter()
            .all(|name| table.contains(&format!("\n{name},"))),
        "{table}"
    );
}
