//! docs/messages.md against the sources: every message stands there, and nothing there is stale.

use std::path::{Path, PathBuf};

/// Parts of the sources that make answers, drawings and data: only what they hand to an error or a caution is a message.
const ANSWERS: &[&str] = &[
    "demo/",
    "flag.rs",
    "fit/",
    "job/builtin.rs",
    "job/logger.rs",
    "measure.rs",
    "recording/inspection.rs",
    "recording/roles.rs",
    "report/",
    "score/after.rs",
    "score/explain.rs",
    "start/doubt.rs",
    "stats/",
    "study/plan.rs",
    "study/plan/",
    "study/screen/",
    "study/sequential.rs",
    "study/wear.rs",
    "study/words.rs",
];

/// Calls and bindings whose text becomes a message.
const TOLD: &[&str] = &[
    "Error::input",
    "Error::io",
    "Error::request",
    "hint",
    "say",
    "problem",
    "way_out",
    "Finding",
    "warnings.push",
    "cautions.push",
    "expecting",
];

/// Calls and attributes whose text nobody is told.
const UNTOLD: &[&str] = &[
    "expect",
    "assert!",
    "assert_eq!",
    "never",
    "env!",
    "starts_with",
    "#",
];

/// A string of the sources, with the calls and bindings that it stands in.
struct Literal {
    text: String,
    line: usize,
    within: Vec<String>,
}

impl Literal {
    fn is_in(&self, names: &[&str]) -> bool {
        let mut within = self.within.iter();
        within.any(|found| names.iter().any(|name| found.ends_with(name)))
    }
}

/// A bracket that is open, the name before it, and what is bound in it: `name(… binding = …`.
#[derive(Default)]
struct Frame {
    name: String,
    binding: String,
}

/// The strings of a source text before its tests.
fn literals(source: &str) -> Vec<Literal> {
    let source = source.split("#[cfg(test)]\n").next().unwrap();
    let (mut found, mut frames, mut at) = (Vec::new(), vec![Frame::default()], 0);
    while let Some(next) = source[at..].chars().next() {
        let rest = &source[at..];
        let step = next.len_utf8();
        let top = frames.last_mut().expect("brackets are balanced");
        match next {
            '/' if rest.starts_with("//") => at += rest.find('\n').unwrap_or(rest.len()),
            '\'' => at += character(rest),
            '"' => {
                let end = step + closing(&rest[step..]);
                found.push(Literal {
                    text: unescaped(&rest[step..end]),
                    line: 1 + source[..at].matches('\n').count(),
                    within: (frames.iter())
                        .flat_map(|f| [f.name.clone(), f.binding.clone()])
                        .collect(),
                });
                at += end + step;
            }
            '(' | '[' | '{' => {
                let name = last_name(&source[..at]);
                frames.push(Frame {
                    name,
                    binding: String::new(),
                });
                at += step;
            }
            ')' | ']' | '}' => {
                frames.pop();
                at += step;
            }
            ';' | ',' => {
                top.binding.clear();
                at += step;
            }
            '=' | ':'
                if !rest.starts_with("=>")
                    && !rest.starts_with("==")
                    && !rest.starts_with("::") =>
            {
                top.binding = last_name(&source[..at]);
                at += step;
            }
            ':' => at += 2 * step,
            _ => at += step,
        }
    }
    found
}

/// Length of a character literal, or of the tick of a lifetime.
fn character(rest: &str) -> usize {
    let mut inner = rest.char_indices().skip(1);
    match (inner.next(), inner.next()) {
        (Some((_, '\\')), Some((behind, _))) => {
            let behind = behind + 1;
            behind + rest[behind..].find('\'').unwrap_or(0) + 1
        }
        (Some(_), Some((behind, '\''))) => behind + 1,
        _ => 1,
    }
}

/// Bytes before the quote that ends a string.
fn closing(rest: &str) -> usize {
    let mut escaped = false;
    let end = rest.char_indices().find(|(_, c)| {
        let ends = *c == '"' && !escaped;
        escaped = *c == '\\' && !escaped;
        ends
    });
    end.expect("every string ends").0
}

/// The text that a string in the sources stands for, as far as messages need it.
fn unescaped(text: &str) -> String {
    let mut lines = text.split("\\\n");
    let first = lines.next().unwrap().to_owned();
    let joined = lines.fold(first, |all, line| all + line.trim_start());
    joined.replace("\\\"", "\"").replace("\\n", "\n")
}

/// Name of the function, macro, method or variable that a text ends with: `input` paths whole, methods without their object.
fn last_name(text: &str) -> String {
    let text = text.trim_end();
    let begin = text
        .rfind(|c: char| !(c.is_alphanumeric() || "_:!#.".contains(c)))
        .map_or(0, |k| k + text[k..].chars().next().unwrap().len_utf8());
    text[begin..].trim_start_matches('.').to_owned()
}

/// A message with everything that varies as `_`.
fn pattern(text: &str) -> String {
    let mut made = String::new();
    let text = text.replace("{{", "{").replace("}}", "}");
    let mut rest = text.as_str();
    while let Some((before, behind)) = rest.split_once('{') {
        let (_, after) = behind.split_once('}').unwrap_or(("", ""));
        made += before;
        made.push('_');
        rest = after;
    }
    made + rest
}

/// A pattern from its first fixed word to its last.
fn fixed(pattern: &str) -> &str {
    pattern.trim_matches(|c: char| c == '_' || c.is_whitespace())
}

/// Words of a pattern that are no names such as `t_lit_s`.
fn words(pattern: &str) -> usize {
    let words = pattern.split_whitespace();
    words
        .filter(|word| word.contains(char::is_alphabetic))
        .count()
}

fn sources(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        if path.is_dir() && name != "tests" {
            sources(&path, found);
        } else if name.ends_with(".rs") && !name.ends_with("tests.rs") {
            found.push(path);
        }
    }
    found.sort();
}

/// Every string of the sources with where it stands, its pattern, and whether it is a message.
fn patterns() -> Vec<(String, String, bool)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut files = Vec::new();
    sources(&root.join("src"), &mut files);
    let mut found = Vec::new();
    for file in files {
        let name = file.strip_prefix(root.join("src")).unwrap();
        let name = name.to_string_lossy().replace('\\', "/");
        let answers = ANSWERS.iter().any(|part| name.starts_with(part));
        for literal in literals(&std::fs::read_to_string(&file).unwrap()) {
            let pattern = pattern(&literal.text);
            let told = literal.is_in(TOLD) && words(&pattern) > 1;
            let prose = !answers && words(&pattern) > 2;
            let message = told || (prose && !literal.is_in(UNTOLD));
            let place = format!("src/{name}, line {}", literal.line);
            found.push((place, fixed(&pattern).to_owned(), message));
        }
    }
    found
}

fn page() -> String {
    let page = Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/messages.md");
    std::fs::read_to_string(page).unwrap()
}

#[test]
fn every_message_stands_in_the_docs() {
    let page: Vec<String> = page().lines().map(pattern).collect();
    let missing: Vec<String> = patterns()
        .into_iter()
        .filter(|(_, pattern, message)| *message && !page.iter().any(|line| line.contains(pattern)))
        .map(|(place, pattern, _)| format!("docs/messages.md lacks \"{pattern}\" of {place}"))
        .collect();
    assert!(missing.is_empty(), "{}", missing.join("\n"));
}

#[test]
fn every_message_in_the_docs_is_one_of_the_program() {
    let mut known: Vec<String> = patterns()
        .into_iter()
        .map(|(_, pattern, _)| pattern)
        .collect();
    // A word alone would be found in nearly any message.
    known.retain(|pattern| pattern.contains([' ', '-', '[']));
    known.sort_by_key(|pattern| std::cmp::Reverse(pattern.len()));
    let page = page();
    let listed = page
        .lines()
        .filter_map(|line| line.strip_prefix("- `")?.split('`').next());
    let stale: Vec<String> = listed
        .filter_map(|message| {
            let left = (known.iter()).fold(pattern(message), |left, known| left.replace(known, ""));
            left.contains(char::is_alphabetic).then(|| {
                let left = left.trim();
                format!("docs/messages.md has \"{message}\", but no source says \"{left}\"")
            })
        })
        .collect();
    assert!(stale.is_empty(), "{}", stale.join("\n"));
}
