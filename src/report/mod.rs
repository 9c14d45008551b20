//! Turns answers into text, tables, figures and the page.

mod decimate;
pub mod figure;
pub mod page;
#[cfg(not(target_family = "wasm"))]
pub mod png;
pub mod text;
pub mod words;

#[cfg(test)]
mod fixtures;
