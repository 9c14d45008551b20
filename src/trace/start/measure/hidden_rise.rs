//! The arc's own rise, read off what follows a discharge: of the step responses of a machine, those that go through it.
//!
//! A discharge hides the first part of a rise, not the rest. From the strike on, which is known, a current regulator answers as a system
//! of second order does, or of first order behind its steepest slope; the samples behind the discharge leave only few of them.

use rustfft::num_complex::Complex;

/// Natural frequencies, rad/s, and damping ratios that are tried; frequencies and time constants, s, even in the logarithm.
const OMEGA: (f64, f64, usize) = (2e3, 25e3, 34);
const ZETA: [f64; 19] = [
    0.3, 0.35, 0.4, 0.45, 0.5, 0.55, 0.6, 0.65, 0.7, 0.75, 0.8, 0.85, 0.9, 0.95, 0.99, 1.2, 1.5,
    2.0, 3.0,
];
const TAU_S: (f64, f64, usize) = (50e-6, 3e-3, 60);
/// A young arc conducts little: what the regulator asks for may come this much later, s (common practice, no source).
const LATE_S: [f64; 4] = [0.0, 30e-6, 60e-6, 90e-6];
/// The discharge is over by then after its peak, s, where the current is at its lowest …
const OVER_S: f64 = 0.6e-3;
/// … and under this part of its level: what has risen by then tells nothing.
const RISEN: f64 = 0.93;
/// This many lowest points are tried: ringing makes some.
const TRIED: usize = 4;
/// Looked at behind it, s.
const LOOKED_AT_S: f64 = 5e-3;
const SAMPLES: usize = 12;
/// A response may begin this many samples before the strike, by what the strike is uncertain.
const EARLY: f64 = 1.5;
/// It goes through the samples where it leaves this part of the level, or this multiple of the noise, rms.
const LEFT: (f64, f64) = (0.01, 3.0);
/// One is as good as the best that leaves this multiple of what that leaves, or more by this part of the noise.
const AS_GOOD: (f64, f64) = (1.15, 0.15);
/// The rise is reported where those differ by this part of it, or a sample, to either side, and their overshoot by this much, % …
const SPREAD: f64 = 0.13;
const SPREAD_PCT: f64 = 6.0;
/// … and where it takes this many samples.
const LEAST: f64 = 2.0;

/// A rise that a discharge lies on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Rise {
    /// 10–90 %, samples.
    pub frames: f64,
    pub overshoot_pct: f64,
}

/// The rise of a current that begins at `strike`, samples, and comes from 0 to `level`, behind a peak at `top`; `noise` in its unit,
/// rms. `None` where what follows the peak leaves too many responses, or none.
pub(crate) fn rise(
    wave: &[f64],
    rate_hz: f64,
    (strike, top): (f64, usize),
    (level, noise): (f64, f64),
) -> Option<Rise> {
    let last = (top + (OVER_S * rate_hz) as usize).min(wave.len().saturating_sub(2));
    let lowest =
        |k: &usize| wave[*k] <= wave[k - 1] && wave[*k] <= wave[k + 1] && wave[*k] < RISEN * level;
    let tried = (top + 1..=last).filter(lowest).take(TRIED);
    tried.into_iter().find_map(|over| {
        let end = wave.len().min(over + 1 + (LOOKED_AT_S * rate_hz) as usize);
        let behind: Vec<f64> = wave[over + 1..end].iter().map(|x| x / level).collect();
        let from_s = ((over + 1) as f64 - strike) / rate_hz;
        told(&behind, from_s, rate_hz, noise / level)
    })
}

/// What the responses that go through some values have in common, of which the first is `from_s` after the strike.
fn told(values: &[f64], from_s: f64, rate_hz: f64, noise: f64) -> Option<Rise> {
    if values.len() < SAMPLES || from_s <= 0.0 {
        return None;
    }
    let second = even(OMEGA).flat_map(|omega| {
        let damped = ZETA.into_iter().map(move |zeta| (omega, zeta));
        damped.flat_map(|(omega, zeta)| LATE_S.map(|late| Response::Second { omega, zeta, late }))
    });
    let first = even(TAU_S).filter_map(|tau| first(values, from_s, rate_hz, tau));
    let seen: Vec<(f64, Response)> = second
        .chain(first)
        .map(|r| (r.left(values, from_s, rate_hz), r))
        .collect();
    let (least, best) = seen.iter().min_by(|a, b| a.0.total_cmp(&b.0))?;
    if *least > LEFT.0.max(LEFT.1 * noise) {
        return None;
    }
    let most = (AS_GOOD.0 * least).max(least + AS_GOOD.1 * noise);
    let as_good = || seen.iter().filter(|s| s.0 <= most).map(|s| s.1);
    let rises = as_good().flat_map(|r| r.rises_s()).map(|s| s * rate_hz);
    let [least, most] = span(rises.chain(straight(values, from_s * rate_hz)));
    let overs = span(as_good().map(|r| r.overshoot_pct()));
    let frames = 0.5 * (least + most);
    let alike =
        most - frames <= f64::max(SPREAD * frames, 1.0) && overs[1] - overs[0] <= SPREAD_PCT;
    (alike && frames >= LEAST).then(|| Rise {
        frames,
        overshoot_pct: best.overshoot_pct(),
    })
}

/// The rise, samples, where the current came straight to the first of some values, as it does while the machine gives all it can: the other
/// end of what a second order that starts slowly tells. Not from before the strike, this many samples before them.
fn straight(values: &[f64], since: f64) -> Option<f64> {
    let (first, slope) = (values[0], (values[3] - values[0]) / 3.0);
    let end = values.iter().position(|y| *y >= 0.9).filter(|k| *k > 0)?;
    let t90 = end as f64 - (values[end] - 0.9) / (values[end] - values[end - 1]);
    let back = (first - 0.1) / slope;
    (first > 0.1 && slope > 0.0).then(|| t90 + back.min(since))
}

/// The least and the greatest of some values.
fn span(values: impl Iterator<Item = f64>) -> [f64; 2] {
    values.fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], x| {
        [low.min(x), high.max(x)]
    })
}

/// Steps from one value to another, even in the logarithm.
fn even((from, to, steps): (f64, f64, usize)) -> impl Iterator<Item = f64> {
    (0..steps).map(move |k| from * (to / from).powf(k as f64 / (steps - 1) as f64))
}

/// The answer of a current to a step from 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Response {
    /// Of second order, `late` s after the strike.
    Second { omega: f64, zeta: f64, late: f64 },
    /// Of first order, as if it had begun at `begin` s: it began there, or straight from 0 to where that slope is reached.
    First { tau: f64, begin: f64 },
}

/// The first-order response of a time constant that lies nearest to some values; `None` where it would have begun before the strike.
fn first(values: &[f64], from_s: f64, rate_hz: f64, tau: f64) -> Option<Response> {
    let keep = (-1.0 / (rate_hz * tau)).exp();
    let (mut e, mut dot, mut whole) = (1.0, 0.0, 0.0);
    for y in values {
        dot += (1.0 - y) * e;
        whole += e * e;
        e *= keep;
    }
    let left = dot / whole;
    let begin = from_s + tau * left.ln();
    (left > 0.0 && begin >= -EARLY / rate_hz).then(|| Response::First {
        tau,
        begin: begin.max(0.0),
    })
}

impl Response {
    /// What is left to 1 at an instant, s, and by which factor each of its two parts goes on a sample later.
    fn rest(&self, at_s: f64, rate_hz: f64) -> [(Complex<f64>, Complex<f64>); 2] {
        let since = match self {
            Response::Second { late, .. } => (at_s - late).max(0.0),
            Response::First { .. } => at_s,
        };
        let part = |height: Complex<f64>, pole: Complex<f64>| {
            (height * (pole * since).exp(), (pole / rate_hz).exp())
        };
        let real = |x: f64| Complex::new(x, 0.0);
        let none = (real(0.0), real(0.0));
        match *self {
            Response::First { tau, begin } => {
                [part(real((begin / tau).exp()), real(-1.0 / tau)), none]
            }
            Response::Second { omega, zeta, .. } if zeta < 1.0 => {
                let turn = omega * (1.0 - zeta * zeta).sqrt();
                let height = Complex::new(1.0, -zeta * omega / turn);
                [part(height, Complex::new(-zeta * omega, turn)), none]
            }
            Response::Second { omega, zeta, .. } => {
                let apart = (zeta * zeta - 1.0).sqrt();
                let (slow, fast) = (omega * (zeta - apart), omega * (zeta + apart));
                let height = |other: f64| real(other / (fast - slow));
                [
                    part(height(fast), real(-slow)),
                    part(-height(slow), real(-fast)),
                ]
            }
        }
    }

    /// How far values lie from it, rms.
    fn left(&self, values: &[f64], from_s: f64, rate_hz: f64) -> f64 {
        let [(mut a, keep_a), (mut b, keep_b)] = self.rest(from_s, rate_hz);
        let mut sum = 0.0;
        for y in values {
            sum += (1.0 - a.re - b.re - y).powi(2);
            a *= keep_a;
            b *= keep_b;
        }
        (sum / values.len() as f64).sqrt()
    }

    /// From 10 to 90 %, s, at the soonest and at the latest.
    fn rises_s(&self) -> [f64; 2] {
        match *self {
            Response::First { tau, begin } => [
                9f64.ln() * tau,
                begin + 10f64.ln() * tau - tenth(tau, begin),
            ],
            Response::Second { omega, late, .. } => {
                const STEP: f64 = 0.05;
                let step_s = STEP / omega;
                let at = |k: usize| {
                    let [a, b] = self.rest(late + k as f64 * step_s, 1.0);
                    1.0 - a.0.re - b.0.re
                };
                let reaches = |part: f64| {
                    let k = (1_usize..).find(|k| at(*k) >= part).unwrap_or(1);
                    k as f64 - (at(k) - part) / (at(k) - at(k - 1))
                };
                [(reaches(0.9) - reaches(0.1)) * step_s; 2]
            }
        }
    }

    /// In closed form.
    fn overshoot_pct(&self) -> f64 {
        match *self {
            Response::Second { zeta, .. } if zeta < 1.0 => {
                100.0 * (-std::f64::consts::PI * zeta / (1.0 - zeta * zeta).sqrt()).exp()
            }
            _ => 0.0,
        }
    }
}

/// When a response of first order reaches a tenth, s: on the straight line from 0 that touches it, or behind that.
fn tenth(tau: f64, begin: f64) -> f64 {
    // Where the tangent goes through 0: the value over the time is the slope. It lies behind `begin`, before any later than this.
    let (mut low, mut high) = (begin, begin + 20.0 * tau);
    let rest = |at: f64| ((begin - at) / tau).exp();
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        match 1.0 - rest(middle) > rest(middle) / tau * middle {
            true => high = middle,
            false => low = middle,
        }
    }
    let slope = rest(high) / tau;
    match 1.0 - rest(high) >= 0.1 {
        true => 0.1 / slope,
        false => begin - tau * 0.9f64.ln(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE: f64 = 50e3;

    /// Half a sine of 150 A for 0.2 ms on what begins at the second sample.
    fn struck(arc: impl Fn(f64) -> f64) -> Vec<f64> {
        let at = |k: u32| match f64::from(k) - 2.0 {
            ..0.0 => 0.0,
            n => {
                let t = n / RATE;
                let on_it = (std::f64::consts::PI * t / 0.2e-3).sin().max(0.0);
                arc(t) + if t < 0.2e-3 { 150.0 * on_it } else { 0.0 }
            }
        };
        (0..1000).map(at).collect()
    }

    fn read(wave: &[f64]) -> Option<Rise> {
        let top = (0..30).max_by(|a, b| wave[*a].total_cmp(&wave[*b]))?;
        rise(wave, RATE, (2.0, top), (100.0, 0.0))
    }

    /// Closed forms: ln 9 time constants from 10 to 90 %, and exp(−πζ/√(1−ζ²)) of overshoot (any text on control).
    #[test]
    fn the_rise_under_a_half_sine_is_that_of_the_response() {
        for tau in [0.15e-3, 0.4e-3, 1e-3] {
            let seen = read(&struck(|t| 100.0 * (1.0 - (-t / tau).exp()))).unwrap();
            let true_frames = 9f64.ln() * tau * RATE;
            assert!((seen.frames / true_frames - 1.0).abs() < 0.05, "{seen:?}");
            assert!(seen.overshoot_pct < 0.5, "{seen:?}");
        }
        let (omega, zeta): (f64, f64) = (5000.0, 0.5);
        let response = Response::Second {
            omega,
            zeta,
            late: 0.0,
        };
        let damped = |t: f64| {
            let turn = omega * (1.0 - zeta * zeta).sqrt();
            let sway = (turn * t).cos() + zeta * omega / turn * (turn * t).sin();
            100.0 * (1.0 - (-zeta * omega * t).exp() * sway)
        };
        let seen = read(&struck(damped)).unwrap();
        assert!((seen.overshoot_pct - 16.3).abs() < 3.0, "{seen:?}");
        // 1.64/ω for ζ = 0.5 (normalised step responses of second order).
        assert!((response.rises_s()[0] * omega - 1.64).abs() < 0.02);
        assert!((seen.frames / (1.64 / omega * RATE) - 1.0).abs() < 0.1);
    }

    /// 150 A at 0.5 A/µs: straight to where 0.1 ms would be slower. 10 % are reached after 30 µs.
    #[test]
    fn a_steepest_slope_comes_before_the_exponential() {
        let (level, slope, tau): (f64, f64, f64) = (150.0, 0.5e6, 0.1e-3);
        // Tangent: level − i = slope·τ.
        let joined = (level - slope * tau) / slope;
        let begin = joined - tau * (level / (slope * tau)).ln();
        assert!((tenth(tau, begin) - 0.1 * level / slope).abs() < 1e-7);
        assert!((tenth(tau, 0.0) - 0.10536 * tau).abs() < 1e-7);
    }

    /// What has risen by the discharge's end, and what no regulator does, is not reported.
    #[test]
    fn what_the_samples_do_not_tell_is_not_told() {
        let fast = struck(|t| 100.0 * (1.0 - (-t / 0.05e-3).exp()));
        assert_eq!(read(&fast), None);
        let steps = struck(|t| if t < 0.5e-3 { 40.0 } else { 100.0 });
        assert_eq!(read(&steps), None);
    }
}
