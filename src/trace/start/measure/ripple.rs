//! Ripple of the machine's rectifier on direct current: how much, how fast (docs/measures.md).

use rustfft::FftDirection::Forward;
use rustfft::num_complex::Complex;

use crate::start::find::tracker::Span;
use crate::start::measure::spectrum::{peak, transform};
use crate::start::measure::transition::moving_mean;
use crate::start::trace::Trace;
use crate::stats::order;

/// Slowest and fastest ripple that is looked for, Hz: half a wave of 50 Hz mains, and two six-pulse bridges on 60 Hz, or a
/// generator that runs fast.
pub(crate) const BAND_HZ: (f64, f64) = (45.0, 900.0);
/// Looked for in a trace of about this rate, Hz.
const RATE_HZ: f64 = 10_000.0;
/// Values a period at the least.
const MIN_VALUES: f64 = 6.0;
/// Least ripple that is reported, peak to peak as a part of the run level …
const LEAST: f64 = 0.01;
/// … and in standard deviations of the noise that is left in the mean period.
const LEAST_SIGMAS: f64 = 8.0;
/// Part of what moves that fast that must repeat.
const REPEATS: f64 = 0.5;
/// Places of the mean period at the most.
const PLACES: f64 = 48.0;
/// A current is within this part of its swing of one of its two levels …
const NEAR: f64 = 0.12;
/// … for this part of the time where it pulses: a rectangle nearly always, half a wave 70 %, a sine wave 46 %, a saw 24 % …
const PULSES: f64 = 0.75;
/// … or this part, of this many places a period or more, with a quarter of the time at either: a machine that lets its current fall slowly
/// still pulses, and the crest of half a wave is not flat.
const PULSES_SLOWLY: (f64, usize, f64) = (0.55, 16, 0.25);
/// Faster than six pulses of a 60 Hz mains, with room for a generator that runs fast, Hz, is a rectifier of twelve, which leaves 3.4 %
/// (closed form): what swings by more than this part of the level there is a machine's pulse, whatever its shape.
const DEEP: (f64, f64) = (450.0, 0.2);
/// No rectifier holds its crest for such a part of the period (six pulses 34 %, full waves 32 %).
const HOLDS: f64 = 0.4;

/// A line in the band is a harmonic of a pulse under it where up to this many of its periods …
const SLOWER: u32 = 4;
/// … repeat by this multiple of what one does.
const SLOWER_TIMES: f64 = 1.5;

/// Ripple on a direct current.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Ripple {
    /// Frames.
    pub period: f64,
    /// Peak to peak, percent of the mean.
    pub pct: f64,
}

/// The ripple inside a window, what is near interruptions left out; `None` where there is none over the noise, where the window is
/// too short, and where the current goes to and fro between two levels, as a pulse does.
pub(crate) fn of_window(trace: &Trace, window: Span, left_out: &[Span]) -> Option<Ripple> {
    let block = ((trace.rate_hz / RATE_HZ) as usize).max(1);
    let from = trace.range(window).start;
    let values = trace.mean_amps(window, block);
    let rate_hz = trace.rate_hz / block as f64;
    let out: Vec<bool> = (0..values.len())
        .map(|k| {
            let at = trace.frame((from + k * block) as f64);
            left_out.iter().any(|s| at >= s.on && at <= s.off)
        })
        .collect();
    // The first fifth belongs to the rise.
    let begin = values.len() / 5;
    let found = ripple(&values[begin..], &out[begin..], rate_hz)?;
    Some(Ripple {
        period: found.period * block as f64,
        ..found
    })
}

/// The ripple of an even trace, its period in values.
fn ripple(values: &[f64], out: &[bool], rate_hz: f64) -> Option<Ripple> {
    let kept = |values: &[f64]| -> Vec<f64> {
        let both = values.iter().zip(out);
        both.filter(|(_, out)| !**out).map(|(x, _)| *x).collect()
    };
    let kept = kept(values);
    let level = kept.iter().sum::<f64>() / kept.len().max(1) as f64;
    let slow = moving_mean(values.to_vec(), rate_hz / BAND_HZ.0);
    let mut moving: Vec<f64> = values.iter().zip(&slow).map(|(x, s)| x - s).collect();
    moving
        .iter_mut()
        .zip(out)
        .filter(|(_, out)| **out)
        .for_each(|(x, _)| *x = 0.0);
    let noise = order::noise(values);
    // A sine wave of the least ripple has an rms of its peak to peak over √8.
    let least = (LEAST * level / 8f64.sqrt()).max(noise);
    if rms(&moving) < least {
        return None;
    }
    let period = strongest(&moving, rate_hz)?;
    let (fast, mean) = repeated(values, out, period)?;
    let slower = (2..=SLOWER).map(|times| f64::from(times) * period);
    let slower = slower.filter(|period| rate_hz / period < BAND_HZ.0);
    let of_slower = |period| {
        let longer = repeated(values, out, period);
        longer.is_some_and(|(_, longer)| variance(&longer) > SLOWER_TIMES * variance(&mean))
    };
    if slower.into_iter().any(of_slower) {
        return None;
    }
    let (low, high) = order::range(&mean);
    let (swing, repeats) = (high - low, variance(&mean) / variance_of(&fast));
    let left = noise / (fast.len() as f64 / mean.len() as f64).sqrt();
    let told = swing >= (LEAST * level).max(LEAST_SIGMAS * left) && repeats >= REPEATS;
    let ends = dwells(&mean, (low, swing));
    let (part, places, each) = PULSES_SLOWLY;
    let slowly = mean.len() >= places && ends.iter().all(|end| *end >= each);
    let pulses = ends[0] + ends[1] >= if slowly { part } else { PULSES };
    let holds = mean.len() >= places && ends[1] >= HOLDS;
    let deep = rate_hz / period > DEEP.0 && swing > DEEP.1 * level;
    (told && !pulses && !holds && !deep).then_some(Ripple {
        period,
        pct: 100.0 * swing / level,
    })
}

/// Which parts of a mean period are at its lower and at its upper level.
fn dwells(mean: &[f64], (low, swing): (f64, f64)) -> [f64; 2] {
    let share = |near: &dyn Fn(f64) -> bool| {
        let values = mean.iter().filter(|x| near((**x - low) / swing));
        values.count() as f64 / mean.len() as f64
    };
    [share(&|part| part < NEAR), share(&|part| part > 1.0 - NEAR)]
}

/// Values with their places.
type Placed = Vec<(usize, f64)>;

/// What moves about the mean over a period, with its places, and the mean period of it.
fn repeated(values: &[f64], out: &[bool], period: f64) -> Option<(Placed, Vec<f64>)> {
    let slow = moving_mean(values.to_vec(), period);
    let edge = period.ceil() as usize;
    let inside = edge..values.len().checked_sub(edge)?;
    let fast = inside
        .filter(|k| !out[*k])
        .map(|k| (k, values[k] - slow[k]));
    let fast: Vec<(usize, f64)> = fast.collect();
    let mean = folded(&fast, period)?;
    Some((fast, mean))
}

fn rms(values: &[f64]) -> f64 {
    variance(values).sqrt()
}

/// About zero.
fn variance(values: &[f64]) -> f64 {
    values.iter().map(|x| x * x).sum::<f64>() / values.len().max(1) as f64
}

fn variance_of(values: &[(usize, f64)]) -> f64 {
    values.iter().map(|(_, x)| x * x).sum::<f64>() / values.len().max(1) as f64
}

/// Period, in values, of the strongest line in the band.
fn strongest(moving: &[f64], rate_hz: f64) -> Option<f64> {
    let n = moving.len();
    let size = n.next_power_of_two();
    let hann = |k: usize| 0.5 - 0.5 * (std::f64::consts::TAU * k as f64 / n as f64).cos();
    let weighted = moving
        .iter()
        .enumerate()
        .map(|(k, x)| Complex::new(x * hann(k), 0.0));
    let mut bins: Vec<Complex<f64>> = weighted.collect();
    bins.resize(size, Complex::default());
    transform(size, Forward).process(&mut bins);
    // Between its bins a Hann line is a parabola in the logarithm.
    let height: Vec<f64> = bins[..size / 2]
        .iter()
        .map(|b| b.norm_sqr().max(1e-300).ln())
        .collect();
    let bin = |hz: f64| (hz / rate_hz * size as f64) as usize;
    let to_hz = BAND_HZ.1.min(rate_hz / MIN_VALUES);
    let band = bin(BAND_HZ.0).max(1)..bin(to_hz).min(height.len().checked_sub(1)?);
    let top = band.max_by(|a, b| height[*a].total_cmp(&height[*b]))?;
    // At the band's end it may be the foot of a line outside, such as a pulse's.
    let is_line = height[top] >= height[top - 1].max(height[top + 1]);
    is_line.then(|| size as f64 / peak(&height, top))
}

/// The mean period, place by place.
fn folded(values: &[(usize, f64)], period: f64) -> Option<Vec<f64>> {
    let places = (period as usize).clamp(MIN_VALUES as usize, PLACES as usize);
    let (mut sums, mut counts) = (vec![0.0; places], vec![0.0; places]);
    for (k, x) in values {
        let at = ((*k as f64 / period).fract() * places as f64) as usize;
        sums[at.min(places - 1)] += x;
        counts[at.min(places - 1)] += 1.0;
    }
    let there = sums.iter().zip(&counts).filter(|(_, count)| **count > 0.0);
    let mean: Vec<f64> = there.map(|(sum, count)| sum / count).collect();
    (mean.len() >= MIN_VALUES as usize).then_some(mean)
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE: f64 = 10_000.0;

    fn seen(wave: impl Fn(f64) -> f64) -> Option<Ripple> {
        let values: Vec<f64> = (0..8000).map(|k| wave(f64::from(k) / RATE)).collect();
        ripple(&values, &vec![false; values.len()], RATE)
    }

    fn near(seen: f64, expected: f64, part: f64) {
        assert!(
            (seen / expected - 1.0).abs() < part,
            "{seen} is not {expected}"
        );
    }

    /// Ripple factor (rms of what alternates over the mean) and peak to peak over the mean of the uncontrolled rectifiers, from
    /// their waveforms. Source: the closed forms of any textbook of power electronics: √(π²/4 − 1) = 1.21 and π for one pulse a
    /// period, √(π²/8 − 1) = 0.483 and π/2 for two, 0.042 and (1 − cos 30°)·π/3 = 0.140 for six.
    #[test]
    fn ripple_of_rectifiers_is_that_of_their_closed_forms() {
        let pi = std::f64::consts::PI;
        let half = |t: f64| (2.0 * pi * 50.0 * t).sin().max(0.0);
        let full = |t: f64| (2.0 * pi * 50.0 * t).sin().abs();
        let six = |t: f64| {
            let turn = (300.0 * t).fract() - 0.5;
            (turn * pi / 3.0).cos()
        };
        type Wave<'a> = &'a dyn Fn(f64) -> f64;
        let cases: [(Wave, f64, f64, f64, f64); 3] = [
            (&half, 50.0, 1.0 / pi, 1.211, pi),
            (&full, 100.0, 2.0 / pi, 0.483, 0.5 * pi),
            (&six, 300.0, 3.0 / pi, 0.042, 0.1403),
        ];
        for (wave, hz, mean, factor, swing) in cases {
            let values: Vec<f64> = (0..10_000).map(|k| wave(f64::from(k) / RATE)).collect();
            let seen_mean = values.iter().sum::<f64>() / 1e4;
            near(seen_mean, mean, 0.002);
            let moving: Vec<f64> = values.iter().map(|x| x - seen_mean).collect();
            near(rms(&moving) / seen_mean, factor, 0.01);
            // On a current that never goes out: a tenth of it on a steady level, so that level and mean are one.
            let found = seen(|t| 100.0 * (1.0 + 0.1 * (wave(t) - mean) / mean)).unwrap();
            near(found.period, RATE / hz, 0.001);
            near(found.pct, 10.0 * swing, 0.06);
        }
    }

    #[test]
    fn sine_saw_and_generator_are_told_and_a_rectangle_is_not() {
        let wave =
            |hz: f64, of: &dyn Fn(f64) -> f64| seen(|t| 80.0 * (1.0 + 0.25 * of((hz * t).fract())));
        let sine = |x: f64| 0.5 * (std::f64::consts::TAU * x).sin();
        let saw = |x: f64| x - 0.5;
        let rectangle = |x: f64| if x < 0.4 { 0.5 } else { -0.5 };
        for hz in [100.0, 122.8, 360.0] {
            let found = wave(hz, &sine).unwrap();
            near(found.pct, 25.0, 0.03);
            near(found.period, RATE / hz, 0.001);
            // A place of the mean period is as long as a sample: of a saw it loses a part of either end.
            near(wave(hz, &saw).unwrap().pct, 25.0, 0.1);
            assert_eq!(wave(hz, &rectangle), None);
        }
    }

    /// 410 Hz between 50 A and 150 A, which takes a third of the period to fall, as a low arc voltage lets it.
    #[test]
    fn a_pulse_that_falls_slowly_is_no_ripple() {
        let pulse = |t: f64| match (410.0 * t).fract() {
            x if x < 0.06 => 50.0 + 100.0 * x / 0.06,
            x if x < 0.36 => 150.0,
            x if x < 0.68 => 150.0 - 100.0 * (x - 0.36) / 0.32,
            _ => 50.0,
        };
        assert_eq!(seen(pulse), None);
        let saw = |t: f64| match (410.0 * t).fract() {
            x if x < 0.1 => 50.0 + 1000.0 * x,
            x if x < 0.55 => 150.0,
            x => 150.0 - 100.0 * (x - 0.55) / 0.45,
        };
        assert_eq!(seen(saw), None);
    }

    /// 786 Hz between 60 A and 160 A, which takes most of a period to rise and fall: no rectifier swings so far so fast.
    #[test]
    fn a_deep_swing_faster_than_any_rectifier_s_is_no_ripple() {
        let triangle = |x: f64| 1.0 - (2.0 * x - 1.0).abs();
        let wave = |amps: f64| seen(|t| 110.0 + amps * (triangle((786.0 * t).fract()) - 0.5));
        assert_eq!(wave(100.0), None);
        // A place of the mean period, of twelve, loses a part of either end.
        near(wave(10.0).unwrap().pct, 9.1, 0.2);
    }

    /// A pulse of 36.5 Hz is too slow for ripple, and its harmonics at 73 and 109.5 Hz are its own.
    #[test]
    fn the_harmonics_of_a_slow_pulse_are_no_ripple() {
        for duty in [0.33, 0.5, 0.65] {
            let pulse = |t: f64| if (36.5 * t).fract() < duty { 1.0 } else { 0.4 };
            let slow = |t: f64| (0..8).map(|k| pulse(t + 2e-4 * f64::from(k))).sum::<f64>();
            assert_eq!(seen(|t| 10.0 * slow(t)), None);
        }
    }

    /// A pulse of 8871 Hz in 10,000 samples a second shows as one of 1129 Hz: over what is looked for, and no ripple at the band's end.
    #[test]
    fn a_line_outside_the_band_is_no_ripple_at_its_end() {
        for (hz, duty) in [(8_871.0_f64, 0.5_f64), (1_000.0, 0.4), (935.0, 0.5)] {
            // A rise of first order, of 0.02 ms, from and to the lower level.
            let pulse = |t: f64| {
                let (at, part) = ((hz * t).fract() / hz, duty / hz);
                let fall = (-(at - part) / 2e-5).exp();
                100.0
                    + 60.0
                        * if at < part {
                            1.0 - (-at / 2e-5).exp()
                        } else {
                            fall
                        }
            };
            assert_eq!(seen(pulse), None, "{hz} Hz");
        }
    }

    /// A window of a few values, as a recording of a few rows gives, has no spectrum to look into.
    #[test]
    fn the_shortest_windows_have_no_ripple() {
        for n in 0..6 {
            let values: Vec<f64> = (0..n).map(|k| 80.0 * f64::from(k % 2)).collect();
            for rate in [2.0, 100.0, RATE] {
                assert_eq!(ripple(&values, &vec![false; values.len()], rate), None);
                assert_eq!(strongest(&values, rate).filter(|p| !p.is_finite()), None);
            }
        }
    }

    #[test]
    fn noise_and_slow_swings_are_no_ripple() {
        let mut chance = tipstrike_demo::Chance::new(12, 0);
        let noise: Vec<f64> = (0..8000).map(|_| 80.0 + chance.normals().0).collect();
        assert_eq!(ripple(&noise, &vec![false; 8000], RATE), None);
        assert_eq!(seen(|t| 80.0 + 8.0 * (12.0 * t).sin()), None);
        assert_eq!(seen(|_| 80.0), None);
        // Half a percent peak to peak is under what is reported, two are over it.
        let tone =
            |pct: f64| seen(|t| 80.0 + 0.4 * pct * (std::f64::consts::TAU * 300.0 * t).sin());
        assert_eq!(tone(0.5), None);
        near(tone(2.0).unwrap().pct, 2.0, 0.05);
    }
}
