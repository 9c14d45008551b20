//! What is true of a start, and the numbers of the definitions that say so.

use std::collections::BTreeMap;

use serde::Serialize;

/// Levels and times of the definitions (docs/measures.md), here once more on purpose.
pub(super) const CONDUCT_A: f64 = 1.0;
pub(super) const CONDUCT_NOISE: f64 = 6.0;
pub(super) const CONDUCT_RELEASE: f64 = 0.6;
pub(super) const IGNORED_S: f64 = 50e-6;
pub(super) const MIN_PULSES: f64 = 2.5;
pub(super) const OPEN_V: f64 = 30.0;
pub(super) const SHORT_V: f64 = 5.0;
pub(super) const HOLD_S: f64 = 0.02;
pub(super) const DROPOUT_MIN_S: f64 = 0.5e-3;
pub(super) const DROPOUT_MIN_HALFCYCLES: f64 = 1.5;
pub(crate) const OBSERVE_S: f64 = 1.0;
pub(super) const SETTLE_BAND: f64 = 0.1;

/// What is true of a start. Times are seconds from the recording's first sample; absent: there is no such thing.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct TruthStart {
    /// The no-load voltage came on.
    pub t_open_s: Option<f64>,
    /// First current.
    pub t_first_s: Option<f64>,
    /// The arc holds from here.
    pub t_lit_s: Option<f64>,
    /// The current has settled.
    pub t_settled_s: Option<f64>,
    /// The current was gone.
    pub t_out_s: Option<f64>,
    /// Attempts up to and with the one that lit.
    pub attempts: usize,
    /// Dropouts in the observation window.
    pub dropouts: usize,
    /// Time in them, ms.
    pub dropout_ms: f64,
    /// The longest, ms.
    pub dropout_longest_ms: f64,
    /// Touches in the observation window.
    pub touches: usize,
    /// Half-cycles that did not reignite, dropouts not counted; AC only.
    pub missed_halfcycles: Option<usize>,
    /// Electrode-negative share of whole cycles, AC only, %.
    pub en_share_pct: Option<f64>,
    /// AC frequency, Hz.
    pub ac_hz: Option<f64>,
    /// Pulse frequency, Hz.
    pub pulse_hz: Option<f64>,
    /// Mean magnitude of current over the first 20 ms from lit, A.
    pub lit_a: Option<f64>,
    /// Median magnitude of current (AC: of the cycles' rms; pulse: of the period's mean), A.
    pub run_a: Option<f64>,
    /// Median magnitude of voltage, V.
    pub run_v: Option<f64>,
    /// Rms of the wander over [t_settled, t_lit + 1 s], V.
    pub wander_v: Option<f64>,
    /// Frequency of a wander of one tone, Hz.
    pub wander_hz: Option<f64>,
    /// Energy from t_first to t_settled, J.
    pub energy_j: Option<f64>,
    /// Charge from t_first to t_settled, C.
    pub charge_c: Option<f64>,
    /// What stands in the truth of the classes only, so that the samples' truth keeps its bytes.
    #[serde(skip)]
    pub more: TruthMore,
}

/// More that is true of a start.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct TruthMore {
    /// 10–90 % transition duration of steady direct current (IEEE Std 181), ms.
    pub rise_ms: Option<f64>,
    /// Its post-transition overshoot, %.
    pub overshoot_pct: Option<f64>,
    /// Ripple put in, peak to peak over the mean, %.
    pub ripple_pct: Option<f64>,
    /// Its frequency, Hz.
    pub ripple_hz: Option<f64>,
    /// Where the definitions leave room, every other range of a figure that they allow.
    pub also: BTreeMap<&'static str, Vec<(f64, f64)>>,
}

impl TruthMore {
    pub(super) fn allow(&mut self, figure: &'static str, low: f64, high: f64) {
        self.also.entry(figure).or_default().push((low, high));
    }
}

impl TruthStart {
    /// The same, later.
    pub(crate) fn later(mut self, by_s: f64) -> TruthStart {
        for instant in [
            &mut self.t_open_s,
            &mut self.t_first_s,
            &mut self.t_lit_s,
            &mut self.t_settled_s,
            &mut self.t_out_s,
        ] {
            *instant = instant.map(|t| t + by_s);
        }
        for (name, ranges) in &mut self.more.also {
            if name.starts_with("t_") {
                ranges
                    .iter_mut()
                    .for_each(|r| *r = (r.0 + by_s, r.1 + by_s));
            }
        }
        self
    }
}

pub(super) fn median(mut values: Vec<f64>) -> Option<f64> {
    let middle = values.len() / 2;
    (!values.is_empty()).then(|| *values.select_nth_unstable_by(middle, f64::total_cmp).1)
}
