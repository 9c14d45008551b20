//! Whether and how fast the current pulses: autocorrelation of its magnitude (docs/measures.md).

use rustfft::FftDirection::{Forward, Inverse};
use rustfft::num_complex::Complex;

use crate::start::find::tracker::Span;
use crate::start::measure::gaps;
use crate::start::measure::spectrum::{peak, transform};
use crate::start::trace::Trace;
use crate::stats::order::{median_of_magnitudes, part_in_place, range};

/// Least swing (5–95 %) of a pulsed current, as a part of its median: ripple is less.
const MIN_SWING: f64 = 0.2;
/// Least autocorrelation at the period.
const MIN_CORRELATION: f64 = 0.5;
/// What is taken for a period may be so many.
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

/// So many values, evenly spread, tell it.
const ENOUGH: usize = 500;

/// A slow pulse is looked for in a trace of about this rate, Hz …
const SLOW_RATE_HZ: f64 = 10_000.0;
/// … and a fast one in so many samples as they are, up to this period.
const FAST: usize = 4096;
const FAST_PERIOD: f64 = 40.0;
/// A period of fewer samples may be the image of a faster one; a longer one only of what pulses within a tenth of the sampling rate.
const TOLD: f64 = 10.0;
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
    let inside = trace.range(window);
    // The first tenth belongs to the rise.
    let steady = inside.start + inside.len() / 10;
    let out = |from: usize, block: usize, count: usize| {
        let mut out = vec![false; count];
        for span in disturbed {
            let hidden = trace.range(*span);
            let on = hidden.start.saturating_sub(from) / block;
            let off = hidden.end.saturating_sub(from).div_ceil(block).min(count);
            out[on.min(off)..off].fill(true);
        }
        out
    };
    let fast = steady..inside.end.min(steady + FAST);
    let mut magnitude: Vec<f64> = trace.amps[fast].iter().map(|i| i.abs()).collect();
    let hidden = out(steady, 1, magnitude.len());
    gaps::straighten(&mut magnitude, &hidden);
    if let Some(period) = period(&magnitude).filter(|p| *p < FAST_PERIOD) {
        let told = period >= TOLD;
        return Some(Pulse { period, told });
    }
    let block = ((trace.rate_hz / SLOW_RATE_HZ) as usize).max(1);
    let mut magnitude = trace.mean_amps(window, block);
    let hidden = out(inside.start, block, magnitude.len());
    gaps::straighten(&mut magnitude, &hidden);
    let steady = &magnitude[magnitude.len() / 10..];
    let period =
        period(steady).filter(|p| steady.len() as f64 >= FEW_PERIODS * p || dwells(steady))?;
    Some(Pulse {
        period: period * block as f64,
        told: true,
    })
}

/// What moves faster than the samples is averaged over for so long, s.
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
    if !swings(magnitude) {
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

fn swings(magnitude: &[f64]) -> bool {
    let (low, high) = range(magnitude);
    if high - low <= MIN_SWING * low {
        return false;
    }
    let mut values = magnitude.to_vec();
    let mut at = |part: f64| {
        let k = ((values.len() - 1) as f64 * part) as usize;
        *values.select_nth_unstable_by(k, f64::total_cmp).1
    };
    magnitude.len() >= 8 && at(0.95) - at(0.05) > MIN_SWING * at(0.5)
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
mod tests {
    use super::*;

    #[test]
    fn the_period_of_a_rectangular_pulse_is_found_to_a_fiftieth_of_a_sample() {
        let wave: Vec<f64> = (0..4000)
            .map(|k| {
                if (f64::from(k) / 37.3).fract() < 0.4 {
                    120.0
                } else {
                    30.0
                }
            })
            .collect();
        assert!((period(&wave).unwrap() - 37.3).abs() < 0.02);
    }

    #[test]
    fn a_ramp_and_a_ripple_are_no_pulse() {
        let ramp: Vec<f64> = (0..2000).map(|k| 20.0 + 0.05 * f64::from(k)).collect();
        let ripple: Vec<f64> = (0..2000)
            .map(|k| 80.0 + 3.0 * (f64::from(k) * 0.3).sin())
            .collect();
        assert_eq!((period(&ramp), period(&ripple)), (None, None));
    }

    #[test]
    fn the_period_of_a_slow_pulse_is_as_exact() {
        let level = |k| {
            if (f64::from(k) / 373.3).fract() < 0.4 {
                120.0
            } else {
                30.0
            }
        };
        let wave: Vec<f64> = (0..4000).map(level).collect();
        let seen = period(&wave).unwrap();
        assert!((seen - 373.3).abs() < 0.5, "{seen}");
    }

    /// Seven and a half samples a period repeat best after fifteen; six and three fifths after thirty-three.
    #[test]
    fn a_period_between_the_samples_is_not_taken_for_its_multiple() {
        for true_period in [7.48, 6.6, 5.62] {
            let level = |k: u32| {
                if (f64::from(k) / true_period).fract() < 0.45 {
                    100.0
                } else {
                    40.0
                }
            };
            let wave: Vec<f64> = (0..4000).map(level).collect();
            let seen = period(&wave).unwrap();
            assert!((seen - true_period).abs() < 0.02, "{seen}");
        }
    }

    /// Half of the power is chance: the correlation at the period is about 0.5 to 0.7, that of neighbours no less.
    #[test]
    fn a_pulse_is_found_under_noise() {
        let mut chance = crate::demo::Chance::new(5, 0);
        let wave: Vec<f64> = (0..4000)
            .map(|k| {
                let level = match k % 400 {
                    0..160 => 120.0,
                    _ => 30.0,
                };
                level + 30.0 * chance.normals().0
            })
            .collect();
        let seen = period(&wave).unwrap();
        assert!((seen - 400.0).abs() < 8.0, "{seen}");
    }

    /// docs/measures.md: the swing from the 5th to the 95th percentile is over 20 % of the median, and the stretch holds 1.8 periods.
    #[test]
    fn a_pulse_swings_by_a_fifth_and_repeats_nearly_twice() {
        let square = |count: usize, high: f64| -> Vec<f64> {
            let level = |k| if k % 200 < 100 { 100.0 } else { high };
            (0..count).map(level).collect()
        };
        assert!(period(&square(2000, 122.0)).is_some());
        let mut spike = square(2000, 119.0);
        spike[700] = 300.0;
        assert_eq!(period(&spike), None);
        assert_eq!(period(&square(2000, 119.0)), None);
        let near = |seen: Option<f64>| (seen.unwrap() - 200.0).abs() < 1.0;
        assert!(near(period(&square(380, 150.0))));
        assert_eq!(period(&square(340, 150.0)), None);
        assert_eq!(
            period(&[100.0, 50.0, 100.0, 50.0, 100.0, 50.0, 100.0]),
            None
        );
    }

    /// A foot goes to and fro and dwells nowhere; what does so for longer than a foot would is the machine's.
    #[test]
    fn a_pedal_that_comes_back_once_is_no_pulse() {
        let pulses = |hz: f64, wave: &dyn Fn(f64) -> f64| {
            let amps = (0..2000).map(|k| 80.0 + 25.0 * wave(hz * f64::from(k) / 2000.0));
            let trace = Trace {
                rate_hz: 2000.0,
                first: 0,
                amps: amps.collect(),
                volts: Vec::new(),
            };
            let window = Span {
                on: 0.0,
                off: 2000.0,
            };
            of_window(&trace, window, &[]).is_some()
        };
        let foot = |x: f64| (std::f64::consts::TAU * x).sin();
        let machine = |x: f64| if x.fract() < 0.5 { 1.0 } else { -1.0 };
        assert_eq!([2.2, 4.0].map(|hz| pulses(hz, &foot)), [false, true]);
        assert_eq!([2.2, 4.0].map(|hz| pulses(hz, &machine)), [true, true]);
    }

    /// 100 A and 60 A by turns: 45 % of the time is too near to half, 30 % is not, nor are levels 5 % apart, nor a pedal's ramp.
    #[test]
    fn a_median_between_two_levels_is_the_one_or_the_other() {
        let turns = |part: f64, low: f64| -> Vec<f64> {
            let level = |k: u32| {
                if f64::from(k) < 1000.0 * part {
                    100.0
                } else {
                    low
                }
            };
            (0..1000).map(level).collect()
        };
        assert_eq!(either(&turns(0.45, 60.0)), Some([60.0, 100.0]));
        assert_eq!(either(&turns(0.3, 60.0)), None);
        assert_eq!(either(&turns(0.45, 95.0)), None);
        let ramp: Vec<f64> = (0..1000).map(|k| 50.0 + 0.05 * f64::from(k)).collect();
        assert_eq!(either(&ramp), None);
    }

    /// White chance swings enough and repeats nothing.
    #[test]
    fn a_current_that_swings_without_a_period_is_no_pulse() {
        let mut chance = crate::demo::Chance::new(4, 0);
        let wave: Vec<f64> = (0..2000)
            .map(|_| 80.0 + 30.0 * chance.normals().0)
            .collect();
        assert_eq!(period(&wave), None);
    }
}
