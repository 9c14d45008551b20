//! Arc-start quality analysis of recorded TIG (GTAW) welding current.
//!
//! Data goes one way: what was written down ([`job`]) says how a file becomes a calibrated [`recording`]; its
//! [`start`]s are found and measured; [`fit`] holds the prep against the tables, [`score`] each start against its
//! targets; [`measuring`] does so for many recordings; a [`study`] answers a question about the rows; a [`rehearsal`]
//! tells what a logger could show, by starts that [`demo`] makes, whose truth is known; a [`report`] puts the answer into
//! words and pictures.
//!
//! Load, measure, compare:
//!
//! ```
//! use std::path::PathBuf;
//!
//! use tipstrike::measuring::gather::{GatherOptions, gather};
//! use tipstrike::study::{CompareOptions, PairVerdict, compare};
//!
//! # fn main() -> tipstrike::Result<()> {
//! // A job: job.toml, runs.csv beside it, and the recordings that they name.
//! let set = gather(&[PathBuf::from("samples")], &GatherOptions::default())?;
//! for row in &set.rows {
//!     // Milliseconds; `None` is what could not be measured, and a flag of the row says why.
//!     let time_ms = row.measures.start_ms();
//!     assert!(time_ms.is_some() || !row.flags.is_empty());
//! }
//! // Grinds are compared by their tips, within coupons; doubtful and set-aside starts are left out.
//! let answer = compare(&set, &CompareOptions::default())?;
//! let pair = &answer.pairs[0];
//! assert_eq!((pair.a.as_str(), pair.b.as_str()), ("A", "B"));
//! assert_eq!(pair.verdict, PairVerdict::ABetter);
//! # Ok(())
//! # }
//! ```

#[cfg(not(all(target_family = "wasm", target_os = "unknown")))]
#[doc(hidden)]
pub mod cli;

#[doc(inline)]
pub use tipstrike_demo as demo;
#[doc(inline)]
pub use tipstrike_report as report;
#[doc(inline)]
pub use tipstrike_rows::{fit, measuring, output, rehearsal, score, study};
#[doc(inline)]
pub use tipstrike_trace::{
    Error, Result, bytes, error, flag, format, job, measure, recording, start, stats,
};
use tipstrike_trace::{digits, guard, parallel};
