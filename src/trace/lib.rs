//! Finds and measures arc starts in recorded TIG (GTAW) welding current.
//!
//! What was written down ([`job`]) says how a file becomes a calibrated [`recording`]; its [`start`]s are found and
//! measured. The package `tipstrike` builds on this and passes all of it on.

pub mod bytes;
#[doc(hidden)]
pub mod digits;
pub mod error;
mod error_kind;
pub mod flag;
pub mod format;
#[doc(hidden)]
pub mod guard;
pub mod job;
#[cfg(test)]
#[path = "../../tests/long_form.rs"]
mod long_form;
pub mod measure;
#[doc(hidden)]
pub mod parallel;
pub mod recording;
pub mod start;
pub mod stats;

pub use error::{Error, Result};
