//! What the tool says of a wrong call or input, by id and words, and docs/messages.md, which explains it.

mod calls;
mod docs;
mod jobs;
mod page;
mod recordings;
mod sheets;
mod starts;
mod tables;

use std::process::Command;

/// Fails with a line for each case that got other words.
fn all_said(wrong: Vec<String>) {
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// What was said of a wrong call or input.
struct Said {
    /// Id of the error, where a call of the library gave it.
    id: Option<&'static str>,
    words: String,
}

impl<T> From<tipstrike::Result<T>> for Said {
    fn from(result: tipstrike::Result<T>) -> Said {
        match result {
            Ok(_) => Said {
                id: None,
                words: "nothing".to_owned(),
            },
            Err(error) => Said {
                id: Some(error.parts().first().unwrap_or(&error).kind().id()),
                words: error.to_string(),
            },
        }
    }
}

/// Tells what is wrong unless the message was said, with this id, and docs/messages.md explains it in the section
/// of this heading. Messages without a heading are answers.
fn lacking(case: &str, said: &Said, heading: &str, message: &str) -> Option<String> {
    let words = &said.words;
    if !words.contains(message) {
        return Some(format!("{case}: no \"{message}\" in: {words}"));
    }
    if let Some(id) = said.id.filter(|id| *id != heading) {
        return Some(format!("{case}: the id is {id}, not {heading}: {words}"));
    }
    let explained = heading.is_empty() || page::explains(heading, words);
    (!explained).then(|| format!("{case}: section {heading} does not quote: {words}"))
}

/// What the tool says in a folder with these files.
fn said(files: &[(&str, &str)], args: &[&str]) -> Said {
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
    let words: Vec<&str> = words.split_whitespace().collect();
    Said {
        id: None,
        words: words.join(" "),
    }
}
