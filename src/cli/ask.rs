//! Questions on a terminal; elsewhere the option that answers each is named instead.

use std::io::{self, IsTerminal};
use std::str::FromStr;

use dialoguer::{Input, Select};

use crate::cli::terminal;
use crate::error::{Error, ErrorKind, Place, Result};
use crate::report::text::plain;

/// Whether somebody can be asked: both ends are a terminal.
pub fn can_ask() -> bool {
    io::stdin().is_terminal() && io::stderr().is_terminal()
}

/// Asks for a value until it can be read; `default` is what Enter alone gives.
///
/// # Errors
/// The terminal went away.
pub fn value<T: FromStr<Err: std::fmt::Display>>(question: &str, default: &str) -> Result<T> {
    loop {
        let text: String = Input::new()
            .with_prompt(question)
            .default(default.to_owned())
            .interact_text()
            .map_err(gone)?;
        match text.trim().parse() {
            Ok(value) => return Ok(value),
            Err(error) => terminal::say(&format!("{}: {error}", plain(&text))),
        }
    }
}

/// Asks which of these; the first is what Enter alone gives.
///
/// # Errors
/// The terminal went away.
pub fn which(question: &str, choices: &[String]) -> Result<usize> {
    let picked = Select::new()
        .with_prompt(question)
        .items(choices)
        .default(0)
        .interact();
    picked.map_err(gone)
}

fn gone(error: dialoguer::Error) -> Error {
    let dialoguer::Error::IO(error) = error;
    Error::io(std::path::Path::new("terminal"), "read", error)
}

/// What to say where nobody can be asked and no option answers.
pub fn unanswered(option: &'static str, problem: &str, hint: &str) -> Error {
    Error::new(
        ErrorKind::IncompleteQuestion,
        Place::parameter(option),
        problem,
    )
    .hint(hint)
}
