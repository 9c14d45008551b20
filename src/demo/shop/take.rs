//! A job of the shop: its recordings, and what they are written as.

use serde::Serialize;

use crate::scenario::Scenario;

/// What a recording is written as.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Form {
    /// 16-bit stereo: current, voltage.
    Wav,
    /// `time_s`, current, voltage.
    Csv,
}

/// One recording of a job and its row of the run sheet.
pub(super) struct Take {
    pub file: String,
    pub form: Form,
    /// The row's cells after `file`.
    pub row: String,
    /// How the tip was made to behave, where the job has tips.
    pub tip: Option<TruthTip>,
    pub scenario: Scenario,
}

/// A job of the shop.
pub(super) struct ShopJob {
    pub folder: &'static str,
    pub job_toml: String,
    /// The sheet's columns after `file`.
    pub columns: &'static str,
    pub takes: Vec<Take>,
    pub readme: Option<&'static str>,
}

/// How one tip was made to behave: what the tips of a grind differ in.
#[derive(Clone, Serialize)]
pub(super) struct TruthTip {
    /// Its name in the sheet.
    pub tip_id: String,
    /// Its prep.
    pub prep: &'static str,
    /// Mean of the exponential part of the delay, ms.
    pub delay_ms: f64,
    /// Chance that a try fails on the fresh tip.
    pub retry: f64,
    /// Range of the wander, V rms.
    pub wander_v: (f64, f64),
}
