//! The house itself: DEVELOPERS.md knows every file, and files refer to each other one way.

mod arrows;
mod source;

use std::path::{Path, PathBuf};

fn files(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder)
        .unwrap()
        .map(|e| e.unwrap().path())
    {
        if entry.is_dir() {
            files(&entry, found);
        } else if entry.extension().is_some_and(|e| e == "rs") {
            found.push(entry);
        }
    }
}

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

#[test]
fn developers_md_has_a_line_for_every_source_file() {
    let text = std::fs::read_to_string(root().join("DEVELOPERS.md")).unwrap();
    let mut found = Vec::new();
    files(&root().join("src"), &mut found);
    let names = found
        .iter()
        .map(|f| f.strip_prefix(root()).unwrap().display().to_string());
    let missing: Vec<String> = names
        .filter(|name| !text.contains(&format!("`{name}`")))
        .collect();
    assert!(
        missing.is_empty(),
        "DEVELOPERS.md has no line for {}",
        missing.join(", ")
    );
}

#[test]
fn developers_md_names_no_file_that_is_gone() {
    let text = std::fs::read_to_string(root().join("DEVELOPERS.md")).unwrap();
    for name in text
        .split('`')
        .filter(|w| w.starts_with("src/") && w.ends_with(".rs"))
    {
        assert!(
            root().join(name).is_file(),
            "DEVELOPERS.md names {name}, which is gone"
        );
    }
}

#[test]
fn no_source_file_is_too_long_to_see_whole() {
    let mut found = Vec::new();
    files(&root().join("src"), &mut found);
    files(&root().join("tests"), &mut found);
    for file in found
        .iter()
        .filter(|f| !f.components().any(|c| c.as_os_str() == "target"))
    {
        let lines = std::fs::read_to_string(file).unwrap().lines().count();
        assert!(lines <= 400, "{} has {lines} lines", file.display());
    }
}

/// A function of formatted source: its first line, and how many it has.
fn functions(text: &str) -> Vec<(&str, usize)> {
    let lines: Vec<&str> = text.lines().collect();
    let begins = |line: &str| {
        let line = line.trim_start();
        // Neither a comment, nor a line of a macro, nor all on one line.
        let block = line.ends_with(['{', '(', '<', ',']) && !line.contains('$');
        block
            && !line.starts_with("//")
            && (line.starts_with("fn ") || line.contains("pub") && line.contains(" fn "))
    };
    let length = |first: usize| {
        let indent = lines[first].len() - lines[first].trim_start().len();
        let last = format!("{}}}", " ".repeat(indent));
        1 + lines[first..]
            .iter()
            .position(|line| *line == last)
            .unwrap_or(0)
    };
    (0..lines.len())
        .filter(|k| begins(lines[*k]))
        .map(|k| (lines[k], length(k)))
        .collect()
}

#[test]
fn no_function_is_too_long_to_see_whole() {
    let mut found = Vec::new();
    files(&root().join("src"), &mut found);
    files(&root().join("tests"), &mut found);
    let (mut seen, mut longest) = (0, 0);
    for file in &found {
        // A test may be a list of cases.
        let is_test = file.starts_with(root().join("tests")) || file.ends_with("tests.rs");
        let most = if is_test { 110 } else { 80 };
        for (first, lines) in functions(&std::fs::read_to_string(file).unwrap()) {
            assert!(lines <= most, "{}: {lines} lines: {first}", file.display());
            (seen, longest) = (seen + 1, lines.max(longest));
        }
    }
    assert!(
        seen > 2000 && longest > 40,
        "{seen} functions, up to {longest} lines"
    );
}

#[test]
fn every_flag_has_its_sentence_in_the_docs() {
    let text = std::fs::read_to_string(root().join("docs/flags.md")).unwrap();
    for flag in tipstrike::flag::Flag::ALL {
        let line = format!("| `{}` | {} |", flag.name(), flag.sentence());
        assert!(text.contains(&line), "docs/flags.md lacks: {line}");
    }
}

#[test]
fn every_measure_is_defined_in_the_docs() {
    let text = std::fs::read_to_string(root().join("docs/measures.md")).unwrap();
    for measure in tipstrike::measure::Measure::ALL {
        let name = format!("`{}`", measure.name());
        assert!(text.contains(&name), "docs/measures.md lacks {name}");
    }
}
