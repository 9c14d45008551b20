//! Whether and how fast the current pulses: autocorrelation of its magnitude (docs/measures.md).

use rustfft::FftDirection::{Forward, Inverse};
use rustfft::num_complex::Complex;

use crate::start::find::tracker::Span;
use crate::start::measure::gaps;
use crate::start::measure::ripple;
use crate::start::measure::spectrum::{peak, transform};
use crate::start::trace::Trace;
use crate::stats::order::{median_of_magnitudes, part_in_place, range};

/// Least swing (5–95 %) of a pulsed current, as a part of its median: ripple is less.
const MIN_SWING: f64 = 0.2;
/// A pulse faster than any ripple looked for may swing by less, since its machine follows only in part: by as little as noise does not hide.
const MIN_FAST_SWING: f64 = 0.03;
/// Least autocorrelation at the period.
const MIN_CORRELATION: f64 = 0.5;
/// What is taken for a period may be this many.
const MANY: u32 = 10;
/// Least number of whole periods in the stretch.
const MIN_PERIODS: f64 = 1.8;

/// Of fewer periods of a direct current than this one cannot tell a pulse from a pedal but by its shape …
const FEW_PERIODS: f64 = 3.0;
/// … which is within this part of its swing of its two levels …
const NEAR: f64 = 0.2;
/// … for this part of the time: a rectangle nearly always, a sine wave 60 %, a triangle 40 %.
const DWELLS: f64 = 0.75;

/// Levels this part of their mean apart are two …
const APART: f64 = 0.1;
/// … and the median hangs on where the window ends where such a part of the time is spent at the upper one.
const HALF: std::ops::RangeInclusive<f64> = 0.42..=0.58;

/// This many values, evenly spread, tell it.
const ENOUGH: usize = 500;

/// A slow pulse is looked for in a trace of about this rate, Hz …
const SLOW_RATE_HZ: f64 = 10_000.0;
/// … and a fast one in this many samples as they are, up to this period.
const FAST: usize = 4096;
const FAST_PERIOD: f64 = 40.0;
/// A period of fewer samples may be the image of a faster one; a longer one only of what pulses within a tenth of the sampling rate.
const TOLD: f64 = 10.0;
/// What a ripple is the image of swings by this many times as much.
const IMAGE: f64 = 2.0;
/// Least noise of a current that moves faster than the rate shows, as a part of its median; at rest it has under a fifth of that …
const UNTOLD: f64 = 0.015;
/// … and where it ripples, which has second differences of its own.
const UNTOLD_RIPPLING: f64 = 0.04;

/// A current that goes to and fro.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Pulse {
    /// Frames.
    pub period: f64,
    /// Whether the samples are close enough to tell that period from a shorter one.
    pub told: bool,
}

/// The pulse inside a window. Dropouts are bridged, the rise behind them too: an arc that goes out at even times does not pulse.
pub(crate) fn of_window(trace: &Trace, window: Span, disturbed: &[Span]) -> Option<Pulse> {
    if let Some(pulse) = fast(&begin(trace, window, disturbed), trace.rate_hz) {
        return Some(pulse);
    }
    let block = ((trace.rate_hz / SLOW_RATE_HZ) as usize).max(1);
    let mut magnitude = trace.mean_amps(window, block);
    let from = trace.range(window).start;
    let hidden = hidden(trace, disturbed, from, (block, magnitude.len()));
    gaps::straighten(&mut magnitude, &hidden);
    let steady = &magnitude[magnitude.len() / 10..];
    let period =
        period(steady).filter(|p| steady.len() as f64 >= FEW_PERIODS * p || dwells(steady))?;
    Some(Pulse {
        period: period * block as f64,
        told: true,
    })
}

/// A pulse too fast for its samples, of which a ripple of this many percent peak to peak is an image: it swings by far more.
pub(crate) fn behind_image(
    trace: &Trace,
    window: Span,
    disturbed: &[Span],
    ripple_pct: f64,
) -> Option<Pulse> {
    let magnitude = begin(trace, window, disturbed);
    let pulse = fast(&magnitude, trace.rate_hz).filter(|pulse| !pulse.told)?;
    swings(&magnitude, IMAGE * 0.01 * ripple_pct).then_some(pulse)
}

/// The magnitude in as many samples as a fast pulse is looked for in. The first tenth of the window belongs to the rise.
fn begin(trace: &Trace, window: Span, disturbed: &[Span]) -> Vec<f64> {
    let inside = trace.range(window);
    let steady = inside.start + inside.len() / 10;
    let samples = &trace.amps[steady..inside.end.min(steady + FAST)];
    let mut magnitude: Vec<f64> = samples.iter().map(|i| i.abs()).collect();
    let hidden = hidden(trace, disturbed, steady, (1, magnitude.len()));
    gaps::straighten(&mut magnitude, &hidden);
    magnitude
}

/// Which of this many blocks of samples, from a sample on, are disturbed.
fn hidden(
    trace: &Trace,
    disturbed: &[Span],
    from: usize,
    (block, count): (usize, usize),
) -> Vec<bool> {
    let mut out = vec![false; count];
    for span in disturbed {
        let hidden = trace.range(*span);
        let on = hidden.start.saturating_sub(from) / block;
        let off = hidden.end.saturating_sub(from).div_ceil(block).min(count);
        out[on.min(off)..off].fill(true);
    }
    out
}

fn fast(magnitude: &[f64], rate_hz: f64) -> Option<Pulse> {
    // Slower ones of a smaller swing are ripple.
    let least = |period: f64| match rate_hz / period > ripple::BAND_HZ.1 {
        true => MIN_FAST_SWING,
        false => MIN_SWING,
    };
    let period = repeats(magnitude, MIN_FAST_SWING)?;
    (period < FAST_PERIOD && swings(magnitude, least(period))).then_some(Pulse {
        period,
        told: period >= TOLD,
    })
}

/// What moves faster than the samples is averaged over for this long, s.
const UNTOLD_S: f64 = 5e-3;

impl Pulse {
    /// Something that moves faster than the samples show.
    pub fn untold(rate_hz: f64) -> Pulse {
        Pulse {
            period: UNTOLD_S * rate_hz,
            told: false,
        }
    }
}

/// Whether a current of this noise moves faster than its samples show; `rest`: its noise at rest.
pub(crate) fn untold(noise: f64, amps: &[f64], rest: f64, ripples: bool) -> bool {
    let least = if ripples { UNTOLD_RIPPLING } else { UNTOLD };
    noise > 5.0 * rest && noise > least * median_of_magnitudes(amps).unwrap_or(0.0)
}

/// Pulse period in samples; `None` where the current does not pulse, or the stretch is too short to tell.
pub(crate) fn period(magnitude: &[f64]) -> Option<f64> {
    repeats(magnitude, MIN_SWING)
}

/// The period of what swings by more than the part `least` of its median.
fn repeats(magnitude: &[f64], least: f64) -> Option<f64> {
    if !swings(magnitude, least) {
        return None;
    }
    let r = autocorrelation(magnitude);
    let longest = (magnitude.len() as f64 / MIN_PERIODS) as usize;
    let below = (1..longest).find(|&lag| r[lag] < 0.0)?;
    let best = (below..longest).max_by(|a, b| r[*a].total_cmp(&r[*b]))?;
    // A multiple of the period correlates about as well: take the first lag that is nearly as good.
    let first = (below..=best).find(|&lag| r[lag] >= 0.85 * r[best] && r[lag] >= r[lag + 1])?;
    let period = (r[first] >= MIN_CORRELATION).then(|| sharpened(&r, first, longest))?;
    Some(period / f64::from(sooner(&r, period, below)))
}

/// Into how many periods a period falls: of few samples each, they correlate the less the farther they end from a sample.
fn sooner(r: &[f64], period: f64, below: usize) -> u32 {
    let near = |times: u32| r[(period / f64::from(times)).round() as usize];
    let repeats = |times: &u32| period >= below as f64 * f64::from(*times);
    let best = (2..=MANY)
        .filter(repeats)
        .max_by(|a, b| near(*a).total_cmp(&near(*b)));
    best.filter(|times| near(*times) >= MIN_CORRELATION)
        .unwrap_or(1)
}

/// Two levels between which a current goes to and fro, where about half of the values stand at either: their median is the one or
/// the other by chance.
pub(crate) fn either(magnitude: &[f64]) -> Option<[f64; 2]> {
    let every = (magnitude.len() / ENOUGH).max(1);
    let some: Vec<f64> = magnitude.iter().step_by(every).copied().collect();
    let magnitude = some.as_slice();
    let ends = ends(magnitude);
    let middle = 0.5 * (ends[0] + ends[1]);
    let upper = magnitude.iter().filter(|x| **x > middle).count() as f64;
    let part = upper / magnitude.len().max(1) as f64;
    let apart = ends[1] - ends[0] > APART * middle;
    (apart && HALF.contains(&part) && dwells(magnitude)).then_some(ends)
}

/// Its lowest and highest level, spikes left out.
fn ends(magnitude: &[f64]) -> [f64; 2] {
    let mut values = magnitude.to_vec();
    [0.05, 0.95].map(|part| part_in_place(&mut values, part).unwrap_or(0.0))
}

/// Whether a current is mostly at one of two levels: one that only comes and goes is moved by a pedal.
fn dwells(magnitude: &[f64]) -> bool {
    let ends = ends(magnitude);
    let reach = NEAR * (ends[1] - ends[0]);
    let near = |x: &&f64| ends.iter().any(|end| (**x - end).abs() <= reach);
    magnitude.iter().filter(near).count() as f64 >= DWELLS * magnitude.len() as f64
}

fn swings(magnitude: &[f64], least: f64) -> bool {
    let (low, high) = range(magnitude);
    if high - low <= least * low {
        return false;
    }
    let mut values = magnitude.to_vec();
    let mut at = |part: f64| {
        let k = ((values.len() - 1) as f64 * part) as usize;
        *values.select_nth_unstable_by(k, f64::total_cmp).1
    };
    magnitude.len() >= 8 && at(0.95) - at(0.05) > least * at(0.5)
}

/// Autocorrelation at every lag, each over the samples that overlap (unbiased), 1 at lag 0.
fn autocorrelation(x: &[f64]) -> Vec<f64> {
    let n = x.len();
    let size = (2 * n).next_power_of_two();
    let mean = x.iter().sum::<f64>() / n as f64;
    let mut bins: Vec<Complex<f64>> = x.iter().map(|v| Complex::new(v - mean, 0.0)).collect();
    bins.resize(size, Complex::default());
    transform(size, Forward).process(&mut bins);
    for b in &mut bins {
        *b = Complex::new(b.norm_sqr(), 0.0);
    }
    transform(size, Inverse).process(&mut bins);
    let zero = bins[0].re.max(f64::MIN_POSITIVE);
    (0..n)
        .map(|lag| bins[lag].re / zero * n as f64 / (n - lag) as f64)
        .collect()
}

/// The period from the farthest multiple whose peak still stands out, so that one sample of error divides by its number.
fn sharpened(r: &[f64], first: usize, longest: usize) -> f64 {
    let mut period = peak(r, first);
    for multiple in 2.. {
        let near = (period * f64::from(multiple)).round() as usize;
        if near + 2 >= longest {
            break;
        }
        let Some(top) = (near - 1..=near + 1).max_by(|a, b| r[*a].total_cmp(&r[*b])) else {
            break;
        };
        if r[top] < 0.7 * r[first] {
            break;
        }
        period = peak(r, top) / f64::from(multiple);
    }
    period
}

#[cfg(test)]
mod tests;
