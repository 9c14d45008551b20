//! The result of a rehearsal that `[measuring] rehearsed` names: how far start times and wander of this logger lie off.

use std::path::Path;

use serde::{Deserialize, Serialize};

use crate::error::{Error, ErrorKind, Result};
use crate::job::sheet_row::inside;

/// Largest file of a rehearsal, bytes.
const MOST_BYTES: u64 = 16 << 20;
/// Form that is read.
const FORM: u32 = 1;

/// Uncertainty as it was rehearsed on the logger of a job.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct Rehearsed {
    /// Form of the file.
    rehearsal: u32,
    /// Expanded uncertainty (k = 2) of a start time, ms; `None` where it could not be measured.
    pub u_start_ms: Option<f64>,
    /// Expanded uncertainty (k = 2) of a wander, V, without the calibration's share; likewise.
    pub u_wander_v: Option<f64>,
}

impl Rehearsed {
    /// What a rehearsal found.
    pub fn new(u_start_ms: Option<f64>, u_wander_v: Option<f64>) -> Rehearsed {
        Rehearsed {
            rehearsal: FORM,
            u_start_ms,
            u_wander_v,
        }
    }

    /// Reads the file that a job names, which lies in the job's folder.
    ///
    /// # Errors
    /// A file outside the folder, one that cannot be read, or one that is no rehearsal.
    pub(super) fn read(file: &str, folder: &Path) -> Result<Rehearsed> {
        let path = inside(file, folder)
            .map_err(|problem| Error::new(ErrorKind::NotARehearsal, file, problem))?;
        let text = crate::bytes::Bytes::file(&path)?.text(MOST_BYTES)?;
        let rehearsed: Option<Rehearsed> = serde_json::from_str(&text).ok();
        let sound = |u: Option<f64>| u.is_none_or(|u| u.is_finite() && u >= 0.0);
        rehearsed
            .filter(|r| r.rehearsal == FORM && sound(r.u_start_ms) && sound(r.u_wander_v))
            .ok_or_else(|| {
                Error::new(
                    ErrorKind::NotARehearsal,
                    path.display().to_string(),
                    "is no answer of a rehearsal",
                )
                .hint("tipstrike rehearse JOB --json FILE writes one")
            })
    }
}
