//! Answers in the words of the bench: what `study` found, as sentences.

mod comparison;
mod lead;
pub mod plan;
pub mod sequential;
pub mod wear;

pub use comparison::answer;
pub(super) use comparison::{more, shares};

use serde::Serialize;

use crate::study::Comparison;

/// A comparison with its answer in words beside the numbers, as JSON holds it.
#[derive(Debug, Serialize)]
pub struct TellComparison<'a> {
    /// The numbers.
    #[serde(flatten)]
    comparison: &'a Comparison,
    /// The answer in plain words.
    answer: String,
}

impl<'a> TellComparison<'a> {
    /// Puts the words to a comparison.
    pub fn new(comparison: &'a Comparison) -> Self {
        TellComparison {
            comparison,
            answer: answer(comparison),
        }
    }
}
