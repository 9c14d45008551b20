//! Arc-start quality analysis of recorded TIG (GTAW) welding current.
//!
//! Data flows one way: a file becomes a calibrated [`recording`]; its [`start`]s are found and measured; each is
//! scored ([`score`]) against the targets of its [`job`]; a [`study`] answers a question about many of them; a
//! [`report`] shows the answer. [`demo`] generates recordings whose truth is known.

pub mod bytes;
pub mod cli;
pub mod demo;
pub mod error;
mod error_kind;
pub mod fit;
pub mod flag;
pub mod format;
pub mod job;
pub mod measure;
pub mod measuring;
pub mod output;
pub mod recording;
pub mod report;
pub mod score;
pub mod start;
pub mod stats;
pub mod study;

pub use error::{Error, Result};
