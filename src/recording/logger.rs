//! `[logger]` of the job file: what is on which channel, and its scale.

use serde::{Deserialize, Serialize};

/// How the logger was wired and scaled.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Logger {
    /// Mains frequency, Hz.
    pub mains_hz: Option<f64>,
}
