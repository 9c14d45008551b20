//! The one error type: what kind, where, what was found and expected, the way out.

use std::fmt;
use std::io;
use std::path::Path;

/// Result of every fallible function of the crate.
pub type Result<T, E = Error> = std::result::Result<T, E>;

/// What kind of error it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum ErrorKind {
    /// An input says something that cannot be used.
    Input,
    /// What was asked for cannot be answered: a parameter of the call is at fault, or the starts at hand are.
    Request,
    /// The operating system refused.
    System,
    /// Several faults of one input, found in one pass: see [`Error::parts`].
    Several,
}

/// Where the error lies; what is not known of the place is `None`.
#[derive(Debug, Clone, PartialEq, Default)]
#[non_exhaustive]
pub struct Place {
    /// File, folder, section of the job file, or whatever else names the input.
    pub file: Option<String>,
    /// Line of a text file, from 1.
    pub line: Option<u64>,
    /// Row of a run sheet, from 1, its head line included.
    pub row: Option<u64>,
    /// Section and key of a job file, such as `[logger]`.
    pub section: Option<String>,
    /// Column of a table, or key of a section.
    pub column: Option<String>,
    /// Seconds from the recording's first sample.
    pub second: Option<f64>,
    /// Parameter of the call that is at fault, in the library's own name.
    pub parameter: Option<&'static str>,
    /// Value that the parameter was given.
    pub value: Option<String>,
}

impl Place {
    /// A place in a file.
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

    /// The line of a text file, from 1.
    #[must_use]
    pub fn line(mut self, line: u64) -> Place {
        self.line = Some(line);
        self
    }

    /// The row of a run sheet, from 1.
    #[must_use]
    pub fn row(mut self, row: u64) -> Place {
        self.row = Some(row);
        self
    }

    /// The column of a table, or the key of a section.
    #[must_use]
    pub fn column(mut self, column: impl Into<String>) -> Place {
        self.column = Some(one_line(&column.into()));
        self
    }

    /// The second of a recording.
    #[must_use]
    pub fn second(mut self, second: f64) -> Place {
        self.second = Some(second);
        self
    }

    /// The value that the parameter was given.
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

/// What an error is made of, behind one pointer, so that results stay small.
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
    fn new(kind: ErrorKind, place: Place, problem: String) -> Error {
        Error(Box::new(Parts {
            kind,
            place,
            problem,
            way_out: None,
            cause: None,
            parts: Vec::new(),
        }))
    }

    /// An unusable input at a place; add the way out with [`Error::hint`].
    pub fn input(at: impl Into<Place>, problem: impl Into<String>) -> Error {
        Error::new(ErrorKind::Input, at.into(), one_line(&problem.into()))
    }

    /// A question that cannot be answered, because of a parameter of the call or of what is at hand.
    pub fn request(at: impl Into<Place>, problem: impl Into<String>) -> Error {
        Error::new(ErrorKind::Request, at.into(), one_line(&problem.into()))
    }

    /// A refusal of the operating system while something was `doing` ("read", "write", …).
    pub fn io(path: &Path, doing: &'static str, cause: io::Error) -> Error {
        let problem = format!("cannot {doing}");
        let mut error = Error::new(ErrorKind::System, Place::file(path), problem);
        error.0.cause = Some(cause);
        error
    }

    /// Several faults of one input.
    pub fn several(parts: Vec<Error>) -> Error {
        let mut error = Error::new(ErrorKind::Several, Place::default(), String::new());
        error.0.parts = parts;
        error
    }

    /// Adds the way out.
    #[must_use]
    pub fn hint(mut self, way_out: impl Into<String>) -> Error {
        self.0.way_out = Some(one_line(&way_out.into()));
        self
    }

    /// What kind of error it is.
    pub fn kind(&self) -> ErrorKind {
        self.0.kind
    }

    /// Where it lies.
    pub fn place(&self) -> &Place {
        &self.0.place
    }

    /// What was found and what was expected, one sentence without the final stop.
    pub fn problem(&self) -> &str {
        &self.0.problem
    }

    /// What to do about it, where that is known.
    pub fn way_out(&self) -> Option<&str> {
        self.0.way_out.as_deref()
    }

    /// The faults that this error is made of; empty unless its kind is [`ErrorKind::Several`].
    pub fn parts(&self) -> &[Error] {
        &self.0.parts
    }

    /// The system's own error, where it refused.
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

// The cause is part of the message, so it is no `source` besides: whoever prints the chain prints it once.
impl std::error::Error for Error {}

/// Words of an input whose line ends do not make an error two.
fn one_line(text: &str) -> String {
    text.replace('\n', "\\n").replace('\r', "\\r")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_error_says_where_what_and_the_way_out() {
        let place = Place::from("runs.csv").row(7).column("set_a");
        let error = Error::input(place, "'x' is no number").hint("Write amps");
        assert_eq!(
            error.to_string(),
            "runs.csv, row 7, column set_a: 'x' is no number. Write amps"
        );
        assert_eq!(
            (error.kind(), error.place().row),
            (ErrorKind::Input, Some(7))
        );
    }

    #[test]
    fn a_cause_is_told_once() {
        let error = Error::io(Path::new("a.wav"), "read", io::Error::other("gone"));
        assert_eq!(error.to_string(), "a.wav: cannot read: gone");
        assert!(std::error::Error::source(&error).is_none());
    }
}
