//! Turns answers into text, tables, figures and the page.

mod decimate;
pub mod figure;
pub mod page;
pub mod png;
pub mod text;
pub mod words;

#[cfg(test)]
mod fixtures;
