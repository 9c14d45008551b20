//! What the tool says of a wrong call or input: docs/messages.md holds every message, and what it says is what is meant.

mod calls;
mod docs;
mod jobs;
mod recordings;
mod starts;

use std::process::Command;

/// Fails with a line for each case that got other words.
fn all_said(wrong: Vec<String>) {
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// What is wrong where a message lacks what it should say.
fn lacking(case: &str, said: &str, message: &str) -> Option<String> {
    (!said.contains(message)).then(|| format!("{case}: no \"{message}\" in: {said}"))
}

/// What the tool says in a folder with these files.
fn said(files: &[(&str, &str)], args: &[&str]) -> String {
    let folder = tempfile::tempdir().unwrap();
    for (name, text) in files {
        let path = folder.path().join(name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, text).unwrap();
    }
    let output = Command::new(env!("CARGO_BIN_EXE_tipstrike"))
        .args(args)
        .current_dir(folder.path())
        .output()
        .unwrap();
    let said = [output.stdout, output.stderr].concat();
    // What is wrapped for a terminal is one sentence all the same.
    let words = String::from_utf8_lossy(&said);
    words.split_whitespace().collect::<Vec<_>>().join(" ")
}
