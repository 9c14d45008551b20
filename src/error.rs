//! The one error type: where, what was found, what was expected, the way out.

use std::path::{Path, PathBuf};

/// Result of every fallible function of the crate.
pub type Result<T, E = Error> = std::result::Result<T, E>;

/// What went wrong, in words a welder can act on.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// An input says something that cannot be used.
    #[error("{at}: {problem}{}", hint_text(.hint))]
    Input {
        /// File, and row, column, key or second where there is one.
        at: String,
        /// What was found and what was expected, one sentence without the final stop.
        problem: String,
        /// The way out; may be empty.
        hint: String,
    },
    /// The operating system refused.
    #[error("{}: cannot {doing}: {source}", one_line(&path.display().to_string()))]
    Io {
        /// The file or folder.
        path: PathBuf,
        /// What was tried ("read", "write", …).
        doing: &'static str,
        /// The system's own words.
        source: std::io::Error,
    },
    /// Several faults found in one pass over an input, each to be named.
    #[error("{}", .0.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"))]
    Several(Vec<Error>),
}

/// Words of an input whose line ends do not make an error two.
fn one_line(text: &str) -> String {
    text.replace('\n', "\\n").replace('\r', "\\r")
}

fn hint_text(hint: &str) -> String {
    if hint.is_empty() {
        String::new()
    } else {
        format!(". {hint}")
    }
}

impl Error {
    /// An unusable input at a place; add the way out with [`Error::hint`].
    pub fn input(at: impl Into<String>, problem: impl Into<String>) -> Self {
        Error::Input {
            at: one_line(&at.into()),
            problem: one_line(&problem.into()),
            hint: String::new(),
        }
    }

    /// Adds the way out.
    #[must_use]
    pub fn hint(mut self, way_out: impl Into<String>) -> Self {
        if let Error::Input { hint, .. } = &mut self {
            *hint = one_line(&way_out.into());
        }
        self
    }

    /// A refusal of the operating system.
    pub fn io(path: &Path, doing: &'static str, source: std::io::Error) -> Self {
        Error::Io {
            path: path.to_path_buf(),
            doing,
            source,
        }
    }
}
