//! What is true of a start, from its clean, finely stepped traces: the definitions of docs/measures.md taken literally,
//! on their own code, so that they can judge the finder.

mod levels;
mod spans;
mod transition;

use std::collections::BTreeMap;

use serde::Serialize;

use crate::demo::circuit::Fine;
use crate::demo::scenario::{Method, Strike};
use spans::{TrueSpan, conducting, crossing, holds_from, joined, touching};

/// Levels and times of the definitions (docs/measures.md), here once more on purpose.
const CONDUCT_A: f64 = 1.0;
const CONDUCT_NOISE: f64 = 6.0;
const CONDUCT_RELEASE: f64 = 0.6;
const IGNORED_S: f64 = 50e-6;
const MIN_PULSES: f64 = 2.5;
const OPEN_V: f64 = 30.0;
const SHORT_V: f64 = 5.0;
const HOLD_S: f64 = 0.02;
const DROPOUT_MIN_S: f64 = 0.5e-3;
const DROPOUT_MIN_HALFCYCLES: f64 = 1.5;
pub(super) const OBSERVE_S: f64 = 1.0;
const SETTLE_BAND: f64 = 0.1;

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
    fn allow(&mut self, figure: &'static str, low: f64, high: f64) {
        self.also.entry(figure).or_default().push((low, high));
    }
}

impl TruthStart {
    /// The same, later.
    pub(super) fn later(mut self, by_s: f64) -> TruthStart {
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

/// What the definitions need to know of the recording.
#[derive(Debug, Clone, Copy)]
pub(super) struct Seen {
    /// Noise of the current, A rms.
    pub noise_a: f64,
    /// Whether there is a voltage trace: without one nothing is known to be open or to touch.
    pub voltage: bool,
}

/// What is true of a start, in seconds from its first value.
pub(super) fn truth(strike: &Strike, fine: &Fine, seen: Seen) -> TruthStart {
    let half_cycle = strike.program.half_cycle_s();
    let break_min = half_cycle.map_or(DROPOUT_MIN_S, |h| h * DROPOUT_MIN_HALFCYCLES);
    let conduct_a = CONDUCT_A.max(CONDUCT_NOISE * seen.noise_a);
    let conducting = conducting(fine, conduct_a);
    let chains = joined(&conducting, break_min);
    let touching: Vec<TrueSpan> = joined(&touching(fine, conduct_a), DROPOUT_MIN_S)
        .into_iter()
        .filter(|s| seen.voltage && s.len() >= break_min)
        .collect();
    let lit = chains
        .iter()
        .enumerate()
        .find_map(|(k, c)| Some((k, holds_from(c, &touching)?)));
    let first = chains.first().map(|c| c.on);
    let mut truth = TruthStart {
        t_open_s: opened(strike, fine, first).filter(|_| seen.voltage),
        t_first_s: first,
        t_lit_s: lit.map(|(_, at)| at),
        t_out_s: chains.last().map(|c| c.off),
        attempts: lit.map_or(chains.len(), |(k, _)| k + 1),
        ..TruthStart::default()
    };
    if seen.voltage && matches!(strike.method, Method::Hf { .. }) {
        truth.allow_breakdown(fine);
    }
    if let (Some((_, lit)), Some(out)) = (lit, truth.t_out_s) {
        let window = (lit, out.min(lit + OBSERVE_S));
        upsets(&mut truth, &chains, &touching, window);
        levels::levels(&mut truth, strike, fine, &conducting, window);
        transition::transition(&mut truth, strike, fine, window);
        until_settled(&mut truth, fine);
        let tones = &strike.wander.tones_hz;
        truth.wander_v = truth.t_settled_s.map(|_| strike.wander.v_rms);
        truth.wander_hz = (tones.len() == 1).then(|| tones[0]);
    }
    truth
}

impl TruthStart {
    /// The voltage falls at the breakdown; a slow current passes its level later. Either is the first current.
    fn allow_breakdown(&mut self, fine: &Fine) {
        let breakdown = fine.arcing.iter().position(|arcing| *arcing);
        if let (Some(k), Some(first)) = (breakdown, self.t_first_s) {
            self.more
                .allow("t_first_s", (k as f64 * fine.dt).min(first), first);
        }
        if let Some(lit) = self.t_lit_s {
            self.more.allow("t_lit_s", fine.strike_s.min(lit), lit);
        }
    }
}

fn opened(strike: &Strike, fine: &Fine, first: Option<f64>) -> Option<f64> {
    // A reduced open circuit stays under the level: it is open from half of its voltage on.
    let level = strike.open_v.map_or(OPEN_V, |v| OPEN_V.min(0.5 * v));
    let k = (1..fine.volts.len()).find(|k| fine.volts[*k].abs() >= level)?;
    let at = crossing(k, fine.volts[k - 1].abs(), fine.volts[k].abs(), level) * fine.dt;
    first.is_none_or(|first| at <= first).then_some(at)
}

fn upsets(truth: &mut TruthStart, chains: &[TrueSpan], touching: &[TrueSpan], window: (f64, f64)) {
    let dropouts: Vec<f64> = chains
        .windows(2)
        .filter_map(|w| {
            TrueSpan {
                on: w[0].off,
                off: w[1].on,
                sign: 0.0,
            }
            .inside(window)
        })
        .map(|s| s.len() * 1e3)
        .collect();
    truth.dropouts = dropouts.len();
    truth.dropout_ms = dropouts.iter().fold(0.0, |a, b| a + b);
    truth.dropout_longest_ms = dropouts.iter().fold(0.0, |a, b| f64::max(a, *b));
    truth.touches = touching.iter().filter_map(|t| t.inside(window)).count();
}

/// Energy and charge from first current to settled.
fn until_settled(truth: &mut TruthStart, fine: &Fine) {
    if let (Some(first), Some(settled)) = (truth.t_first_s, truth.t_settled_s) {
        let range = fine.range((first, settled));
        let charge = fine.amps[range.clone()].iter().map(|i| i.abs());
        let energy = range.clone().map(|k| (fine.amps[k] * fine.volts[k]).abs());
        truth.charge_c = Some(charge.sum::<f64>() * fine.dt);
        truth.energy_j = Some(energy.sum::<f64>() * fine.dt);
    }
}

fn median(mut values: Vec<f64>) -> Option<f64> {
    let middle = values.len() / 2;
    (!values.is_empty()).then(|| *values.select_nth_unstable_by(middle, f64::total_cmp).1)
}

impl Fine {
    /// Indices of the values inside a window.
    fn range(&self, window: (f64, f64)) -> std::ops::Range<usize> {
        let end = ((window.1 / self.dt).ceil() as usize).min(self.amps.len());
        ((window.0 / self.dt).ceil() as usize).min(end)..end
    }
}
