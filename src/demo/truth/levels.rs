//! Levels and settling of the current that lit, steady, pulsed and alternating.

use super::facts::{
    DROPOUT_MIN_HALFCYCLES, HOLD_S, MIN_PULSES, OBSERVE_S, SETTLE_BAND, TruthStart, median,
};
use super::spans::{TrueSpan, crossing};
use crate::circuit::Fine;
use crate::scenario::{Strike, Wave};

/// A run level may be 2 % off, which moves the band: settled anywhere between these bands is inside tolerance.
const BANDS: [f64; 2] = [SETTLE_BAND + 0.02, SETTLE_BAND - 0.02];

pub(super) fn levels(
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
            count_missed(truth, conducting, window, hz);
            alternating(truth, fine, window, hz);
            if let Some(pulse) = strike.program.ac_pulse {
                pulsed_ac(truth, fine, window, 1.0 / pulse.hz, hz);
            }
        }
        Wave::Pulse { hz, .. } if (window.1 - window.0) * hz >= MIN_PULSES => {
            truth.pulse_hz = Some(hz);
            direct(truth, fine, window, 1.0 / hz);
        }
        _ => match (strike.program.ripple, strike.upslope_s) {
            (Some(ripple), _) => {
                truth.more.ripple_pct = Some(100.0 * ripple.share);
                truth.more.ripple_hz = Some(ripple.hz);
                direct(truth, fine, window, 1.0 / ripple.hz);
            }
            (None, Some(upslope_s)) => sloped(truth, strike, fine, window, upslope_s),
            (None, None) => direct(truth, fine, window, 0.0),
        },
    }
}

/// Run level and settling of direct current, averaged over `mean_s` from each instant on.
fn direct(truth: &mut TruthStart, fine: &Fine, window: (f64, f64), mean_s: f64) {
    let mean = forward_mean(&fine.amps, ((mean_s / fine.dt).round() as usize).max(1));
    let range = fine.range((window.0, window.1 - mean_s));
    truth.run_a = median(mean[range.clone()].to_vec());
    let Some(level) = truth.run_a else { return };
    let mut raw: Vec<f64> = fine.amps[fine.range(window)]
        .iter()
        .map(|i| i.abs())
        .collect();
    raw.sort_unstable_by(f64::total_cmp);
    if mean_s == 0.0 || mean_s > 1.0 / 3.0 {
        // Where the current spends half of its time on either side, the median may be anything between.
        let at = |share: f64| raw[(share * raw.len() as f64) as usize];
        truth.more.allow("run_a", at(0.47), at(0.53));
    } else if truth.more.ripple_pct.is_some() {
        let middle = raw[raw.len() / 2];
        truth.more.allow("run_a", middle, middle);
    }
    let settled = |band: f64| settled(&mean, range.clone(), fine.dt, |_| level, band);
    truth.t_settled_s = settled(SETTLE_BAND).map(|t| t.max(window.0));
    truth.allow_settled(BANDS.map(settled));
}

/// The first instant from which a current stays within a band of its target for the hold.
fn settled(
    amps: &[f64],
    range: std::ops::Range<usize>,
    dt: f64,
    target: impl Fn(usize) -> f64,
    band: f64,
) -> Option<f64> {
    let hold = (HOLD_S / dt).round() as usize;
    let mut since = range.start;
    for k in range {
        if (amps[k] - target(k)).abs() > band * target(k) {
            since = k + 1;
        } else if k - since >= hold {
            return Some(since as f64 * dt);
        }
    }
    None
}

/// A stated up-slope: settled is on the ramp that the machine was asked for.
fn sloped(truth: &mut TruthStart, strike: &Strike, fine: &Fine, window: (f64, f64), slope_s: f64) {
    let out = truth.t_out_s.unwrap_or(window.1);
    let whole = (window.0, out.min(window.0 + slope_s + OBSERVE_S));
    let level = |from: f64, to: f64| {
        median(
            fine.amps[fine.range((from, to))]
                .iter()
                .map(|i| i.abs())
                .collect(),
        )
    };
    truth.run_a = level(window.0, window.1);
    for run in [level(whole.0, whole.1), level(whole.0 + slope_s, whole.1)]
        .into_iter()
        .flatten()
    {
        truth.more.allow("run_a", run, run);
    }
    let amps: Vec<f64> = fine.amps.iter().map(|i| i.abs()).collect();
    let asked = |k: usize| {
        strike
            .program
            .asked(k as f64 * fine.dt - fine.strike_s)
            .abs()
    };
    let settled = |band: f64| settled(&amps, fine.range(whole), fine.dt, asked, band);
    truth.t_settled_s = settled(SETTLE_BAND).map(|t| t.max(window.0));
    truth.allow_settled(BANDS.map(settled));
}

impl TruthStart {
    fn allow_settled(&mut self, bands: [Option<f64>; 2]) {
        if let ([Some(first), Some(last)], Some(lit)) = (bands, self.t_lit_s) {
            self.more
                .allow("t_settled_s", first.max(lit), last.max(lit));
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
        let own = halves.iter().filter(|h| h.0.sign == sign);
        median(own.map(|h| h.1).collect())
    };
    let (Some(negative), Some(positive)) = (level(1.0), level(-1.0)) else {
        return;
    };
    let levels = [negative, positive];
    truth.t_settled_s = settled_halves(&halves, levels, SETTLE_BAND);
    truth.allow_settled(BANDS.map(|band| settled_halves(&halves, levels, band)));
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

/// Begin of the first half-cycles that stay within a band of the rms of their polarity for the hold.
fn settled_halves(halves: &[(TrueSpan, f64)], levels: [f64; 2], band: f64) -> Option<f64> {
    let mut since = None;
    for (half, rms) in halves {
        let own = levels[usize::from(half.sign < 0.0)];
        if (rms / own - 1.0).abs() > band {
            since = None;
        } else {
            let from: f64 = *since.get_or_insert(half.on);
            if half.off - from >= HOLD_S {
                return Some(from);
            }
        }
    }
    None
}

/// Alternating current that pulses settles by the mean over the pulse; where the window holds too few of them, as the half-cycles do,
/// and the median of those may be anything between.
fn pulsed_ac(truth: &mut TruthStart, fine: &Fine, window: (f64, f64), pulse_s: f64, hz: f64) {
    let square = |from: f64, to: f64| {
        let part = &fine.amps[fine.range((from, to))];
        libm::sqrt(part.iter().map(|i| i * i).sum::<f64>() / part.len() as f64)
    };
    let pulses = ((window.1 - window.0) / pulse_s) as usize;
    let over_pulses = square(window.0, window.0 + pulses.max(1) as f64 * pulse_s);
    let over_window = square(window.0, window.1);
    for run in [over_pulses, over_window] {
        truth.more.allow("run_a", run, run);
    }
    let few = (window.1 - window.0) < MIN_PULSES * pulse_s;
    truth.pulse_hz = (!few).then_some(1.0 / pulse_s);
    let by_halves = truth.t_settled_s;
    if few {
        let range = fine.range(window);
        let cycle = (1.0 / hz / fine.dt).round() as usize;
        let starts = range.start..range.end.saturating_sub(cycle);
        let mut cycles: Vec<f64> = starts
            .step_by(cycle)
            .map(|k| square(k as f64 * fine.dt, (k + cycle) as f64 * fine.dt))
            .collect();
        cycles.sort_unstable_by(f64::total_cmp);
        let at = |share: f64| cycles[(share * cycles.len() as f64) as usize];
        truth.more.allow("run_a", at(0.45), at(0.55));
    }
    let mean = forward_mean(&fine.amps, (pulse_s / fine.dt).round() as usize);
    let range = fine.range((window.0, window.1 - pulse_s));
    let Some(level) = median(mean[range.clone()].to_vec()) else {
        return;
    };
    let over_pulse = settled(&mean, range, fine.dt, |_| level, SETTLE_BAND);
    // Where neither level of too few pulses holds, the mean over them does.
    truth.t_settled_s = match few {
        true => by_halves.or(over_pulse),
        false => over_pulse,
    };
    if let Some(at) = over_pulse {
        // Half-cycles come one by one.
        truth.more.allow("t_settled_s", at, at + 1.0 / hz);
    }
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

/// Counts reversals that did not happen; one that the window's end cuts may count or not.
fn count_missed(truth: &mut TruthStart, conducting: &[TrueSpan], window: (f64, f64), hz: f64) {
    let until = |to: f64| missed(conducting, (window.0, to), hz);
    truth.missed_halfcycles = Some(until(window.1));
    let (fewest, most) = (until(window.1 - 1.0 / hz), until(window.1 + 1.0 / hz));
    truth
        .more
        .allow("missed_halfcycles", fewest as f64, most as f64);
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
