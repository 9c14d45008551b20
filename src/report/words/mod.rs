//! Answers in the words of the bench: what `study` found, as sentences.

pub mod screen;
