//! Turns answers into text, tables, figures and the page.
//!
//! The package `tipstrike` builds on this and passes all of it on.

pub mod figure;
pub mod page;
#[cfg(not(target_family = "wasm"))]
pub mod png;
pub mod text;
pub mod words;

#[cfg(test)]
mod fixtures;

use tipstrike_rows::{fit, measuring, output, rehearsal, score, study};
use tipstrike_trace::{flag, format, job, measure, parallel, recording, start, stats};
