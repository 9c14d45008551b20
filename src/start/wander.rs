//! Wander: what is left of the arc voltage in a stated band when what the current explains is taken away.

use super::spectrum::{Density, take_out_lines, welch};

/// Range of the cathode's warm-up time constant that is searched, s, and the number of steps (even in the logarithm).
const WARM_UP_S: (f64, f64) = (0.005, 0.3);
const WARM_UP_STEPS: usize = 40;
/// The current explains nothing where its standard deviation is under this part of its mean.
const STEADY_CURRENT: f64 = 0.005;
/// Length of a spectral segment, s.
const SEGMENT_S: f64 = 0.5;
/// Shortest window that wander is measured in, s.
const MIN_WINDOW_S: f64 = 0.25;

/// Voltage and current of a window in one polarity: samples, or one value a half-cycle.
#[derive(Debug, Clone, Default)]
pub(crate) struct Evidence {
    /// Time of each value after t_lit, s.
    pub after_lit_s: Vec<f64>,
    pub volts: Vec<f64>,
    pub amps: Vec<f64>,
    /// Values to be bridged: near a dropout or a touch.
    pub left_out: Vec<bool>,
}

impl Evidence {
    /// Adds a value.
    pub fn push(&mut self, after_lit_s: f64, volts: f64, amps: f64, left_out: bool) {
        self.after_lit_s.push(after_lit_s);
        self.volts.push(volts);
        self.amps.push(amps);
        self.left_out.push(left_out);
    }
}

/// What is known of lines that are no wander.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Lines {
    pub mains_hz: f64,
    pub pulse_hz: Option<f64>,
}

/// An even trace, ready for its spectrum.
#[derive(Debug, Clone)]
pub(crate) struct Even {
    pub rate_hz: f64,
    pub values: Vec<f64>,
    /// White noise of one value, rms.
    pub noise: f64,
    /// Part of the values that is bridged, not measured.
    pub bridged: f64,
}

/// Wander and what goes with it.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Wander {
    pub rms: f64,
    pub strongest_hz: f64,
    pub hum_rms: f64,
    pub residual: Vec<f64>,
    pub density: Density,
}

/// What the current and the cathode's warm-up do not explain of the voltage, bridged where values are left out;
/// `None` where too few are left.
pub(crate) fn residual(evidence: &Evidence) -> Option<Vec<f64>> {
    Some(bridged(unexplained(evidence)?, &evidence.left_out))
}

/// Takes mains hum and pulse harmonics out of an even trace, sums its density over a band, and takes the share of white
/// noise of so many volts rms a value off it; `None` where the trace is too short or the band is empty.
pub(crate) fn band_rms(even: Even, lines: Lines, from_hz: f64, to_hz: f64) -> Option<Wander> {
    let Even {
        rate_hz,
        values: mut residual,
        noise,
        bridged,
    } = even;
    let seconds = residual.len() as f64 / rate_hz;
    if seconds < MIN_WINDOW_S {
        return None;
    }
    let top = (2.0 * to_hz).min(0.45 * rate_hz);
    let hum_rms = take_out_lines(&mut residual, rate_hz, harmonics(lines.mains_hz, top));
    // Harmonics closer than the window can part would take the wander with them.
    let pulse = lines.pulse_hz.filter(|f| f * seconds >= 3.0);
    let pulse_lines: Vec<f64> = pulse.map_or(Vec::new(), |f| harmonics(f, top).collect());
    take_out_lines(&mut residual, rate_hz, pulse_lines.iter().copied());
    let density = welch(&residual, rate_hz, (SEGMENT_S * rate_hz).round() as usize);
    let (raw, strongest_hz) = density.band(from_hz, to_hz)?;
    let noise_power =
        2.0 * noise.powi(2) / rate_hz * density.bins(from_hz, to_hz) as f64 * density.step_hz;
    // What was bridged has next to nothing in the band: the rest stands for it.
    let rms = (raw.powi(2) / (1.0 - bridged.min(0.8)) - noise_power)
        .max(0.0)
        .sqrt();
    // Each line took two of the band's 2·B·T degrees of freedom.
    let taken =
        pulse_lines.iter().filter(|f| **f <= to_hz).count() as f64 / ((to_hz - from_hz) * seconds);
    Some(Wander {
        rms: rms / (1.0 - taken.min(0.5)).sqrt(),
        strongest_hz,
        hum_rms,
        residual,
        density,
    })
}

fn harmonics(base_hz: f64, top_hz: f64) -> impl Iterator<Item = f64> {
    (1..)
        .map(move |k| f64::from(k) * base_hz)
        .take_while(move |f| *f <= top_hz)
}

/// Least squares v = a + b·i + c·exp(−t/τ) over the values that count, for the best τ; returns v less the fit at all of them.
fn unexplained(evidence: &Evidence) -> Option<Vec<f64>> {
    let kept: Vec<usize> = (0..evidence.volts.len())
        .filter(|k| !evidence.left_out[*k])
        .collect();
    let steady = is_steady(&evidence.amps, &kept);
    let columns = |tau: f64| -> Vec<Vec<f64>> {
        let warm = evidence
            .after_lit_s
            .iter()
            .map(|t| (-t / tau).exp())
            .collect();
        let mut columns = vec![vec![1.0; evidence.volts.len()], warm];
        if !steady {
            columns.push(evidence.amps.clone());
        }
        columns
    };
    let ratio = WARM_UP_S.1 / WARM_UP_S.0;
    (0..WARM_UP_STEPS)
        .map(|k| WARM_UP_S.0 * ratio.powf(k as f64 / (WARM_UP_STEPS - 1) as f64))
        .filter_map(|tau| fitted(&evidence.volts, &columns(tau), &kept))
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, residual)| residual)
}

fn is_steady(amps: &[f64], kept: &[usize]) -> bool {
    let n = kept.len() as f64;
    let mean = kept.iter().map(|k| amps[*k]).sum::<f64>() / n;
    let variance = kept.iter().map(|k| (amps[*k] - mean).powi(2)).sum::<f64>() / n;
    variance.sqrt() < STEADY_CURRENT * mean.abs()
}

/// (sum of squares over the kept values, residual at all): modified Gram–Schmidt, so that nearly equal columns do no harm.
fn fitted(values: &[f64], columns: &[Vec<f64>], kept: &[usize]) -> Option<(f64, Vec<f64>)> {
    if kept.len() <= columns.len() {
        return None;
    }
    let dot = |a: &[f64], b: &[f64]| kept.iter().map(|k| a[*k] * b[*k]).sum::<f64>();
    let mut basis: Vec<Vec<f64>> = Vec::new();
    for column in columns {
        let mut rest = column.clone();
        let before = dot(&rest, &rest);
        for q in &basis {
            let part = dot(&rest, q);
            subtract(&mut rest, q, part);
        }
        let norm = dot(&rest, &rest);
        if norm > 1e-12 * before {
            rest.iter_mut().for_each(|x| *x /= norm.sqrt());
            basis.push(rest);
        }
    }
    let mut residual = values.to_vec();
    for q in &basis {
        let part = dot(&residual, q);
        subtract(&mut residual, q, part);
    }
    Some((dot(&residual, &residual), residual))
}

fn subtract(from: &mut [f64], q: &[f64], part: f64) {
    for (x, q) in from.iter_mut().zip(q) {
        *x -= part * q;
    }
}

/// Straight lines across what is left out; at an end, the nearest value.
fn bridged(mut trace: Vec<f64>, left_out: &[bool]) -> Vec<f64> {
    let mut k = 0;
    while k < trace.len() {
        if !left_out[k] {
            k += 1;
            continue;
        }
        let end = (k..trace.len())
            .find(|j| !left_out[*j])
            .unwrap_or(trace.len());
        let after = trace.get(end).copied();
        let before = k.checked_sub(1).map(|j| trace[j]);
        let (a, b) = (
            before.or(after).unwrap_or(0.0),
            after.or(before).unwrap_or(0.0),
        );
        let steps = (end - k + 1) as f64;
        for (j, x) in trace[k..end].iter_mut().enumerate() {
            *x = a + (b - a) * (j + 1) as f64 / steps;
        }
        k = end;
    }
    trace
}
