//! Faults of the TOML reader, in words a welder can act on.

use serde::de::DeserializeOwned;
use toml::Table;

use crate::error::{Error, ErrorKind, Place, Result};
use crate::job::nearest::nearest;
use crate::job::section::Section;

/// Converts a table to a type; errors name the key at fault.
pub(super) fn typed<T: DeserializeOwned>(table: Table, at: &Section) -> Result<T> {
    serde_path_to_error::deserialize(table).map_err(|e| {
        let path = e.path().to_string();
        let mut keys: Vec<&str> = path.split('.').filter(|key| !key.is_empty()).collect();
        let unknown = e.inner().message().strip_prefix("unknown field `");
        let word = unknown.and_then(|rest| rest.split('`').next());
        if word != keys.last().copied() {
            keys.extend(word);
        }
        let place = match keys.as_slice() {
            [] => Place::from(at),
            keys => at.key(&keys.join(".")),
        };
        toml_error(&place, e.inner())
    })
}

/// Turns a fault of the TOML reader into an error, with the nearest known key for an unknown word.
pub(super) fn toml_error(at: &Place, error: &toml::de::Error) -> Error {
    let message = error.message();
    // serde says: unknown field `observ_s`, expected one of `observe_s`, `hold_ms`
    let words: Vec<&str> = message.split('`').skip(1).step_by(2).collect();
    let unknown = ["unknown field", "unknown variant"]
        .iter()
        .any(|start| message.starts_with(start));
    match words.split_first().filter(|_| unknown) {
        Some((word, known)) => {
            let way_out = match nearest(word, known.iter().copied()) {
                Some(like) => format!("Did you mean '{like}'?"),
                None => format!("Use one of {}", known.join(", ")),
            };
            Error::new(ErrorKind::UnknownKey, at, format!("'{word}' is not known")).hint(way_out)
        }
        None => {
            let (kind, problem) = in_plain_words(message.trim());
            Error::new(kind, at, problem)
        }
    }
}

/// The kind of a fault and what is wrong, without the type names of the TOML reader.
fn in_plain_words(message: &str) -> (ErrorKind, String) {
    if let Some(key) = message.strip_prefix("missing field ") {
        let problem = format!("{} is missing", key.replace('`', "'"));
        return (ErrorKind::MissingKey, problem);
    }
    if message.starts_with("data did not match any variant") {
        let problem = "these keys do not go together; docs/job.md shows the forms";
        return (ErrorKind::ConflictingKeys, problem.to_owned());
    }
    let found = ["invalid type: ", "invalid value: ", "invalid length "]
        .iter()
        .find_map(|start| message.strip_prefix(start));
    match found.and_then(|rest| rest.split_once(", expected ")) {
        Some((found, expected)) => {
            let (found, expected) = (kind_found(found), kind_expected(expected));
            let problem = format!("found {found}, expected {expected}");
            (ErrorKind::WrongType, problem)
        }
        None => (ErrorKind::InvalidValue, message.to_owned()),
    }
}

fn kind_found(found: &str) -> String {
    let words = [
        ("string ", "the text "),
        ("integer ", "the number "),
        ("floating point ", "the number "),
        ("boolean ", ""),
    ];
    let told = words
        .iter()
        .find_map(|(kind, word)| Some(format!("{word}{}", found.strip_prefix(kind)?)));
    match found {
        "map" => "a table".to_owned(),
        "sequence" => "a list".to_owned(),
        _ => told.unwrap_or_else(|| found.to_owned()).replace('`', ""),
    }
}

fn kind_expected(expected: &str) -> String {
    let word = match expected {
        "a string" => "text in quotes",
        "f64" | "f32" => "a number",
        "u8" | "u16" | "u32" | "u64" | "usize" => "a whole number from 0",
        "i8" | "i16" | "i32" | "i64" | "isize" => "a whole number",
        "a boolean" => "true or false",
        "a sequence" => "a list in [ ]",
        table if table == "a map" || table.starts_with("struct ") => {
            "a table such as { key = value }"
        }
        other => other,
    };
    word.to_owned()
}
