//! What is true of a start, from its clean, finely stepped traces: the definitions of docs/measures.md taken literally,
//! on their own code, so that they can judge the finder.

use serde::Serialize;

use crate::demo::circuit::Fine;
use crate::demo::scenario::{Strike, Wave};

/// Levels and times of the definitions (docs/measures.md), here once more on purpose.
const CONDUCT_A: f64 = 1.0;
const CONDUCT_NOISE: f64 = 6.0;
const RELEASE: f64 = 0.6;
const HASH_S: f64 = 50e-6;
const MIN_PULSES: f64 = 2.5;
const OPEN_V: f64 = 30.0;
const SHORT_V: f64 = 5.0;
const HOLD_S: f64 = 0.02;
const DROPOUT_MIN_S: f64 = 0.5e-3;
const DROPOUT_MIN_HALFCYCLES: f64 = 1.5;
const OBSERVE_S: f64 = 1.0;
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
        self
    }
}

/// A stretch of time, s, and the sign of its current.
#[derive(Debug, Clone, Copy, PartialEq)]
struct TrueSpan {
    on: f64,
    off: f64,
    sign: f64,
}

impl TrueSpan {
    fn len(&self) -> f64 {
        self.off - self.on
    }

    /// The part inside a window; `None` where there is none.
    fn inside(&self, window: (f64, f64)) -> Option<TrueSpan> {
        let (on, off) = (self.on.max(window.0), self.off.min(window.1));
        (off > on).then_some(TrueSpan { on, off, ..*self })
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
        t_open_s: opened(fine, first).filter(|_| seen.voltage),
        t_first_s: first,
        t_lit_s: lit.map(|(_, at)| at),
        t_out_s: chains.last().map(|c| c.off),
        attempts: lit.map_or(chains.len(), |(k, _)| k + 1),
        ..TruthStart::default()
    };
    if let (Some((_, lit)), Some(out)) = (lit, truth.t_out_s) {
        let window = (lit, out.min(lit + OBSERVE_S));
        upsets(&mut truth, &chains, &touching, window);
        levels(&mut truth, strike, fine, &conducting, window);
        until_settled(&mut truth, fine);
        let tones = &strike.wander.tones_hz;
        truth.wander_v = truth.t_settled_s.map(|_| strike.wander.v_rms);
        truth.wander_hz = (tones.len() == 1).then(|| tones[0]);
    }
    truth
}

/// Instant, in steps, at which a line from `a` (one step before `k`) to `b` meets a level.
fn crossing(k: usize, a: f64, b: f64, level: f64) -> f64 {
    k as f64 - 1.0 + (level - a) / (b - a)
}

fn conducting(fine: &Fine, conduct_a: f64) -> Vec<TrueSpan> {
    let release_a = RELEASE * conduct_a;
    let mut found = Vec::new();
    let mut on: Option<(f64, f64)> = None;
    for (k, pair) in fine.amps.windows(2).enumerate() {
        let (a, b) = (pair[0], pair[1]);
        if let Some((at, sign)) = on
            && b * sign < release_a
        {
            found.push(TrueSpan {
                on: at,
                off: crossing(k + 1, a * sign, b * sign, release_a) * fine.dt,
                sign,
            });
            on = None;
        }
        if on.is_none() && b.abs() >= conduct_a {
            let sign = 1f64.copysign(b);
            on = Some((
                crossing(k + 1, a * sign, b * sign, conduct_a) * fine.dt,
                sign,
            ));
        }
    }
    assert!(on.is_none(), "a start ends quiet");
    found.retain(|s| s.len() >= HASH_S);
    found
}

fn touching(fine: &Fine, conduct_a: f64) -> Vec<TrueSpan> {
    let mut found = Vec::new();
    let mut on = None;
    let low = |k: usize| fine.volts[k].abs() < SHORT_V && fine.amps[k].abs() >= conduct_a;
    for k in 1..fine.amps.len() {
        let (a, b) = (fine.volts[k - 1].abs(), fine.volts[k].abs());
        let at = match (a - SHORT_V) * (b - SHORT_V) < 0.0 {
            true => crossing(k, a, b, SHORT_V) * fine.dt,
            false => k as f64 * fine.dt,
        };
        match on {
            None if low(k) => on = Some(at),
            Some(from) if !low(k) => {
                found.push(TrueSpan {
                    on: from,
                    off: at,
                    sign: 0.0,
                });
                on = None;
            }
            _ => {}
        }
    }
    found
}

/// Stretches with every gap shorter than `bridge` closed.
fn joined(stretches: &[TrueSpan], bridge: f64) -> Vec<TrueSpan> {
    let mut out: Vec<TrueSpan> = Vec::new();
    for s in stretches {
        match out.last_mut() {
            Some(last) if s.on - last.off < bridge => last.off = s.off,
            _ => out.push(*s),
        }
    }
    out
}

/// The instant in a chain of conducting from which it is free of touching for the hold.
fn holds_from(chain: &TrueSpan, touching: &[TrueSpan]) -> Option<f64> {
    let mut from = chain.on;
    for touch in touching
        .iter()
        .filter(|t| t.off > chain.on && t.on < chain.off)
    {
        if touch.on - from >= HOLD_S {
            return Some(from);
        }
        from = touch.off;
    }
    (chain.off - from >= HOLD_S).then_some(from)
}

fn opened(fine: &Fine, first: Option<f64>) -> Option<f64> {
    let k = (1..fine.volts.len()).find(|k| fine.volts[*k].abs() >= OPEN_V)?;
    let at = crossing(k, fine.volts[k - 1].abs(), fine.volts[k].abs(), OPEN_V) * fine.dt;
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

fn levels(
    truth: &mut TruthStart,
    strike: &Strike,
    fine: &Fine,
    conducting: &[TrueSpan],
    window: (f64, f64),
) {
    let range = fine.range(window);
    let magnitude = |from: f64, to: f64| {
        let part = &fine.amps[fine.range((from, to))];
        part.iter().map(|i| i.abs()).sum::<f64>() / part.len() as f64
    };
    truth.lit_a = Some(magnitude(window.0, window.0 + HOLD_S));
    truth.run_v = median(fine.volts[range.clone()].iter().map(|u| u.abs()).collect());
    match strike.program.wave {
        Wave::Ac { hz, .. } => {
            truth.ac_hz = Some(hz);
            truth.missed_halfcycles = Some(missed(conducting, window, hz));
            alternating(truth, fine, window, hz);
        }
        Wave::Pulse { hz, .. } if (window.1 - window.0) * hz >= MIN_PULSES => {
            truth.pulse_hz = Some(hz);
            direct(truth, fine, window, 1.0 / hz);
        }
        _ => direct(truth, fine, window, 0.0),
    }
}

/// Run level and settling of direct current, averaged over `mean_s` from each instant on.
fn direct(truth: &mut TruthStart, fine: &Fine, window: (f64, f64), mean_s: f64) {
    let mean = forward_mean(&fine.amps, ((mean_s / fine.dt).round() as usize).max(1));
    let range = fine.range((window.0, window.1 - mean_s));
    truth.run_a = median(mean[range.clone()].to_vec());
    let Some(level) = truth.run_a else { return };
    let hold = (HOLD_S / fine.dt).round() as usize;
    let mut since = range.start;
    for k in range {
        if (mean[k] - level).abs() > SETTLE_BAND * level {
            since = k + 1;
        } else if k - since >= hold {
            truth.t_settled_s = Some((since as f64 * fine.dt).max(window.0));
            return;
        }
    }
}

/// Mean of the magnitude over `count` values from each one on.
fn forward_mean(amps: &[f64], count: usize) -> Vec<f64> {
    let mut sums = vec![0.0];
    for i in amps {
        sums.push(sums[sums.len() - 1] + i.abs());
    }
    (0..amps.len())
        .map(|k| {
            let to = (k + count).min(amps.len());
            (sums[to] - sums[k]) / (to - k) as f64
        })
        .collect()
}

/// Run level, settling and share of alternating current, from its half-cycles.
fn alternating(truth: &mut TruthStart, fine: &Fine, window: (f64, f64), hz: f64) {
    let halves = half_cycles(fine, window);
    let level = |sign: f64| {
        median(
            halves
                .iter()
                .filter(|h| h.0.sign == sign)
                .map(|h| h.1)
                .collect(),
        )
    };
    let (Some(negative), Some(positive)) = (level(1.0), level(-1.0)) else {
        return;
    };
    let mut since = None;
    for (half, rms) in &halves {
        let own = if half.sign > 0.0 { negative } else { positive };
        if (rms / own - 1.0).abs() > SETTLE_BAND {
            since = None;
        } else {
            let from: f64 = *since.get_or_insert(half.on);
            if half.off - from >= HOLD_S {
                truth.t_settled_s = Some(from);
                break;
            }
        }
    }
    let cycles: Vec<(f64, f64)> = halves
        .windows(2)
        .filter(|w| w[0].0.sign > 0.0 && ((w[1].0.off - w[0].0.on) * hz - 1.0).abs() < 0.1)
        .map(|w| {
            let (a, b) = (w[0].0.len(), w[1].0.len());
            let square = (w[0].1.powi(2) * a + w[1].1.powi(2) * b) / (a + b);
            (libm::sqrt(square), a / (a + b))
        })
        .collect();
    truth.run_a = median(cycles.iter().map(|c| c.0).collect());
    truth.en_share_pct = (!cycles.is_empty())
        .then(|| 100.0 * cycles.iter().map(|c| c.1).sum::<f64>() / cycles.len() as f64);
}

/// Whole half-cycles from zero to zero of the current, the first one from the window's begin, each with its rms.
fn half_cycles(fine: &Fine, window: (f64, f64)) -> Vec<(TrueSpan, f64)> {
    let range = fine.range(window);
    let mut halves = Vec::new();
    let (mut on, mut square, mut count) = (window.0, 0.0, 0usize);
    for k in range.start + 1..range.end {
        let (a, b) = (fine.amps[k - 1], fine.amps[k]);
        square += a * a;
        count += 1;
        if a * b < 0.0 {
            let off = crossing(k, a, b, 0.0) * fine.dt;
            let sign = 1f64.copysign(a);
            halves.push((
                TrueSpan { on, off, sign },
                libm::sqrt(square / count as f64),
            ));
            (on, square, count) = (off, 0.0, 0);
        }
    }
    halves
}

/// Reversals that did not happen: the current comes back with the sign it went with, about a half-cycle later.
fn missed(conducting: &[TrueSpan], window: (f64, f64), hz: f64) -> usize {
    conducting
        .windows(2)
        .filter(|w| w[0].sign == w[1].sign)
        .filter(|w| w[0].off >= window.0 && w[1].on <= window.1)
        .filter(|w| w[1].on - w[0].off < DROPOUT_MIN_HALFCYCLES * 0.5 / hz)
        .count()
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
