//! Answers become text, tables, figures and the page.

pub mod number;
pub mod text;
pub mod write;
