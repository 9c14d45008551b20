//! Answers in the words of the bench: what `study` found, as sentences.

mod comparison;
mod lead;
mod pieces;
pub mod plan;
pub mod screen;
pub mod sequential;
mod several;
pub mod verdict;
pub mod wear;

pub use comparison::answer;
pub(super) use comparison::shares;
pub(super) use pieces::more;

use serde::Serialize;

use crate::study::{Comparison, WhileStriking};

/// A comparison with its answer in words beside the numbers, as JSON holds it.
#[derive(Debug, Serialize)]
pub struct TellComparison<'a> {
    /// The numbers.
    #[serde(flatten)]
    comparison: &'a Comparison,
    /// The sequential comparison of each pair.
    while_striking: Vec<TellWatch<'a>>,
    /// The answer in plain words.
    answer: String,
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
            while_striking: comparison.while_striking.iter().map(tell).collect(),
            answer: answer(comparison),
        }
    }
}

fn tell(watch: &WhileStriking) -> TellWatch<'_> {
    TellWatch {
        watch,
        says: sequential::says(watch),
    }
}
