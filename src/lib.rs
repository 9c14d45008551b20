//! Arc-start quality analysis of recorded TIG (GTAW) welding current.
//!
//! Data goes one way: a file becomes a calibrated [`recording`], the recording's [`start`]s are
//! found and measured, each is scored against its [`prep`], a [`study`] answers a question about
//! many of them, a [`report`] shows the answer. [`demo`] makes recordings whose truth is known.

pub mod cli;
pub mod demo;
pub mod error;
pub mod flag;
pub mod input;
pub mod output;
pub mod prep;
pub mod recording;
pub mod report;
pub mod start;
pub mod study;

pub use error::{Error, Result};
