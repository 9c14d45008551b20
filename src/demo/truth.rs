//! What is true of a start, from its clean, finely stepped traces: the definitions of docs/measures.md taken literally,
//! on their own code, so that they can judge the finder.

mod facts;
mod levels;
mod spans;
mod transition;

use crate::circuit::Fine;
use crate::scenario::{Method, Strike};
pub(super) use facts::OBSERVE_S;
use facts::{CONDUCT_A, CONDUCT_NOISE, DROPOUT_MIN_HALFCYCLES, DROPOUT_MIN_S, OPEN_V};
pub use facts::{TruthMore, TruthStart};
use spans::{TrueSpan, conducting, crossing, holds_from, joined, touching};

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
        truth.allow_at_once(fine);
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

    /// Settled at once is settled from t_lit on, whichever of the instants allowed that is.
    fn allow_at_once(&mut self, fine: &Fine) {
        let both = self.t_lit_s.zip(self.t_settled_s);
        if both.is_some_and(|(lit, settled)| settled - lit <= fine.dt)
            && let Some(lit) = self.more.also.get("t_lit_s").cloned()
        {
            let settled = self.more.also.entry("t_settled_s");
            settled.or_default().extend(lit);
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

impl Fine {
    /// Indices of the values inside a window.
    fn range(&self, window: (f64, f64)) -> std::ops::Range<usize> {
        let end = ((window.1 / self.dt).ceil() as usize).min(self.amps.len());
        ((window.0 / self.dt).ceil() as usize).min(end)..end
    }
}
