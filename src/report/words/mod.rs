//! Answers in the words of the bench: what `study` found, as sentences.

mod comparison;
mod lead;
mod pieces;
pub mod plan;
pub mod rehearsal;
pub mod screen;
pub mod sequential;
pub mod session;
mod several;
mod spoils;
pub mod verdict;
pub mod wear;

pub use comparison::answer;
pub(super) use comparison::shares;
pub(super) use pieces::{in_rows, more};
pub use spoils::spoils;

use serde::Serialize;

use crate::study::{Comparison, Confounder, Warning, WhileStriking};

/// A comparison with its answer in words beside the numbers, as JSON holds it.
#[derive(Debug, Serialize)]
pub struct TellComparison<'a> {
    /// The numbers.
    #[serde(flatten)]
    comparison: &'a Comparison,
    /// What spoils the comparison.
    warnings: Vec<TellWarning>,
    /// The sequential comparison of each pair.
    while_striking: Vec<TellWatch<'a>>,
    /// The answer in plain words.
    answer: String,
}

/// What spoils a comparison, in words.
#[derive(Debug, Serialize)]
struct TellWarning {
    about: Confounder,
    says: String,
}

/// A sequential comparison with its sentence.
#[derive(Debug, Serialize)]
struct TellWatch<'a> {
    #[serde(flatten)]
    watch: &'a WhileStriking,
    says: String,
}

impl<'a> TellComparison<'a> {
    /// Puts the words to a comparison.
    pub fn new(comparison: &'a Comparison) -> Self {
        TellComparison {
            comparison,
            warnings: comparison.warnings.iter().map(warn).collect(),
            while_striking: comparison.while_striking.iter().map(tell).collect(),
            answer: answer(comparison),
        }
    }
}

fn warn(warning: &Warning) -> TellWarning {
    TellWarning {
        about: warning.about(),
        says: spoils(warning),
    }
}

fn tell(watch: &WhileStriking) -> TellWatch<'_> {
    TellWatch {
        watch,
        says: sequential::says(watch),
    }
}
