//! The error type: its kind, the place, what was found and expected, and the way out.

use std::fmt;
use std::io;
use std::path::Path;

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
        self.value = Some(one_line(&value.to_string()));
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
            self.second.map(|second| format!("at {second} s")),
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
            problem: one_line(&problem.into()),
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

    /// Bundles several faults of one input.
    pub fn several(parts: Vec<Error>) -> Error {
        let mut error = Error::new(ErrorKind::Several, Place::default(), "");
        error.0.parts = parts;
        error
    }

    /// Adds the way out.
    #[must_use]
    pub fn hint(mut self, way_out: impl Into<String>) -> Error {
        self.0.way_out = Some(one_line(&way_out.into()));
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

    /// The error of the operating system, if it refused.
    pub fn cause(&self) -> Option<&io::Error> {
        self.0.cause.as_ref()
    }
}

impl fmt::Display for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.0.kind == ErrorKind::Several {
            let parts: Vec<String> = self.0.parts.iter().map(ToString::to_string).collect();
            return f.write_str(&parts.join("\n"));
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
        let error = Error::new(ErrorKind::SheetCell, place, "'x' is no number").hint("Write amps");
        assert_eq!(
            error.to_string(),
            "runs.csv, row 7, column set_a: 'x' is no number. Write amps"
        );
        assert_eq!(
            (error.kind(), error.place().row),
            (ErrorKind::SheetCell, Some(7))
        );
    }

    #[test]
    fn a_cause_is_told_once() {
        let error = Error::io(Path::new("a.wav"), "read", io::Error::other("gone"));
        assert_eq!(error.to_string(), "a.wav: cannot read: gone");
        assert!(std::error::Error::source(&error).is_none());
    }
}
