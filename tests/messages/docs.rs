//! docs/messages.md against the program: a section for every kind of error, and no message that nobody says.

use std::path::Path;

use tipstrike::error::ErrorKind;

use super::page::{SECTIONS, fixed_parts};

#[test]
fn every_kind_of_error_has_its_section_in_the_order_of_the_enum() {
    let sections = SECTIONS.iter().filter(|section| section.of_a_kind);
    let told: Vec<&str> = sections.map(|section| section.heading.as_str()).collect();
    let mut ids: Vec<&str> = ErrorKind::ALL.iter().map(|kind| kind.id()).collect();
    assert_eq!(told, ids);
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), ErrorKind::ALL.len(), "two kinds share an id");
}

#[test]
fn every_section_quotes_a_message_but_those_of_no_kind_in_particular() {
    let general = ["several"];
    let silent = SECTIONS
        .iter()
        .filter(|section| section.of_a_kind && section.messages.is_empty())
        .map(|section| section.heading.as_str());
    assert_eq!(silent.collect::<Vec<_>>(), general);
}

/// All sources as one text, strings as they are printed.
fn sources(folder: &Path) -> String {
    let mut all = String::new();
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            all += &sources(&path);
        } else if path.extension().is_some_and(|ending| ending == "rs") {
            let text = std::fs::read_to_string(&path).unwrap();
            let mut lines = text.split("\\\n");
            all += lines.next().unwrap();
            lines.for_each(|line| all += line.trim_start());
        }
    }
    all.replace("\\\"", "\"")
        .replace("{{", "{")
        .replace("}}", "}")
}

#[test]
fn every_message_in_the_docs_is_in_the_sources() {
    let sources = sources(&Path::new(env!("CARGO_MANIFEST_DIR")).join("src"));
    let messages = SECTIONS.iter().flat_map(|section| &section.messages);
    let stale: Vec<String> = messages
        .flat_map(|message| {
            // Place, problem and way out come from different strings.
            let phrases = fixed_parts(message).into_iter();
            let phrases = phrases.flat_map(|part| part.split(". ").flat_map(|p| p.split(": ")));
            phrases
                .map(|phrase| phrase.trim_matches(|c: char| !c.is_alphanumeric()))
                .filter(|phrase| phrase.split_whitespace().count() > 1)
                .filter(|phrase| !sources.contains(phrase))
                .map(move |phrase| format!("\"{phrase}\" of \"{message}\" is not in the sources"))
                .collect::<Vec<_>>()
        })
        .collect();
    assert!(stale.is_empty(), "{}", stale.join("\n"));
}
