//! Wander: what is left of the arc voltage in a stated band when what the current explains is taken away.

use std::iter::successors;

use crate::start::measure::spectrum::{Density, dot, take_out_lines, take_out_power, welch};
use crate::start::measure::steps;
use crate::stats::order;

/// Range of the cathode's warm-up time constant that is searched, s, and the number of steps (even in the logarithm).
const WARM_UP_S: (f64, f64) = (0.005, 0.3);
const WARM_UP_STEPS: usize = 40;
/// The current explains nothing where its standard deviation is under this part of its mean.
const STEADY_CURRENT: f64 = 0.005;
/// A column of which only this part, in power, is not in the others explains nothing of its own.
const NEXT_TO_NOTHING: f64 = 1e-12;
/// Length of a spectral segment, s.
const SEGMENT_S: f64 = 0.5;
/// Shortest window that wander is measured in, s.
const MIN_WINDOW_S: f64 = 0.25;
/// Mains frequencies of the world, Hz.
const MAINS_HZ: [f64; 2] = [50.0, 60.0];

/// Voltage and current of a window in one polarity: samples, or one value a half-cycle.
#[derive(Debug, Clone, Default)]
pub(crate) struct Evidence {
    /// Time of each value after t_lit, s.
    pub after_lit_s: Vec<f64>,
    pub volts: Vec<f64>,
    pub amps: Vec<f64>,
    /// Values that do not count: near a dropout or a touch.
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
    /// Where it is not known, the stronger of [`MAINS_HZ`] is taken.
    pub mains_hz: Option<f64>,
    /// Of a pulse or of the rectifier's ripple.
    pub repeats_hz: Option<f64>,
}

/// What the slope b of v = a + b·i is fitted to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Slope {
    /// By all that the current does.
    Whole,
    /// By its steps alone, which a wander of the frequency of a pulse has not.
    Steps,
}

/// An even trace, ready for its spectrum.
#[derive(Debug, Clone)]
pub(crate) struct Even {
    pub rate_hz: f64,
    pub values: Vec<f64>,
    /// White noise of one value, rms.
    pub noise: f64,
    /// Part of the power that gaps have taken.
    pub missing: f64,
}

/// Wander and what goes with it.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Wander {
    pub rms: f64,
    pub strongest_hz: f64,
    pub hum_rms: f64,
    /// What repeats with the current inside the band, taken out too: the current explained it, but for this rest, V rms.
    pub repeats_rms: f64,
    /// White noise in the band that was taken off, rms.
    pub noise_rms: f64,
    pub residual: Vec<f64>,
    pub density: Density,
}

/// The most of what is found that noise of an unknown spectrum may be: √(1 − 0.85²), so that it moves the figure by 15 %.
const UNKNOWN_NOISE: f64 = 0.53;

impl Wander {
    /// Where the current moves faster than its samples, so does the voltage: what looks like its noise is the image of that, which need not
    /// lie in the band. It is put back, and nothing is reported where it might be more than the figure can bear.
    pub fn in_images(self) -> Option<Wander> {
        let rms = self.rms.hypot(self.noise_rms);
        let told = self.noise_rms < UNKNOWN_NOISE * rms;
        told.then_some(Wander { rms, ..self })
    }
}

/// Takes mains hum and pulse harmonics out of an even trace, sums its density over a band, and takes the share of white
/// noise of this many volts rms a value off it; `None` where the trace is too short or the band is empty.
pub(crate) fn band_rms(even: Even, lines: Lines, from_hz: f64, to_hz: f64) -> Option<Wander> {
    let Even {
        rate_hz,
        values: mut residual,
        noise,
        missing,
    } = even;
    let seconds = residual.len() as f64 / rate_hz;
    if seconds < MIN_WINDOW_S {
        return None;
    }
    let top = (2.0 * to_hz).min(0.45 * rate_hz);
    let hum_rms = match lines.mains_hz {
        Some(hz) => take_out_lines(&mut residual, rate_hz, harmonics(hz, top)),
        None => take_out_mains(&mut residual, rate_hz, top),
    };
    // Harmonics closer than the window can part would take the wander with them.
    let pulse = lines.repeats_hz.filter(|f| f * seconds >= 3.0);
    let pulse_lines: Vec<f64> = pulse.map_or(Vec::new(), |f| harmonics(f, top).collect());
    let inside = pulse_lines.partition_point(|f| *f <= to_hz);
    let repeats_rms = take_out_lines(&mut residual, rate_hz, pulse_lines[..inside].to_vec());
    take_out_lines(&mut residual, rate_hz, pulse_lines[inside..].to_vec());
    let density = welch(
        &residual,
        rate_hz,
        quick((SEGMENT_S * rate_hz).round() as usize),
    );
    let (raw, strongest_hz) = density.band(from_hz, to_hz)?;
    let noise_power =
        2.0 * noise.powi(2) / rate_hz * density.bins(from_hz, to_hz) as f64 * density.step_hz;
    let rms = (raw.powi(2) / (1.0 - missing.min(0.8)) - noise_power)
        .max(0.0)
        .sqrt();
    // Each line took two of the band's 2·B·T degrees of freedom; a tone between them lost nothing.
    let taken = (inside as f64 / ((to_hz - from_hz) * seconds)).min(0.5);
    let lost = repeats_rms.min(rms * (taken / (1.0 - taken)).sqrt());
    Some(Wander {
        rms: rms.hypot(lost),
        strongest_hz,
        hum_rms,
        repeats_rms,
        noise_rms: noise_power.sqrt(),
        residual,
        density,
    })
}

/// Takes the harmonics up to `top_hz` of that mains frequency out whose first ones are stronger; returns their rms.
fn take_out_mains(residual: &mut Vec<f64>, rate_hz: f64, top_hz: f64) -> f64 {
    let first = |hz: f64| {
        let highest_hz = (3.0 * hz).min(0.45 * rate_hz);
        let mut left = residual.clone();
        let power = take_out_power(&mut left, rate_hz, harmonics(hz, highest_hz), 0.0);
        (power, hz, highest_hz, left)
    };
    let [a, b] = MAINS_HZ.map(first);
    let stronger = if a.0.sqrt() > b.0.sqrt() { a } else { b };
    let (power, hz, highest_hz, left) = stronger;
    if top_hz < highest_hz {
        return take_out_lines(residual, rate_hz, harmonics(hz, top_hz));
    }
    // The first ones are out of this copy.
    *residual = left;
    let rest = harmonics(hz, top_hz).skip_while(|f| *f <= highest_hz);
    take_out_power(residual, rate_hz, rest, power).sqrt()
}

/// The largest number up to this one that a fast transform takes quickly: without a prime factor over 13.
fn quick(count: usize) -> usize {
    let rest = |n: usize| {
        let part = |n: usize, prime: usize| {
            successors(Some(n), |n| (n % prime == 0).then_some(n / prime)).last()
        };
        [2, 3, 5, 7, 11, 13]
            .into_iter()
            .fold(n, |n, prime| part(n, prime).unwrap_or(n))
    };
    (1..=count).rev().find(|n| rest(*n) == 1).unwrap_or(1)
}

fn harmonics(base_hz: f64, top_hz: f64) -> impl Iterator<Item = f64> {
    (1..)
        .map(move |k| f64::from(k) * base_hz)
        .take_while(move |f| *f <= top_hz)
}

/// Theil–Sen slope of a residual, V/s, from at most 200 block means.
pub(crate) fn drift(residual: &[f64], rate_hz: f64) -> Option<f64> {
    const MEANS: usize = 200;
    let block = residual.len().div_ceil(MEANS).max(1);
    let means: Vec<f64> = residual
        .chunks_exact(block)
        .map(|c| c.iter().sum::<f64>() / block as f64)
        .collect();
    let mut slopes: Vec<f64> = Vec::with_capacity(means.len() * means.len() / 2);
    for (j, b) in means.iter().enumerate() {
        let before = means[..j].iter().enumerate();
        slopes.extend(before.map(|(i, a)| (b - a) / (j - i) as f64));
    }
    let slope = order::median_by(&slopes, |s| s)?;
    Some(slope * rate_hz / block as f64)
}

/// What the current and the cathode's warm-up do not explain of the voltage, 0 where a value does not count; `None` where too
/// few are left: least squares v = a + b·i + c·exp(−t/τ) over the values that count, for the best τ.
///
/// Modified Gram–Schmidt, so that nearly equal columns do no harm. What does not depend on τ is taken away once.
pub(crate) fn unexplained(evidence: &Evidence, by: Slope) -> Option<Vec<f64>> {
    let explain = match by {
        Slope::Whole => by_whole,
        Slope::Steps => by_steps,
    };
    let all = [&evidence.after_lit_s, &evidence.amps, &evidence.volts];
    if !evidence.left_out.contains(&true) {
        return explain(all[0], all[1], all[2]);
    }
    let [times, amps, volts] = all.map(|values| -> Vec<f64> {
        let both = values.iter().zip(&evidence.left_out);
        both.filter(|(_, out)| !**out).map(|(x, _)| *x).collect()
    });
    let mut rest = explain(&times, &amps, &volts)?.into_iter();
    let spread = |out: &bool| {
        if *out {
            0.0
        } else {
            rest.next().unwrap_or(0.0)
        }
    };
    Some(evidence.left_out.iter().map(spread).collect())
}

fn by_whole(times: &[f64], amps: &[f64], volts: &[f64]) -> Option<Vec<f64>> {
    let with = Some(amps).filter(|amps| !is_steady(amps));
    let (residual, ohm) = fit(times, with, volts)?;
    // Fast, an arc's column is a resistance of v/i, and slower its voltage moves by less. One that moves by more wanders beside the
    // current, as where a pick-up on the current's trace happens to have the wander's frequency. Against the current it may move by any
    // amount: so it does where the arc nearly goes out.
    match ohm / resistance(amps, volts) > 1.0 {
        true => Some(fit(times, None, volts)?.0),
        false => Some(residual),
    }
}

fn by_steps(times: &[f64], amps: &[f64], volts: &[f64]) -> Option<Vec<f64>> {
    let ohm = steps::slope(volts, amps).filter(|ohm| ohm / resistance(amps, volts) <= 1.0)?;
    let rest: Vec<f64> = volts.iter().zip(amps).map(|(v, i)| v - ohm * i).collect();
    Some(fit(times, None, &rest)?.0)
}

fn resistance(amps: &[f64], volts: &[f64]) -> f64 {
    volts.iter().sum::<f64>() / amps.iter().sum::<f64>()
}

/// What a mean, the current and the warm-up leave of the voltage, and b, Ω; `None` where too few values are left.
fn fit(times: &[f64], amps: Option<&[f64]>, volts: &[f64]) -> Option<(Vec<f64>, f64)> {
    let mut residual = volts.to_vec();
    let mut explained = Regressors::default();
    explained.add(vec![1.0; residual.len()]);
    let mut beside = Regressors(explained.0.clone());
    explained
        .0
        .extend(amps.and_then(|amps| explained.normal(amps.to_vec())));
    if residual.len() <= explained.0.len() + 1 {
        return None;
    }
    explained.take_from(&mut residual);
    let warm_up = warm_up(times, &residual, &explained);
    if let Some(column) = explained.normal(warm_up.clone()) {
        let part = dot(&residual, &column);
        subtract(&mut residual, &column, part);
    }
    beside.add(warm_up);
    let own = amps.and_then(|amps| Some((amps, beside.normal(amps.to_vec())?)));
    let ohm = own.map_or(0.0, |(amps, own)| dot(volts, &own) / dot(amps, &own));
    Some((residual, ohm))
}

/// The decay of the cathode's warm-up that explains most of a residual from which the other columns are taken already.
/// What it explains varies slowly with the logarithm of τ: every few steps are looked at, then those about the best.
fn warm_up(times: &[f64], residual: &[f64], others: &Regressors) -> Vec<f64> {
    const STRIDE: usize = 4;
    let ratio = WARM_UP_S.1 / WARM_UP_S.0;
    let tau = |k: usize| WARM_UP_S.0 * ratio.powf(k as f64 / (WARM_UP_STEPS - 1) as f64);
    let even = is_even(times);
    let explains = |k: usize| {
        let column = decay(times, even, tau(k));
        // The square of its part in the residual, for as much of it as is not in the others.
        let own = others.0.iter().map(|q| dot(&column, q).powi(2));
        let (whole, shared) = (dot(&column, &column), own.sum::<f64>());
        let free = whole - shared;
        if free > NEXT_TO_NOTHING * whole {
            dot(residual, &column).powi(2) / free
        } else {
            0.0
        }
    };
    let best = |steps: &mut dyn Iterator<Item = usize>| {
        let scored = steps.map(|k| (explains(k), k));
        scored.max_by(|a, b| a.0.total_cmp(&b.0)).map_or(0, |s| s.1)
    };
    let near = best(&mut (0..WARM_UP_STEPS).step_by(STRIDE));
    let about = near.saturating_sub(STRIDE - 1)..(near + STRIDE).min(WARM_UP_STEPS);
    decay(times, even, tau(best(&mut about.into_iter())))
}

/// exp(−t/τ) at rising times. Where they are evenly spaced, as block means are, from a table of the first few.
fn decay(times: &[f64], even: bool, tau: f64) -> Vec<f64> {
    const TABLE: usize = 64;
    let exp = |t: &f64| (-t / tau).exp();
    if !even {
        return times.iter().map(exp).collect();
    }
    let head = &times[..times.len().min(TABLE)];
    let table: Vec<f64> = head.iter().map(|t| (-(t - times[0]) / tau).exp()).collect();
    let mut values = Vec::with_capacity(times.len());
    for piece in times.chunks(TABLE) {
        let first = exp(&piece[0]);
        values.extend(table[..piece.len()].iter().map(|x| first * x));
    }
    values
}

fn is_even(times: &[f64]) -> bool {
    let [first, second, ..] = *times else {
        return false;
    };
    let step = second - first;
    let off = |(k, t): (usize, &f64)| (t - first - k as f64 * step).abs();
    times.iter().enumerate().map(off).fold(0.0, f64::max) < 1e-6 * step
}

fn is_steady(amps: &[f64]) -> bool {
    let n = amps.len() as f64;
    let mean = amps.iter().sum::<f64>() / n;
    let variance = amps.iter().map(|a| (a - mean).powi(2)).sum::<f64>() / n;
    variance.sqrt() < STEADY_CURRENT * mean.abs()
}

/// Orthonormal columns.
#[derive(Default)]
struct Regressors(Vec<Vec<f64>>);

impl Regressors {
    /// A column without what the others hold of it, of length 1; `None` where nothing is left.
    fn normal(&self, mut column: Vec<f64>) -> Option<Vec<f64>> {
        let before = dot(&column, &column);
        self.take_from(&mut column);
        let norm = dot(&column, &column);
        (norm > NEXT_TO_NOTHING * before).then(|| {
            column.iter_mut().for_each(|x| *x /= norm.sqrt());
            column
        })
    }

    fn add(&mut self, column: Vec<f64>) {
        let normal = self.normal(column);
        self.0.extend(normal);
    }

    fn take_from(&self, values: &mut [f64]) {
        for q in &self.0 {
            let part = dot(values, q);
            subtract(values, q, part);
        }
    }
}

fn subtract(from: &mut [f64], q: &[f64], part: f64) {
    for (x, q) in from.iter_mut().zip(q) {
        *x -= part * q;
    }
}

#[cfg(test)]
mod tests;
