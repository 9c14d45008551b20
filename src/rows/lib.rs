//! From starts to answers: recordings become rows of a starts table, and rows answer a question.
//!
//! [`fit`] holds a prep against the tables, [`score`] each start against its targets; [`measuring`] does so for many
//! recordings; a [`study`] answers a question about the rows; a [`rehearsal`] tells what a logger could show. The package
//! `tipstrike` builds on this and passes all of it on.

pub mod fit;
#[cfg(test)]
#[path = "../../tests/long_form.rs"]
mod long_form;
pub mod measuring;
pub mod output;
pub mod rehearsal;
pub mod score;
pub mod study;
mod texts;

use tipstrike_demo as demo;
use tipstrike_trace::{
    bytes, digits, error, flag, format, guard, job, measure, parallel, recording, start, stats,
};
