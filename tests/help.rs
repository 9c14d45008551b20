//! Every verb's help holds an example, every example runs as it stands, and docs/verbs.md has every verb (tests/readme.rs holds
//! it against the program).

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

const VERBS: [&str; 13] = [
    "begin", "aside", "inspect", "prep", "measure", "report", "demo", "compare", "screen", "plan",
    "strike", "rehearse", "manual",
];

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn help(args: &[&str]) -> String {
    let mut command = Command::new(env!("CARGO_BIN_EXE_tipstrike"));
    let output = command.args(args).arg("--help").output().unwrap();
    assert!(output.status.success(), "{args:?}");
    String::from_utf8(output.stdout).unwrap()
}

/// Lines of a verb's help that call the tool.
fn examples(verb: &str) -> Vec<String> {
    let text = help(&[verb]);
    let lines = text.lines().map(str::trim);
    let calls = lines.filter(|line| line.starts_with("tipstrike "));
    calls.map(str::to_owned).collect()
}

#[test]
fn the_list_of_verbs_is_whole_and_each_has_an_example() {
    let text = help(&[]);
    let commands = text
        .split("Commands:")
        .nth(1)
        .unwrap()
        .split("Options:")
        .next()
        .unwrap();
    let indented = commands
        .lines()
        .filter(|line| line.starts_with("  ") && !line.starts_with("   "));
    let names: BTreeSet<&str> = indented
        .filter_map(|line| line.split_whitespace().next())
        .collect();
    let known: BTreeSet<&str> = VERBS.into_iter().chain(["help"]).collect();
    assert_eq!(names, known);
    for verb in VERBS {
        assert!(
            !examples(verb).is_empty(),
            "the help of {verb} has no example"
        );
    }
}

#[test]
fn the_page_of_verbs_has_every_verb() {
    let page = std::fs::read_to_string(root().join("docs/verbs.md")).unwrap();
    for verb in VERBS {
        let call = format!("\n$ tipstrike {verb} --help\n");
        assert!(page.contains(&call), "docs/verbs.md lacks {verb}");
    }
}

#[cfg(unix)]
mod run {
    //! The examples, in a folder that has the files they name.

    use super::*;

    /// Copies the main job of the samples with two operators and two cells, and only some of its recordings.
    fn job(folder: &Path, recordings: std::ops::Range<usize>) {
        std::fs::create_dir_all(folder).unwrap();
        let samples = root().join("samples");
        let sheet = std::fs::read_to_string(samples.join("runs.csv")).unwrap();
        let mut lines = sheet.lines();
        let mut shown = format!("{},cell\n", lines.next().unwrap());
        for (k, line) in lines.enumerate().filter(|(k, _)| recordings.contains(k)) {
            let line = line.replace("bench 2", &format!("bench {}", k % 2));
            shown += &format!("{line},{}\n", k / 2);
            copy(&samples.join(line.split(',').next().unwrap()), folder);
        }
        std::fs::write(folder.join("runs.csv"), shown).unwrap();
        copy(&samples.join("job.toml"), folder);
    }

    fn copy(file: &Path, folder: &Path) {
        std::fs::copy(file, folder.join(file.file_name().unwrap())).unwrap();
    }

    /// Recordings, jobs and tables under the names that the examples give them.
    fn stage() -> tempfile::TempDir {
        let stage = tempfile::tempdir().unwrap();
        let at = |name: &str| stage.path().join(name);
        for (name, recordings) in [
            ("", 0..4),
            ("samples", 0..4),
            ("kettle-lids", 0..4),
            ("monday", 0..2),
            ("tuesday", 2..4),
        ] {
            job(&at(name), recordings);
        }
        std::fs::create_dir(at("lastnight")).unwrap();
        let recording = at("lid-1-A1.wav");
        copy(&recording, &at("lastnight"));
        for name in ["night-shift.wav", "shift.wav", "lid-17.wav"] {
            std::fs::copy(&recording, at(name)).unwrap();
        }
        std::fs::write(at("load-bank.wav"), load_bank()).unwrap();
        let made = shell(stage.path(), "tipstrike measure samples --csv starts.csv");
        assert!(made.status.success(), "{made:?}");
        std::fs::copy(at("starts.csv"), at("good.csv")).unwrap();
        stage
    }

    /// A folder with recordings and no job yet, whatever an example before made of it.
    fn begin_anew(stage: &Path) {
        let folder = stage.join("my-lids");
        let _ = std::fs::remove_dir_all(&folder);
        std::fs::create_dir(&folder).unwrap();
        copy(&stage.join("lid-1-A1.wav"), &folder);
    }

    /// 10 s of two channels: no current, then some from 4 s on.
    fn load_bank() -> Vec<u8> {
        let mut bytes = Vec::from(*b"RIFF\xff\xff\xff\xffWAVEfmt \x10\0\0\0\x01\0\x02\0");
        bytes.extend(1000_u32.to_le_bytes());
        bytes.extend(4000_u32.to_le_bytes());
        bytes.extend(b"\x04\0\x10\0data\xff\xff\xff\xff");
        for k in 0..10_000_i16 {
            let amps = if k < 4000 { 0 } else { 9000 };
            bytes.extend([amps + k % 5, k % 3].map(i16::to_le_bytes).concat());
        }
        bytes
    }

    fn shell(folder: &Path, line: &str) -> Output {
        let tool = PathBuf::from(env!("CARGO_BIN_EXE_tipstrike"));
        let path = std::env::var("PATH").unwrap();
        Command::new("sh")
            .args(["-c", line])
            .current_dir(folder)
            .env(
                "PATH",
                format!("{}:{path}", tool.parent().unwrap().display()),
            )
            .env("XDG_CACHE_HOME", folder.join("kept"))
            .output()
            .unwrap()
    }

    #[test]
    fn every_example_runs_as_it_stands() {
        let stage = stage();
        // What plans a sheet writes over none, so it comes last.
        let others = VERBS.iter().filter(|verb| **verb != "plan");
        for verb in others.chain(&["plan"]) {
            if *verb == "plan" {
                std::fs::remove_file(stage.path().join("runs.csv")).unwrap();
            }
            // Following ends with Ctrl-C alone: tests/live.rs has it. The classes take 20 s to draw: tests/accuracy draws
            // them too, so here they are left to the long form; so is a rehearsal of 200 starts, which tests/rehearse.rs has.
            let long = crate::long_form::long();
            let slow = |line: &str| {
                ["--classes", "rehearsal.json"]
                    .iter()
                    .any(|w| line.contains(w))
            };
            let calls = examples(verb).into_iter();
            let here = |line: &String| !line.contains("--follow") && (long || !slow(line));
            for line in calls.filter(here) {
                begin_anew(stage.path());
                let output = shell(stage.path(), &line);
                let said = String::from_utf8_lossy(&output.stderr);
                assert!(
                    output.status.code().is_some_and(|code| code <= 1),
                    "{line}: {said}"
                );
            }
        }
    }
}
