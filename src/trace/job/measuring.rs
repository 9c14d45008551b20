//! `[measuring]` of the job file: the definitions' numbers, each with its default.

use serde::{Deserialize, Serialize};

use crate::job::rehearsed::Rehearsed;
use crate::job::run::Process;

/// Numbers that the definitions of docs/measures.md leave to be set.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Measuring {
    /// Observation window from t_lit, s.
    pub observe_s: f64,
    /// How long an arc must hold to count as lit, ms.
    pub hold_ms: f64,
    /// Settle band, ± percent of the run level.
    pub settle_band_pct: f64,
    /// How long the current must stay in the band, ms.
    pub settle_hold_ms: f64,
    /// Not conducting for this long ends the start, ms.
    pub out_gap_ms: f64,
    /// Shortest interruption that counts on DC, ms.
    pub dropout_min_ms: f64,
    /// Shortest interruption that counts on AC, half-cycles.
    pub dropout_min_halfcycles: f64,
    /// Conduct level, A; absent: max(1.0 A, 6 × idle noise rms).
    pub conduct_a: Option<f64>,
    /// The lower level of the hysteresis as a part of the conduct level.
    pub conduct_release: f64,
    /// Short level: touching under it, V.
    pub short_v: f64,
    /// Open level, V; absent: 30 V, or 3 × the median arc voltage where nothing higher is seen.
    pub open_v: Option<f64>,
    /// Lower end of the wander band, Hz.
    pub wander_from_hz: f64,
    /// Upper end of the wander band, Hz.
    pub wander_to_hz: f64,
    /// Result of a rehearsal, in the job's folder; absent: uncertainty by formulae.
    pub rehearsed: Option<String>,
    /// What that file says.
    #[serde(skip)]
    pub by_rehearsal: Option<Rehearsed>,
}

impl Default for Measuring {
    fn default() -> Self {
        Measuring {
            observe_s: 1.0,
            hold_ms: 20.0,
            settle_band_pct: 10.0,
            settle_hold_ms: 20.0,
            out_gap_ms: 150.0,
            dropout_min_ms: 0.5,
            dropout_min_halfcycles: 1.5,
            conduct_a: None,
            conduct_release: 0.6,
            short_v: 5.0,
            open_v: None,
            wander_from_hz: 2.0,
            wander_to_hz: 200.0,
            rehearsed: None,
            by_rehearsal: None,
        }
    }
}

/// What goes with the search besides [`Measuring`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Context {
    /// Mains frequency, Hz, where it is stated: its hum is reported apart.
    pub mains_hz: Option<f64>,
    /// Up-slope set on the machine, s; settled then means within the band of that ramp.
    pub upslope_s: Option<f64>,
    /// The process that the run sheet names.
    pub process: Option<Process>,
    /// The run sheet names a gas with helium enough to count.
    pub helium: bool,
    /// Only starts that begin in this part of the recording, s.
    pub span_s: (f64, f64),
    /// Keep the traces for figures.
    pub previews: bool,
}

impl Default for Context {
    fn default() -> Self {
        Context {
            mains_hz: None,
            upslope_s: None,
            process: None,
            helium: false,
            span_s: (f64::NEG_INFINITY, f64::INFINITY),
            previews: false,
        }
    }
}

impl Context {
    /// The settings with the observation window of this context: it goes on behind an up-slope that was set.
    pub fn window(&self, measuring: &Measuring) -> Measuring {
        Measuring {
            observe_s: measuring.observe_s + self.upslope_s.unwrap_or(0.0).max(0.0),
            ..measuring.clone()
        }
    }
}
