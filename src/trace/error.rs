//! The error type: its kind, the place, what was found and expected, and the way out.

use std::collections::BTreeMap;
use std::fmt;
use std::io;
use std::path::Path;

use crate::digits::{given, shortened};
pub use crate::error_kind::ErrorKind;

/// Result of every fallible function of the crate.
pub type Result<T, E = Error> = std::result::Result<T, E>;

/// Where the error lies; parts that are not known are `None`.
#[derive(Debug, Clone, PartialEq, Default)]
#[non_exhaustive]
pub struct Place {
    /// File, folder, section of the job file, or another name of the input.
    pub file: Option<String>,
    /// Line of a text file, from 1.
    pub line: Option<u64>,
    /// Row of a run sheet, from 1, the header row included.
    pub row: Option<u64>,
    /// Section of a job file, such as `logger`.
    pub section: Option<String>,
    /// Column of a table, or key of a section.
    pub column: Option<String>,
    /// Time from the first sample of the recording, s.
    pub second: Option<f64>,
    /// Parameter of the call that is at fault, by its name in the library.
    pub parameter: Option<&'static str>,
    /// Value given for the parameter.
    pub value: Option<String>,
}

impl Place {
    /// A whole file.
    pub fn file(path: &Path) -> Place {
        Place::from(path.display().to_string())
    }

    /// A parameter of the call.
    pub fn parameter(name: &'static str) -> Place {
        Place {
            parameter: Some(name),
            ..Place::default()
        }
    }

    /// Adds the line of a text file, from 1.
    #[must_use]
    pub fn line(mut self, line: u64) -> Place {
        self.line = Some(line);
        self
    }

    /// Adds the row of a run sheet, from 1.
    #[must_use]
    pub fn row(mut self, row: u64) -> Place {
        self.row = Some(row);
        self
    }

    /// Adds the column of a table or the key of a section.
    #[must_use]
    pub fn column(mut self, column: impl Into<String>) -> Place {
        self.column = Some(one_line(&column.into()));
        self
    }

    /// Adds the time within a recording, s.
    #[must_use]
    pub fn second(mut self, second: f64) -> Place {
        self.second = Some(second);
        self
    }

    /// Adds the value given for the parameter.
    #[must_use]
    pub fn value(mut self, value: impl fmt::Display) -> Place {
        self.value = Some(one_line(&shortened(&value.to_string())));
        self
    }
}

impl From<String> for Place {
    fn from(text: String) -> Place {
        Place {
            file: Some(one_line(&text)),
            ..Place::default()
        }
    }
}

impl From<&Place> for Place {
    fn from(place: &Place) -> Place {
        place.clone()
    }
}

impl From<&String> for Place {
    fn from(text: &String) -> Place {
        Place::from(text.clone())
    }
}

impl From<&str> for Place {
    fn from(text: &str) -> Place {
        Place::from(text.to_owned())
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let value = self.value.as_deref().map(|value| format!(" {value}"));
        let parts = [
            self.file.clone(),
            self.line.map(|line| format!("line {line}")),
            self.row.map(|row| format!("row {row}")),
            self.section.as_ref().map(|section| format!("[{section}]")),
            self.column.as_ref().map(|name| match self.section {
                Some(_) => name.clone(),
                None => format!("column {name}"),
            }),
            self.second.map(|second| format!("at {} s", given(second))),
            self.parameter
                .map(|name| format!("{name}{}", value.unwrap_or_default())),
        ];
        let parts: Vec<String> = parts.into_iter().flatten().collect();
        f.write_str(&parts.join(", "))
    }
}

/// What went wrong, in words a welder can act on.
#[derive(Debug)]
pub struct Error(Box<Parts>);

/// What an error consists of, behind one pointer so that results stay small.
#[derive(Debug)]
struct Parts {
    kind: ErrorKind,
    place: Place,
    problem: String,
    way_out: Option<String>,
    cause: Option<io::Error>,
    parts: Vec<Error>,
}

impl Error {
    /// An error of a kind at a place: what was found and what was expected, one sentence without the final stop.
    ///
    /// Add the way out with [`Error::hint`].
    pub fn new(kind: ErrorKind, at: impl Into<Place>, problem: impl Into<String>) -> Error {
        Error(Box::new(Parts {
            kind,
            place: at.into(),
            problem: one_line(&shortened(&problem.into())),
            way_out: None,
            cause: None,
            parts: Vec::new(),
        }))
    }

    /// The operating system refused an action, such as "read" or "write".
    pub fn io(path: &Path, doing: &'static str, cause: io::Error) -> Error {
        let problem = format!("cannot {doing}");
        let mut error = Error::new(ErrorKind::System, Place::file(path), problem);
        error.0.cause = Some(cause);
        error
    }

    /// The file changed while it was read.
    pub fn changed(at: impl Into<Place>) -> Error {
        let problem = "the file changed while it was read";
        Error::new(ErrorKind::FileChanged, at, problem).hint("Measure it when it is done")
    }

    /// There is not enough memory for an input.
    pub fn memory(at: impl Into<Place>) -> Error {
        let problem = "there is not enough memory to hold it";
        Error::new(ErrorKind::FileTooLarge, at, problem)
            .hint("Close other programs, or split the file")
    }

    /// Bundles several faults of one input.
    pub fn several(parts: Vec<Error>) -> Error {
        let mut error = Error::new(ErrorKind::Several, Place::default(), "");
        error.0.parts = parts;
        error
    }

    /// Adds the way out.
    #[must_use]
    pub fn hint(mut self, way_out: impl Into<String>) -> Error {
        self.0.way_out = Some(one_line(&shortened(&way_out.into())));
        self
    }

    /// Kind of the error.
    pub fn kind(&self) -> ErrorKind {
        self.0.kind
    }

    /// Where the error lies.
    pub fn place(&self) -> &Place {
        &self.0.place
    }

    /// What was found and what was expected, one sentence without the final stop.
    pub fn problem(&self) -> &str {
        &self.0.problem
    }

    /// What to do about it, if known.
    pub fn way_out(&self) -> Option<&str> {
        self.0.way_out.as_deref()
    }

    /// The faults this error bundles; empty unless its kind is [`ErrorKind::Several`].
    pub fn parts(&self) -> &[Error] {
        &self.0.parts
    }

    /// The bundled faults that are worth telling one by one, and a line that counts the others by kind and column.
    pub fn first_parts(&self) -> (&[Error], Option<String>) {
        let (told, rest) = self.0.parts.split_at(self.0.parts.len().min(TOLD));
        let file = self
            .0
            .parts
            .first()
            .and_then(|error| error.place().file.clone());
        let at = file.map_or(String::new(), |file| format!("{file}: "));
        (told, counted_by_kind(rest).map(|said| at + &said))
    }

    /// The error of the operating system, if it refused.
    pub fn cause(&self) -> Option<&io::Error> {
        self.0.cause.as_ref()
    }
}

impl fmt::Display for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.0.kind == ErrorKind::Several {
            let (told, rest) = self.first_parts();
            let lines = told.iter().map(ToString::to_string).chain(rest);
            return f.write_str(&lines.collect::<Vec<_>>().join("\n"));
        }
        write!(f, "{}: {}", self.0.place, self.0.problem)?;
        if let Some(cause) = &self.0.cause {
            write!(f, ": {cause}")?;
        }
        match &self.0.way_out {
            Some(way_out) => write!(f, ". {way_out}"),
            None => Ok(()),
        }
    }
}

// `Display` includes the cause, so `source` stays empty: printing the chain must not repeat it.
impl std::error::Error for Error {}

/// Faults of one input that are reported one by one.
const TOLD: usize = 10;

/// Counts errors by kind and column, the most frequent first; `None` where there are none.
pub fn counted_by_kind<'a>(errors: impl IntoIterator<Item = &'a Error>) -> Option<String> {
    let mut counts: BTreeMap<(&str, &str), usize> = BTreeMap::new();
    for error in errors {
        let column = error.place().column.as_deref().unwrap_or_default();
        *counts.entry((error.kind().id(), column)).or_default() += 1;
    }
    let mut counts: Vec<_> = counts.into_iter().collect();
    counts.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
    let of = |((id, column), count): &((&str, &str), usize)| match column.is_empty() {
        true => format!("{count} {id}"),
        false => format!("{count} {id} in column {column}"),
    };
    let kinds: Vec<String> = counts.iter().map(of).collect();
    let count: usize = counts.iter().map(|(_, count)| count).sum();
    (count > 0).then(|| format!("… and {count} more faults: {}", kinds.join(", ")))
}

/// Escapes line ends, so that words quoted from an input keep the error on one line.
fn one_line(text: &str) -> String {
    text.replace('\n', "\\n").replace('\r', "\\r")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_error_says_where_what_and_the_way_out() {
        let place = Place::from("runs.csv").row(7).column("set_a");
        let error =
            Error::new(ErrorKind::SheetCell, place, "'x' is not a number").hint("Write amps");
        assert_eq!(
            error.to_string(),
            "runs.csv, row 7, column set_a: 'x' is not a number. Write amps"
        );
        assert_eq!(
            (error.kind(), error.place().row),
            (ErrorKind::SheetCell, Some(7))
        );
    }

    #[test]
    fn a_hundred_thousand_faults_are_told_as_ten_and_a_count_by_kind() {
        let fault = |k: usize| {
            let (kind, column) = match k % 4 {
                0 => (ErrorKind::SheetForm, "file"),
                _ => (ErrorKind::SheetCell, "set_a"),
            };
            Error::new(
                kind,
                Place::from("runs.csv").row(k as u64).column(column),
                "is bad",
            )
        };
        let told = Error::several((0..100_000).map(fault).collect()).to_string();
        let lines: Vec<&str> = told.lines().collect();
        assert_eq!(lines.len(), 11);
        assert_eq!(
            lines[10],
            "runs.csv: … and 99990 more faults: 74993 sheet-cell in column set_a, 24997 sheet-form in column file"
        );
    }

    #[test]
    fn a_cause_is_told_once() {
        let error = Error::io(Path::new("a.wav"), "read", io::Error::other("gone"));
        assert_eq!(error.to_string(), "a.wav: cannot read: gone");
        assert!(std::error::Error::source(&error).is_none());
    }
}
